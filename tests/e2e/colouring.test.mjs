// Colouring: what a child paints is what was chosen, where it was touched; nothing of it leaves the device.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { after, before, describe, test } from 'node:test';
import { validateBytes } from 'gltf-validator';
import { deltaE2000 } from './ciede2000.mjs';
import { colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, onScreen, setView, settled, snapshot, violations } from './harness.mjs';
import { colourAt } from './pictures.mjs';
import { serveSite } from './site.mjs';

/** A Python that has `usd-core`, and the script that asks it, as for packages of `ganosis export`. */
const PYTHON = process.env.GANOSIS_PYTHON || fileURLToPath(new URL('../../target/tools/python/bin/python', import.meta.url));
const USD_CHECK = fileURLToPath(new URL('../../crates/cli/tests/out_of_the_house/usd_check.py', import.meta.url));
const CAMERA = facing(2.5);
const OWN = 'ganosis-own-colours';
const AZURITE = [38, -3, -33];
const OCHRE = [50, 25, 30];

/** CIELAB (D50) to sRGB codes: CIE 15:2004 for XYZ; D50 to D65 by Bradford and to sRGB as in CSS Color 4, section 10 (sample code there). */
function codesOf([l, a, b]) {
  const fy = (l + 16) / 116;
  const cube = (f) => (f ** 3 > 216 / 24389 ? f ** 3 : (116 * f - 16) / (24389 / 27));
  const xyz = [cube(fy + a / 500) * 0.3457 / 0.3585, l > 8 ? fy ** 3 : l / (24389 / 27), cube(fy - b / 200) * (1 - 0.3457 - 0.3585) / 0.3585];
  const times = (m, v) => m.map((row) => row.reduce((sum, value, i) => sum + value * v[i], 0));
  const d65 = times([[0.955473421488075, -0.02309845494876471, 0.06325924320057072], [-0.0283697093338637, 1.0099953980813041, 0.021041441191917323], [0.012314014864481998, -0.020507649298898964, 1.330365926242124]], xyz);
  const linear = times([[3.2409699419045213, -1.5373831775700935, -0.4986107602930033], [-0.9692436362808798, 1.8759675015077206, 0.04155505740717561], [0.05563007969699361, -0.20397695888897657, 1.0569715142428786]], d65);
  return linear.map((v) => Math.round(255 * Math.min(1, Math.max(0, v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055))));
}

