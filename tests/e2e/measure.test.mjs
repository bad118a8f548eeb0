// Measuring by mouse, finger and keyboard on a square of one metre, against the formulas of plane geometry; kept readings.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { deltaE2000 } from './ciede2000.mjs';
import { squareGlb, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, openReady, setView, violations } from './harness.mjs';
import { serveSite } from './site.mjs';

const CAMERA = facing(2.6, 30);
const START = { compare: 'one', left: 'as-found', right: 'evidence', camera: CAMERA, pin: null, region: null };
/** Relative error that is allowed: that of the project for everything that is measured. */
const WITHIN = 0.005;
const near = (got, wanted, what) => assert.ok(Math.abs(got - wanted) <= WITHIN * wanted, `${what}: ${got} for ${wanted}`);
const length = ([ax, ay], [bx, by]) => Math.hypot(bx - ax, by - ay);
/** Shoelace formula. */
const shoelace = (places) => Math.abs(places.reduce((sum, [x, y], at) => {
  const [u, v] = places[(at + 1) % places.length];
  return sum + x * v - u * y;
}, 0)) / 2;

for (const backend of Object.keys(BACKENDS)) {
  describe(`measuring on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-measure-'));
    let site;
    let chromium;
    const failures = [];

    before(async () => {
      writeDossier(folder);
      writeFileSync(join(folder, 'alone.glb'), squareGlb());
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend, { coarse: true });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    /** The page of measurements, opened. */
    const opened = async ({ src = 'dossier/', options = '', state = START, ...context } = {}) => {
      const room = await chromium.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce', ...context });
      const page = await room.newPage();
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, `${site.address(src)}${options}`, backend);
      await setView(page, state);
      const view = page.locator('ganosis-view');
      await view.locator('[data-page="measure"]').click();
      await view.locator('.measure [data-set][aria-pressed="true"]').waitFor();
      // The picture takes the room that the page leaves it in the next frame.
      await setView(page, {});
      return { page, view };
    };
    /** A pixel near a point of the square, and where exactly it lies (m), by the pinhole that the camera is. */
    const onScreen = async (view, x_m, y_m) => {
      const box = await view.locator('.stage canvas').boundingBox();
      const scale = box.height / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360));
      const [cx, cy] = [box.x + box.width / 2, box.y + box.height / 2];
      const [x, y] = [Math.round(cx + x_m * scale), Math.round(cy - y_m * scale)];
      return { x, y, place: [(x - cx) / scale, (cy - y) / scale], at: [x - box.x, y - box.y], middle: [box.width / 2, box.height / 2], scale };
    };
    const choose = (view, kind) => view.locator(`.measure input[value="${kind}"]`).check();
    /** Sets places by a way of pressing; gives where they lie. */
    const set = async (view, press, places) => {
      const exact = [];
      for (const [x, y] of places) {
        const spot = await onScreen(view, x, y);
        await press(spot.x, spot.y);
        exact.push(spot.place);
      }
      return exact;
    };
    /** Name and value of the results of a measurement, lengths in m, areas in m². */
    const results = async (view, number) => {
      const entry = view.locator(`[data-measurement="${number}"]`);
      await entry.waitFor();
      const rows = await entry.locator('.values > div').evaluateAll((all) => all.map((row) => [row.querySelector('dt').textContent, row.querySelector('dd').textContent]));
      const units = { m: 1, mm: 1e-3, 'µm': 1e-6, 'm²': 1, 'cm²': 1e-4, 'mm²': 1e-6, '°': 1 };
      return Object.fromEntries(rows.map(([name, text]) => {
        const [, figure, unit] = /^([−\d.,]+)\s*(\S+)$/.exec(text) ?? [];
        return [name, unit in units ? Number(figure.replace('−', '-').replaceAll(',', '')) * units[unit] : text];
      }));
    };

    test('by mouse: distance, angle, loop and profile follow plane geometry', async () => {
      const { page, view } = await opened();
      const click = (x, y) => page.mouse.click(x, y);
      const [a, b] = await set(view, click, [[-0.35, -0.2], [0.3, 0.3]]);
      const distance = await results(view, 1);
      near(distance.Straight, length(a, b), 'straight');
      near(distance['Over the surface'], length(a, b), 'over the surface');

      await choose(view, 'angle');
      const [p, q, r] = await set(view, click, [[0.3, -0.1], [-0.2, -0.1], [0.1, 0.35]]);
      const cosine = ((p[0] - q[0]) * (r[0] - q[0]) + (p[1] - q[1]) * (r[1] - q[1])) / (length(p, q) * length(r, q));
      near((await results(view, 2)).Angle, Math.acos(cosine) * 180 / Math.PI, 'angle');

      await choose(view, 'loop');
      const corners = await set(view, click, [[-0.4, -0.3], [0.4, -0.35], [0.1, 0], [0.35, 0.4], [-0.3, 0.35]]);
      await view.locator('[data-close]').click();
      const enclosed = await results(view, 3);
      near(enclosed.Area, shoelace(corners), 'area');
      near(enclosed.Outline, corners.reduce((sum, corner, at) => sum + length(corner, corners[(at + 1) % corners.length]), 0), 'outline');

      await choose(view, 'profile');
      const [s, e] = await set(view, click, [[-0.4, 0.1], [0.4, -0.2]]);
      const profile = await results(view, 4);
      near(profile.Straight, length(s, e), 'straight');
      near(profile['Along the cut'], length(s, e), 'along the cut');
      assert.equal(profile.Highest, 0);
      assert.match(await view.locator('[data-measurement="4"] svg.plot').getAttribute('aria-label'), /Profile over .* mm/);

      await choose(view, 'normals');
      await set(view, click, [[-0.3, 0], [0.3, 0.1]]);
      assert.equal((await results(view, 5)).Angle, 0);
      // What it was measured on.
      assert.match(await view.locator('.measure').innerText(), /on 2 triangles, the finest surface loaded/);

      // The line is drawn where the surface is, and follows the camera.
      const line = () => view.locator('.measured .line:not(.hidden)').first().getAttribute('d');
      const start = await onScreen(view, ...a);
      const [, x, y] = /^M([\d.]+) ([\d.]+)/.exec(await line()).map(Number);
      assert.ok(Math.hypot(x - start.at[0], y - start.at[1]) < 1.5, `${x} ${y} for ${start.at}`);
      await setView(page, { camera: { ...CAMERA, azimuth_deg: 30 } });
      // The eye has gone 30° to the right: x cos 30° across, and nearer by x sin 30°.
      const depth = CAMERA.distance_m - a[0] * Math.sin(Math.PI / 6);
      const turned = start.middle[0] + a[0] * Math.cos(Math.PI / 6) * start.scale * (CAMERA.distance_m / depth);
      const [, turned_x] = /^M([\d.]+) ([\d.]+)/.exec(await line()).map(Number);
      assert.ok(Math.abs(turned_x - turned) < 1.5, `${turned_x} for ${turned}`);

      // A normal stands before the square: seen from the front, hidden from behind.
      const hidden = () => page.evaluate(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.measured .line.hidden')].at(-1).getAttribute('d'));
      assert.equal(await hidden(), '');
      await setView(page, { camera: { ...CAMERA, azimuth_deg: 170 } });
      await page.waitForFunction(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.measured .line.hidden')].at(-1).getAttribute('d') !== '', null, { timeout: 10_000 });

      // In panes beside one another it is drawn in each, at the same place.
      await setView(page, { camera: CAMERA, compare: 'pair' });
      const inPanes = await page.evaluate(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.measured > svg')].map((pane) => pane.querySelector('.line').getAttribute('d')));
      assert.equal(inPanes.length, 2);
      assert.ok(inPanes[0] !== '' && inPanes[0] === inPanes[1], inPanes.join(' | '));
      await setView(page, START);

      // A click beside the object sets nothing; dragging turns the object and sets nothing either.
      await page.mouse.click(start.x - start.at[0] + 3, start.y - start.at[1] + 3);
      assert.match(await view.locator('.asked').innerText(), /beside the object.*place 1 of 2/);

      await view.locator('[data-measurement="3"] .quiet').click();
      assert.equal(await view.locator('[data-measurement]').count(), 4);
      assert.equal(await view.locator('.measured-tag.measurement').count(), 4);
      await page.context().close();
    });

    test('the table that is copied holds the numbers in mm', async () => {
      const { page, view } = await opened({ permissions: ['clipboard-read', 'clipboard-write'] });
      const [a, b] = await set(view, (x, y) => page.mouse.click(x, y), [[-0.3, -0.3], [0.3, 0.2]]);
      await results(view, 1);
      await view.locator('.copying button', { hasText: 'CSV' }).click();
      await view.locator('.copying [role="status"]', { hasText: 'Copied' }).waitFor();
      const [head, row] = (await page.evaluate(() => navigator.clipboard.readText())).trim().split('\r\n').map((text) => text.split(','));
      const field = (name) => row[head.indexOf(name)];
      assert.equal(field('kind'), 'distance');
      near(Number(field('straight_mm')), length(a, b) * 1000, 'straight');
      assert.equal(field('triangles'), '2');
      const [x, y] = field('places_mm').split('; ')[0].split(' ').map(Number);
      assert.ok(Math.hypot(x - a[0] * 1000, y - a[1] * 1000) < 1, `${x} ${y}`);
      await page.context().close();
    });

    test('it is measured on the parts of what is seen, though more was compared before', async () => {
      const { page, view } = await opened({ state: { ...START, right: 'as-found', third: 'evidence', fourth: 'evidence', count: 4, compare: 'loupe' } });
      await page.evaluate(() => {
        const { postMessage } = Worker.prototype;
        globalThis.asked = [];
        Worker.prototype.postMessage = function told(message, ...more) {
          if (message.method === 'measure') globalThis.asked.push(message.values);
          return postMessage.call(this, message, ...more);
        };
      });
      for (const [number, change, states] of [[1, {}, ['as-found']], [2, { compare: 'pair' }, ['as-found', 'evidence']]]) {
        await setView(page, change);
        // The second in the first of four panes: its middle lies at a quarter of the picture.
        const box = await view.locator('.stage canvas').boundingBox();
        const share = number === 1 ? 0.5 : 0.25;
        for (const aside of [-20, 20]) await page.mouse.click(box.x + box.width * share + aside, box.y + box.height * share);
        await view.locator(`[data-measurement="${number}"]`).waitFor();
        assert.deepEqual(await page.evaluate(() => globalThis.asked.at(-1).states), states);
      }
      await page.context().close();
    });

    test('what is chosen and set while it is measured changes nothing of it, and stays', async () => {
      const { page, view } = await opened();
      let go;
      const waited = new Promise((resolve) => { go = resolve; });
      let asked;
      const held = new Promise((resolve) => { asked = resolve; });
      // What measures is on its way still.
      await page.route('**/internal/parts/desk-*.js', async (route) => {
        asked();
        await waited;
        await route.continue();
      });
      const click = (x, y) => page.mouse.click(x, y);
      const [a, b] = await set(view, click, [[-0.35, -0.2], [0.3, 0.3]]);
      await held;
      await choose(view, 'angle');
      // The page is left, and opened again: its first place is set.
      await view.locator('[data-page="label"]').click();
      await view.locator('[data-page="measure"]').click();
      await view.locator('.measure [data-set][aria-pressed="true"]').waitFor();
      await set(view, click, [[0.1, 0.1]]);
      await view.locator('.asked', { hasText: 'place 2 of 3' }).waitFor();
      go();
      const measured = await results(view, 1);
      near(measured.Straight, length(a, b), 'the distance that was asked for');
      assert.match(await view.locator('.asked').innerText(), /place 2 of 3/);
      await set(view, click, [[0.2, 0.1]]);
      assert.match(await view.locator('.asked').innerText(), /place 3 of 3/);
      await page.context().close();
    });

    test('by finger', async () => {
      const { page, view } = await opened({ viewport: { width: 412, height: 915 }, hasTouch: true, isMobile: true });
      const tap = (x, y) => page.touchscreen.tap(x, y);
      const [a, b] = await set(view, tap, [[-0.3, -0.1], [0.3, 0.2]]);
      near((await results(view, 1)).Straight, length(a, b), 'straight');
      await choose(view, 'loop');
      const corners = await set(view, tap, [[-0.3, -0.3], [0.35, -0.2], [0, 0.35]]);
      await view.locator('[data-close]').tap();
      near((await results(view, 2)).Area, shoelace(corners), 'area');
      await page.context().close();
    });

    test('by keyboard alone', async () => {
      const { page, view } = await opened();
      // Escape puts the crosshair down; the button takes it up again, with the focus on it.
      await view.locator('.measure [data-set]').focus();
      await page.keyboard.press('Enter');
      await page.keyboard.press('Enter');
      const spot = await onScreen(view, 0, 0);
      const scale = (await onScreen(view, 0.5, 0)).at[0] - spot.at[0];
      const per_m = scale / 0.5;
      const go = async (key, times) => { for (let n = 0; n < times; n += 1) await page.keyboard.press(key); };
      // Shift and an arrow go 24 px.
      await go('Shift+ArrowLeft', 5);
      await page.keyboard.press('Enter');
      await go('Shift+ArrowRight', 10);
      await go('Shift+ArrowUp', 5);
      await page.keyboard.press('Enter');
      near((await results(view, 1)).Straight, Math.hypot(240, 120) / per_m, 'straight');

      // The kind, by arrow keys among the choices; then a loop, with a place taken back.
      await view.locator('.measure input[value="distance"]').focus();
      await page.keyboard.press('ArrowDown');
      assert.equal(await view.locator('.measure input[value="loop"]').isChecked(), true);
      await view.locator('.measure [data-set]').focus();
      await page.keyboard.press('Enter');
      await page.keyboard.press('Enter');
      await page.keyboard.press('Enter');
      await go('Shift+ArrowDown', 8);
      await page.keyboard.press('Enter');
      await go('Shift+ArrowDown', 1);
      await page.keyboard.press('Enter');
      await page.keyboard.press('Backspace');
      await go('Shift+ArrowUp', 1);
      await go('Shift+ArrowLeft', 6);
      await page.keyboard.press('Enter');
      await page.keyboard.press('Shift+Enter');
      near((await results(view, 2)).Area, (192 * 144) / 2 / per_m ** 2, 'area');
      await page.keyboard.press('Escape');
      assert.equal(await view.locator('.measure [data-set]').getAttribute('aria-pressed'), 'false');
      // Removed by keyboard, the focus stays in the page.
      await view.locator('[data-measurement="1"] .quiet').focus();
      await page.keyboard.press('Enter');
      assert.equal(await view.locator('[data-measurement]').count(), 1);
      assert.match(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.activeElement?.textContent ?? ''), /Measured/);
      await page.context().close();
    });

    test('a surface without a dossier is measured too', async () => {
      const { page, view } = await opened({ src: 'dossier/alone.glb', state: { compare: 'one', camera: CAMERA } });
      const [a, b] = await set(view, (x, y) => page.mouse.click(x, y), [[-0.3, -0.3], [0.3, 0.2]]);
      near((await results(view, 1)).Straight, length(a, b), 'straight');
      await page.context().close();
    });

    test('readings are kept, numbered on the picture and compared', async () => {
      const { page, view } = await opened();
      await view.locator('.wall .close').click();
      const labs = [];
      // Neither pair has hues near half a turn apart, where CIEDE2000 jumps and rounding decides.
      for (const [x, y] of [[-0.42, 0.42], [-0.25, 0.42]]) {
        // The picture takes the room that the wall leaves it a frame later, which software takes its time for.
        await page.waitForTimeout(1500);
        const spot = await onScreen(view, x, y);
        labs.push(await page.evaluate(async ([px, py]) => (await document.querySelector('ganosis-view').probe(px, py)).colours.map(({ lab_d50 }) => lab_d50), spot.at));
        await page.mouse.click(spot.x, spot.y);
        await view.locator('[data-keep="keep"]').click();
        await view.locator('.readings [role="status"]', { hasText: `reading ${labs.length}` }).waitFor();
      }
      await view.locator('[data-keep="compare"]').click();
      await view.locator('.kept tbody[data-reading="2"]').waitFor();
      assert.deepEqual(await view.locator('.measured-tag.reading').allInnerTexts(), ['1', '2']);
      const shown = await view.locator('.kept tbody[data-reading="2"] tr').evaluateAll((rows) => rows.slice(1).map((row) => row.lastElementChild.textContent));
      const wanted = labs[1].map((lab, at) => deltaE2000(labs[0][at], lab));
      assert.ok(wanted.length > 0 && wanted.every((value) => value > 1));
      wanted.forEach((value, at) => assert.ok(Math.abs(Number(shown[at]) - value) < 0.06, `${shown[at]} for ${value}`));
      // Against the other one they are the same the other way round.
      await view.locator('.kept select').selectOption('2');
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.kept tbody[data-reading="2"] tr:nth-child(2)').lastElementChild.textContent === '–');
      assert.equal(await view.locator('.kept tbody[data-reading="1"] tr').nth(1).locator('td').last().innerText(), shown[0]);
      await view.locator('.kept tbody[data-reading="1"] .quiet').click();
      await view.locator('.kept tbody[data-reading="1"]').waitFor({ state: 'detached' });
      assert.deepEqual(await view.locator('.measured-tag.reading').allInnerTexts(), ['2']);
      await page.context().close();
    });

    test('nothing for axe to object to, at 1280 light and 360 dark in Arabic', async () => {
      for (const [width, height, colorScheme, language] of [[1280, 800, 'light', 'en'], [360, 740, 'dark', 'ar']]) {
        const { page, view } = await opened({ viewport: { width, height }, colorScheme, options: `&language=${language}`, state: { ...START, language } });
        await choose(view, 'profile');
        await set(view, (x, y) => page.mouse.click(x, y), [[-0.3, -0.3], [0.3, 0.2]]);
        await view.locator('[data-measurement="1"]').waitFor();
        assert.deepEqual(await violations(page), [], `${width} ${language}`);
        // Nothing is wider than the page.
        assert.equal(await view.locator('.wall .content').evaluate((content) => content.scrollWidth > content.clientWidth + 1), false);
        await page.context().close();
      }
    });

    test('no error of the page in all of this', () => assert.deepEqual(failures, []));
  });
}