/** CIELAB (D50) of sRGB codes, the other way. */
function labOf(codes) {
  const linear = codes.map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
  const times = (m, v) => m.map((row) => row.reduce((sum, value, i) => sum + value * v[i], 0));
  const d65 = times([[0.41239079926595934, 0.357584339383878, 0.1804807884018343], [0.21263900587151027, 0.715168678767756, 0.07219231536073371], [0.01933081871559182, 0.11919477979462598, 0.9505321522496607]], linear);
  const xyz = times([[1.0479297925449969, 0.022946870601609652, -0.05019226628920524], [0.02962780877005599, 0.9904344267538799, -0.017073799063418826], [-0.009243040646204504, 0.015055191490298152, 0.7518742814281371]], d65);
  const white = [0.3457 / 0.3585, 1, (1 - 0.3457 - 0.3585) / 0.3585];
  const [fx, fy, fz] = xyz.map((v, i) => (v / white[i] > 216 / 24389 ? Math.cbrt(v / white[i]) : (24389 / 27 * v / white[i] + 16) / 116));
  return [116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)];
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`colouring on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-colouring-'));
    let site;
    let chromium;
    const failures = [];
    const asked = [];

    before(async () => {
      const document = writeDossier(folder);
      document.palette = [{ id: 'azurite', title: 'Azurite', lab_d50: AZURITE, readings: 3, caution: 'Copper carbonate.' }, { id: 'ochre', title: 'Red ochre', lab_d50: OCHRE }];
      writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend, { coarse: true });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    const open = async (context, more = '') => {
      const page = await context.newPage();
      page.on('pageerror', (error) => failures.push(error.message));
      page.on('request', (request) => asked.push([request.method(), new URL(request.url()).origin]));
      await page.goto(`${site.origin}/colouring.html?src=dossier/&backend=${backend}&language=en${more}`);
      await page.waitForFunction(() => document.querySelector('ganosis-view')?.shadowRoot.querySelector('[data-ready] .bench'), null, { timeout: 240_000 });
      await settled(page);
      return page;
    };
    const room = (page) => page.locator('ganosis-view');
    const tap = async (page, x_m, y_m) => {
      const [x, y] = await onScreen(room(page), CAMERA, x_m, y_m);
      await page.touchscreen.tap(x, y);
    };
    /** The colour of the child's own at a place of the square, as measured. */
    const own = async (page, x_m, y_m, view = {}) => {
      const light = await page.evaluate(() => document.querySelector('ganosis-view').view.light);
      await setView(page, { left: OWN, right: OWN, compare: 'one', camera: CAMERA, light: { ...light, mode: 'as-measured' }, ...view });
      const scale = 300 / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360));
      return colourAt(await snapshot(page, 300, 300), 300, 150 + x_m * scale, 150 - y_m * scale);
    };
    const near = (found, wanted, what) => wanted.forEach((value, c) => assert.ok(Math.abs(value - found[c]) <= 1, `${what}: wanted ${wanted}, found ${found}`));
    const until = async (page, x_m, y_m, wanted, what) => {
      let found;
      for (let turn = 0; turn < 60; turn += 1) {
        found = await own(page, x_m, y_m);
        if (wanted.every((value, c) => Math.abs(value - found[c]) <= 1)) return;
        await page.waitForTimeout(250);
      }
      near(found, wanted, what);
    };
    const BARE = [206, 206, 206];
    /** Middles of columns of the fixture, which are its regions 1 to 6. */
    const column = (number) => -0.5 + (number - 0.5) / 6;

    test('a child colours, takes back, asks, compares and takes it home; it is there the next day', async () => {
      const context = await chromium.newContext({ viewport: { width: 1180, height: 900 }, hasTouch: true, reducedMotion: 'reduce' });
      const page = await open(context);
      const press = (selector) => room(page).locator(selector).tap();
      await setView(page, { camera: CAMERA });
      near(await own(page, column(3), 0.1), BARE, 'at first it is bare stone');
      assert.deepEqual(await violations(page), [], 'the bench');
      const text = await room(page).locator('.bench').innerText();
      assert.ok(!/Copper/.test(text), 'nothing of the evidence is told unasked');

      // A whole part in a measured colour; the others stay bare.
      await press('[data-colour="1"]');
      await room(page).locator('.beware', { hasText: 'Azurite is poisonous' }).waitFor();
      await press('[data-do="part"]');
      await tap(page, column(3), 0.1);
      await until(page, column(3), -0.3, codesOf(AZURITE), 'the whole column');
      near(await own(page, column(2), 0.1), BARE, 'its neighbour');
      await press('[data-do="undo"]');
      await until(page, column(3), -0.3, BARE, 'taken back');
      await press('[data-do="redo"]');
      await until(page, column(3), -0.3, codesOf(AZURITE), 'done again');

      // Freely, across two parts: a stroke of a brush whose width is a share of the object.
      await press('[data-colour="2"]');
      await press('[data-do="brush"]');
      await press('[data-size="middle"]');
      const [x1, y1] = await onScreen(room(page), CAMERA, column(4), 0.3);
      const [x2, y2] = await onScreen(room(page), CAMERA, column(5), 0.3);
      await page.mouse.move(x1, y1);
      await page.mouse.down();
      await page.mouse.move(x2, y2, { steps: 8 });
      await page.mouse.up();
      await until(page, (column(4) + column(5)) / 2, 0.3, codesOf(OCHRE), 'along the stroke');
      // The ball around a square of one metre has a radius of √½ m; the brush 0.06 of it.
      const radius_m = Math.SQRT1_2 * 0.06;
      near(await own(page, column(5), 0.3 - radius_m * 1.3), BARE, 'beside the stroke');
      near(await own(page, column(5), 0.3 - radius_m * 0.7), codesOf(OCHRE), 'within its width');

      // What was found is told when asked, for the part that is touched.
      await press('[data-do="ask"]');
      await tap(page, column(3), -0.2);
      await room(page).locator('.answer', { hasText: 'Copper' }).waitFor();
      await tap(page, column(1), -0.2);
      await room(page).locator('.answer', { hasText: 'Nobody has found anything here' }).waitFor();
      assert.deepEqual(await violations(page), [], 'an answer');
      await press('[data-do="ask"]');
      assert.equal(await room(page).locator('.answer').isHidden(), true);

      // The same comparisons, with the same numbers: one colour against the patches of the column.
      await press('[data-against="evidence"]');
      await press('[data-way="blend"]');
      assert.deepEqual(await page.evaluate(() => { const { left, right, compare } = document.querySelector('ganosis-view').view; return [left, right, compare]; }), [OWN, 'evidence', 'blend']);
      assert.deepEqual(await violations(page), [], 'comparing');
      await setView(page, { camera: CAMERA });
      const told = await page.evaluate(() => document.querySelector('ganosis-view').differences('column-3'));
      const by_patch = [0, 1, 2, 3, 4, 5].map((row) => deltaE2000(labOf(codesOf(AZURITE)), labOf(colourOf(1, 2, row))));
      const mean = by_patch.reduce((sum, value) => sum + value, 0) / 6;
      // Pixels at borders of patches mix two colours: a few in a hundred.
      assert.ok(Math.abs(told.mean - mean) < 0.05 * mean, `${told.mean}, by the formula ${mean}`);
      await press('[data-against="evidence"]');

      // Home: a picture with a name, and the object, checked by Khronos' own validator.
      await room(page).locator('[data-name]').fill('Ada');
      const take = async (what) => {
        const [download] = await Promise.all([page.waitForEvent('download', { timeout: 240_000 }), room(page).locator(`[data-do="${what}"]`).tap()]);
        return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) };
      };
      const picture = await take('picture');
      assert.equal(picture.name, 'patches-coloured.png');
      assert.deepEqual([picture.bytes.readUInt32BE(16), picture.bytes.readUInt32BE(20)], [1600, 1390]);
      const object = await take('object');
      const { issues, info } = await validateBytes(new Uint8Array(object.bytes));
      assert.deepEqual([issues.numErrors, issues.numWarnings], [0, 0], JSON.stringify(issues.messages));
      assert.equal(info.resources.filter(({ mimeType }) => mimeType === 'image/png').length, 1);
      assert.match(object.bytes.toString('latin1'), /"colouredBy":"Ada"/);

      // For a telephone: judged and read back by `usd-core`; in metres, with the child's colours alone.
      const { name, bytes } = await take('room');
      assert.equal(name, 'patches-coloured.usdz');
      const file = join(folder, 'taken.usdz');
      writeFileSync(file, bytes);
      const usd = JSON.parse(execFileSync(PYTHON, [USD_CHECK, file], { encoding: 'utf8' }));
      rmSync(file);
      assert.deepEqual(usd.errors, []);
      assert.ok(usd.validators >= 20);
      assert.deepEqual([usd.metres, usd.up, usd.triangles, Object.keys(usd.states)], [1, 'Y', 2, [OWN.replaceAll('-', '_')]]);
      for (const [axis, extent] of [1, 1, 0].entries()) assert.ok(Math.abs(usd.box[1][axis] - usd.box[0][axis] - extent) < 1e-6, `${usd.box}`);
      const taken = JSON.parse(usd.document);
      assert.deepEqual([taken.description, taken.regions, taken.evidence], ['Coloured by Ada', undefined, undefined]);
      // The picture in it has the colours to the code value: files of a package are stored as they are (USDZ File Format Specification 1.3).
      const start = bytes.indexOf(Buffer.from('89504e470d0a1a0a', 'hex'));
      const length = bytes.indexOf('IEND', start, 'latin1') + 8 - start;
      const texel = await page.evaluate(async ([text, x, y]) => {
        const bitmap = await createImageBitmap(new Blob([Uint8Array.from(atob(text), (one) => one.charCodeAt(0))], { type: 'image/png' }), { colorSpaceConversion: 'none' });
        const drawing = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
        drawing.drawImage(bitmap, 0, 0);
        return [...drawing.getImageData(Math.round(x * bitmap.width), Math.round(y * bitmap.height), 1, 1).data.subarray(0, 3)];
      }, [bytes.subarray(start, start + length).toString('base64'), 0.5 + column(3), 0.8]);
      near(texel, codesOf(AZURITE), 'in the package');

      // Another language; then a lost device: the colours stay.
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { language: 'ar' }; });
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.room').dir === 'rtl');
      assert.equal(await page.evaluate((id) => document.querySelector('ganosis-view').dossier.states.find((state) => state.id === id).title, OWN), 'ألواني');
      await page.evaluate(() => document.querySelector('ganosis-view').simulateLoss());
      await page.waitForTimeout(1500);
      await until(page, column(3), -0.3, codesOf(AZURITE), 'after the loss');

      // The next day.
      await page.waitForTimeout(2500);
      await page.close();
      const again = await open(context);
      await setView(again, { camera: CAMERA });
      await until(again, column(3), -0.3, codesOf(AZURITE), 'kept on the device');
      await until(again, (column(4) + column(5)) / 2, 0.3, codesOf(OCHRE), 'the stroke too');
      await room(again).locator('[data-do="clear"]').tap();
      await until(again, column(3), -0.3, BARE, 'begun anew');
      assert.deepEqual(asked.filter(([method, origin]) => method !== 'GET' || (origin !== site.origin && origin !== 'null')), [], 'nothing is sent anywhere');
      await context.close();
    });

    test('by keys alone: a colour, a part, the brush, a question, a comparison, and home', async () => {
      const context = await chromium.newContext({ viewport: { width: 1180, height: 900 }, reducedMotion: 'reduce' });
      const page = await open(context);
      await setView(page, { camera: CAMERA });
      const tabTo = async (selector, key = 'Tab') => {
        for (let turn = 0; turn < 80; turn += 1) {
          if (await page.evaluate((wanted) => document.querySelector('ganosis-view').shadowRoot.activeElement?.matches(wanted) ?? false, selector)) return;
          await page.keyboard.press(key);
        }
        assert.fail(`no way to ${selector} by ${key}`);
      };
      // The mark begins in the middle of the picture, at the border of two columns: a step brings it into the fourth.
      await tabTo('.shell');
      await page.keyboard.press('ArrowRight');
      await page.keyboard.press('ArrowLeft');
      await room(page).locator('[data-colour="1"][aria-checked="true"]').waitFor();
      await tabTo('[data-do="part"]', 'Shift+Tab');
      await page.keyboard.press('Enter');
      await tabTo('.crosshair', 'Shift+Tab');
      const to = async (x_m, y_m) => {
        for (let turn = 0; turn < 400; turn += 1) {
          const place = await page.evaluate(() => {
            const mark = document.querySelector('ganosis-view').shadowRoot.querySelector('.crosshair').getBoundingClientRect();
            return [mark.x + mark.width / 2, mark.y + mark.height / 2];
          });
          const [x, y] = await onScreen(room(page), CAMERA, x_m, y_m);
          const [right, down] = [x - place[0], y - place[1]];
          if (Math.hypot(right, down) < 16) return;
          await page.keyboard.press(Math.abs(right) > Math.abs(down) ? (right > 0 ? 'Shift+ArrowRight' : 'Shift+ArrowLeft') : (down > 0 ? 'Shift+ArrowDown' : 'Shift+ArrowUp'));
        }
        assert.fail('the mark does not come there');
      };
      await to(column(3), 0.1);
      await page.keyboard.press('Enter');
      await until(page, column(3), -0.3, codesOf(AZURITE), 'the whole column');
      await tabTo('[data-do="undo"]');
      await page.keyboard.press('Enter');
      await until(page, column(3), -0.3, BARE, 'taken back');

      await setView(page, { camera: CAMERA });
      await tabTo('[data-do="brush"]', 'Shift+Tab');
      await page.keyboard.press('Enter');
      await tabTo('.crosshair', 'Shift+Tab');
      await to(column(5), 0.2);
      await page.keyboard.press('Enter');
      await until(page, column(5), 0.2, codesOf(AZURITE), 'where the brush came down');

      await setView(page, { camera: CAMERA });
      await tabTo('[data-do="ask"]');
      await page.keyboard.press('Enter');
      await tabTo('.crosshair', 'Shift+Tab');
      await to(column(3), -0.2);
      await page.keyboard.press('Enter');
      await room(page).locator('.answer', { hasText: 'Copper' }).waitFor();
      await tabTo('[data-do="ask"]');
      await page.keyboard.press('Enter');
      await tabTo('[data-against="evidence"]');
      await page.keyboard.press('Enter');
      await tabTo('[data-way="blend"]');
      await page.keyboard.press('Enter');
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.compare === 'blend');
      await tabTo('[data-name]');
      await page.keyboard.type('Ada');
      await tabTo('[data-do="object"]');
      const [download] = await Promise.all([page.waitForEvent('download', { timeout: 240_000 }), page.keyboard.press('Enter')]);
      assert.match(readFileSync(await download.path()).toString('latin1'), /"colouredBy":"Ada"/);
      await tabTo('[data-do="teacher"]', 'Shift+Tab');
      await page.keyboard.press('Enter');
      await room(page).locator('.wall .lesson-palette').waitFor();
      await page.keyboard.press('Escape');
      await room(page).locator('.wall').waitFor({ state: 'hidden' });
      await context.close();
    });

    test('the sheet for teachers has the palette, questions and cautions, and prints', async () => {
      const context = await chromium.newContext({ viewport: { width: 1180, height: 900 }, hasTouch: true, reducedMotion: 'reduce' });
      const page = await open(context);
      await room(page).locator('[data-do="teacher"]').tap();
      const wall = room(page).locator('.wall');
      await wall.locator('.lesson-palette .name', { hasText: 'Red ochre' }).waitFor();
      const words = await wall.innerText();
      for (const part of ['Azurite', 'poisonous', 'Which colour can nobody know', 'No handling, grinding or heating', 'Column 3']) assert.ok(words.includes(part), part);
      assert.deepEqual(await violations(page), []);
      await page.emulateMedia({ media: 'print' });
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.bench').checkVisibility()), false);
      assert.equal(await wall.locator('.lesson-palette .mussel').first().isVisible(), true);
      await context.close();
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}
