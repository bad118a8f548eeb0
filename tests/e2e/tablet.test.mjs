// The gallery tablet: by touch, left alone, without network, in wild hands, and its attendant's page.
//   GANOSIS_TOUCHES=20000 gives the soak its full length; GANOSIS_SOAK_LOG names a file that takes a line each
//   time the tablet is back at its start.
import assert from 'node:assert/strict';
import { appendFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, violations } from './harness.mjs';
import { serveSite } from './site.mjs';
import { soak } from './soak.mjs';

/** Software drawing makes each frame dear: a short run always, the long one when asked. */
const TOUCHES = Number(process.env.GANOSIS_TOUCHES) || 200;
const HOME_EVERY = TOUCHES < 1000 ? 50 : 100;
const SEED = Number(process.env.GANOSIS_SEED) || 1340;
/** A page that is used holds more than one just opened; what grows without end shows between the last two quarters of the run, which one page lives through (bytes). */
const FLAT_BYTES = 3_000_000;

for (const backend of Object.keys(BACKENDS)) {
  describe(`the gallery tablet on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-tablet-'));
    let site;
    let chromium;
    const failures = [];

    before(async () => {
      const document = writeDossier(folder);
      document.languages = ['en', 'de', 'es', 'ar'];
      document.title = { en: 'Patches', de: 'Felder', es: 'Campos', ar: 'مربعات' };
      document.views = [
        { id: 'v1', title: { en: 'All of it', de: 'Das Ganze' }, text: { en: 'Every square.', de: 'Jedes Feld.' }, view: { left: 'as-found', right: 'evidence', compare: 'swipe', position: 0.5, camera: facing(2.5) } },
        { id: 'v2', title: { en: 'The spot' }, text: { en: 'Copper here.' }, view: { left: 'evidence', compare: 'blink', pin: 'p1', camera: { ...facing(1.5), azimuth_deg: 20 } } },
        { id: 'v3', title: { en: 'In infrared' }, view: { left: 'as-found', right: 'irr', compare: 'swipe' } },
      ];
      document.evidence[0].attachments = [{ file: 'https://elsewhere.example/paper', title: 'A paper' }, { file: 'state-0.png', media_type: 'image/png', title: 'Photograph' }];
      writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend, { coarse: true });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    const newPage = async (more = {}) => {
      const context = await chromium.newContext({ viewport: { width: 1180, height: 820 }, hasTouch: true, reducedMotion: 'reduce', ...more });
      const page = await context.newPage();
      page.on('pageerror', (error) => failures.push(error.message));
      return page;
    };
    const room = (page) => page.locator('ganosis-view');
    const ready = async (page) => {
      await page.waitForFunction(() => document.querySelector('ganosis-view')?.shadowRoot.querySelector('[data-ready] .sill'), null, { timeout: 240_000 });
    };
    const open = async (page, more = '') => {
      await page.goto(`${site.origin}/tablet.html?src=dossier/&backend=${backend}&language=en${more}`);
      await ready(page);
    };
    const begin = (page) => room(page).locator('.attract').tap();
    const view = (page) => page.evaluate(() => document.querySelector('ganosis-view').view);
    const attracts = (page) => page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-attract] .attract')?.checkVisibility(), null, { timeout: 20_000 });
    /** As when nobody has touched it for the time that is set. */
    const leaveAlone = (page) => page.evaluate(() => { globalThis.ahead = (globalThis.ahead ?? 0) + 100_000; });
    /** The page's clock runs ahead by what a test says. */
    const withClock = (page) => page.addInitScript(() => {
      const now = performance.now.bind(performance);
      performance.now = () => now() + (globalThis.ahead ?? 0);
    });

    test('by touch: it begins, goes from stop to stop, speaks every language, and leads nowhere else', async () => {
      const page = await newPage();
      await open(page);
      await attracts(page);
      assert.match(await room(page).locator('.attract').innerText(), /Touch to begin[\s\S]*Zum Beginnen berühren[\s\S]*Toque para empezar[\s\S]*المس/);
      assert.deepEqual(await violations(page), [], 'while nobody is there');
      // Nothing is drawn out: the picture has the shape of its place, which the sill has just left.
      await page.waitForFunction(() => {
        const canvas = document.querySelector('ganosis-view').shadowRoot.querySelector('.stage > canvas');
        const { width, height } = canvas.getBoundingClientRect();
        return Math.abs((canvas.width / canvas.height) / (width / height) - 1) < 0.01;
      }, null, { timeout: 20_000 });
      await begin(page);
      // It begins where the round was.
      await room(page).locator('.sill h2').filter({ hasText: /./ }).waitFor();
      await room(page).locator('[data-stop="0"]').tap();
      await room(page).locator('.sill h2', { hasText: 'All of it' }).waitFor();
      assert.deepEqual(await violations(page), [], 'in use');
      // Targets for any hand: 56 px (3.5rem), WCAG asks for 24 (2.5.8) and 44 (2.5.5).
      const small = await page.evaluate(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.sill button')].map((one) => [one.className, one.getBoundingClientRect()]).filter(([, { width, height }]) => width < 56 || height < 56).map(([name, { width, height }]) => `${name} ${width} ${height}`));
      assert.deepEqual(small, []);
      await room(page).locator('[data-stop="1"]').tap();
      await room(page).locator('.sill .prose', { hasText: 'Copper here.' }).waitFor();
      const second = await view(page);
      assert.deepEqual([second.left, second.compare, Math.round(second.camera.azimuth_deg)], ['evidence', 'swipe', 20], 'what takes turns does not run by itself');
      // The grip stands on its divider: as far across the picture as the position says.
      await page.waitForFunction(() => {
        const element = document.querySelector('ganosis-view');
        const [picture, grip] = ['.stage > canvas', '.divider:not([hidden])'].map((one) => element.shadowRoot.querySelector(one)?.getBoundingClientRect());
        if (!picture || !grip) return false;
        const { position, angle_deg } = element.view;
        const [cos, sin] = [Math.cos, Math.sin].map((of) => of((angle_deg * Math.PI) / 180));
        const away = (grip.x + grip.width / 2 - picture.x - picture.width / 2) * cos + (grip.y + grip.height / 2 - picture.y - picture.height / 2) * sin;
        return Math.abs(away - (position - 0.5) * (Math.abs(picture.width * cos) + Math.abs(picture.height * sin))) < 2;
      }, null, { timeout: 20_000 });
      await room(page).locator('[data-state="as-found"]').tap();
      assert.equal((await view(page)).right, 'as-found');
      await room(page).locator('[data-language="de"]').tap();
      await room(page).locator('.sill .note', { hasText: 'Diesen Text gibt es nur auf Englisch' }).waitFor();
      await room(page).locator('[data-stop="0"]').tap();
      await room(page).locator('.sill .prose', { hasText: 'Jedes Feld.' }).waitFor();
      await room(page).locator('[data-language="ar"]').tap();
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.room').dir === 'rtl');
      await room(page).locator('[data-language="en"]').tap();
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.language === 'en');
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { pin: 'p1' }; });
      const wall = room(page).locator('.wall');
      await wall.getByText('Copper was found here').waitFor();
      await wall.locator('details').evaluateAll((all) => { for (const one of all) one.open = true; });
      await wall.getByText('A paper').first().waitFor();
      assert.equal(await wall.locator('a[href]').count(), 0, 'no link leads anywhere');
      const menu = await page.evaluate(() => {
        const event = new MouseEvent('contextmenu', { bubbles: true, cancelable: true, composed: true });
        document.querySelector('ganosis-view').shadowRoot.querySelector('.sill h2').dispatchEvent(event);
        return event.defaultPrevented;
      });
      assert.ok(menu, 'no menu opens');
      assert.equal(await page.evaluate(() => getComputedStyle(document.querySelector('ganosis-view').shadowRoot.querySelector('.sill h2')).userSelect), 'none');
      await page.context().close();
    });

    test('states are pictures: each shows the object in its colours, and a touch on one changes what is seen', async () => {
      const page = await newPage({ viewport: { width: 390, height: 844 } });
      await open(page);
      await begin(page);
      await room(page).locator('[data-stop="0"]').tap();
      await page.waitForFunction(() => {
        const all = [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.state-choice img')];
        return all.length === 2 && all.every((one) => !one.hidden && one.complete);
      }, null, { timeout: 60_000 });
      const found = await page.evaluate(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.state-choice')].map((choice) => {
        const [image, name] = [choice.querySelector('img'), choice.querySelector('.name')];
        const { naturalWidth: width, naturalHeight: height } = image;
        const drawing = new OffscreenCanvas(width, height).getContext('2d');
        drawing.drawImage(image, 0, 0);
        const [box, shown] = [choice, image].map((one) => one.getBoundingClientRect());
        return { id: choice.dataset.state, name: name.textContent, place: choice.dataset.place, width, height, data: [...drawing.getImageData(0, 0, width, height).data], target: [box.width, box.height], shown: [shown.width, shown.height] };
      }));
      assert.deepEqual(found.map(({ id, name, place }) => [id, name, place]), [['as-found', 'As found', 'left'], ['evidence', 'Evidence-based', 'right']]);
      // The ball of the square of one metre, fitted into the height with 6 per cent of room (27 degrees of view).
      const half = (1.06 * Math.SQRT1_2) / Math.cos((27 / 2) * (Math.PI / 180));
      let checked = 0;
      for (const [state, { width, height, data, target, shown }] of found.entries()) {
        // WCAG 2.2, 2.5.5: 44 px; twice that for a small hand. The picture keeps its shape.
        assert.ok(Math.min(...target) >= 88 && Math.abs(shown[0] / shown[1] - width / height) < 0.02, `${target}, ${shown}`);
        for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
          const place = (i, extent) => Math.floor(extent / 2 + ((i + 0.5) / PATCHES - 0.5) * (height / 2 / half));
          const at = 4 * (place(row, height) * width + place(column, width));
          const [got, wanted] = [data.slice(at, at + 3), colourOf(state, column, row)];
          assert.ok(got.every((v, c) => Math.abs(v - wanted[c]) <= 1), `state ${state}, patch ${column} ${row}: ${got}, wanted ${wanted}`);
          checked += 1;
        }
      }
      assert.equal(checked, 2 * PATCHES * PATCHES);
      await room(page).locator('.state-choice[data-state="as-found"] img').tap();
      assert.equal((await view(page)).compare, 'one');
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-state="evidence"]').getAttribute('aria-pressed') === 'false');
      await room(page).locator('.state-choice[data-state="evidence"] img').tap();
      const { left, right, compare } = await view(page);
      assert.deepEqual([left, right, compare], ['as-found', 'evidence', 'swipe']);
      await room(page).locator('[data-state="evidence"][data-place="right"]').waitFor();
      await page.context().close();
    });

    test('left alone it asks, then starts again and has forgotten everything', async () => {
      const page = await newPage();
      await withClock(page);
      await open(page, '&idle=60');
      await begin(page);
      await room(page).locator('[data-stop="1"]').tap();
      await room(page).locator('[data-language="de"]').tap();
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.language === 'de');
      // The words follow the view, and with them the tablet counts anew how long it is left alone.
      await room(page).locator('.still-there[aria-label="Sind Sie noch da?"]').waitFor({ state: 'attached' });
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { pin: 'p1' }; globalThis.ahead = 45_000; });
      const asked = room(page).locator('.still-there');
      await asked.waitFor({ state: 'visible' });
      assert.match(await asked.innerText(), /Sind Sie noch da\?[\s\S]*In \d+ Sekunden/);
      assert.deepEqual(await violations(page), []);
      await asked.locator('button').tap();
      await asked.waitFor({ state: 'hidden' });
      assert.equal((await view(page)).pin, 'p1', 'whoever answers goes on');
      await leaveAlone(page);
      await attracts(page);
      const home = await view(page);
      assert.deepEqual([home.pin, home.language, home.left], [null, 'en', 'as-found']);
      assert.equal(await room(page).locator('.wall').isHidden(), true);
      await page.context().close();
    });

    test('it works without network after the first load, and when it is started again', async () => {
      const own = await serveSite({ dossier: folder });
      const page = await newPage();
      await page.goto(`${own.origin}/tablet.html?src=dossier/&backend=${backend}&language=en`);
      await ready(page);
      await page.waitForFunction(() => document.documentElement.dataset.kept, null, { timeout: 120_000 });
      assert.equal(await page.evaluate(() => document.documentElement.dataset.kept), 'kept');
      // Every file that the list of the viewer names, and every file of the dossier, is there by its content.
      const kept = await page.evaluate(async () => {
        const name = (await caches.keys()).find((one) => one.startsWith('ganosis-tablet '));
        const cache = await caches.open(name);
        return (await cache.keys()).map(({ url }) => (url.startsWith(location.origin) ? new URL(url).pathname : url));
      });
      const { files } = JSON.parse(readFileSync(join(process.env.GANOSIS_VIEWER, 'files.json'), 'utf8'));
      for (const path of Object.keys(files)) assert.ok(kept.includes(`/${path}`), path);
      for (const path of ['dossier.json', 'square.glb', 'state-0.png', 'state-1.png', 'band.png', 'regions.png']) assert.ok(kept.includes(`/dossier/${path}`), path);
      assert.ok(kept.every((path) => path.startsWith('/')), 'what lies on the web stays there');
      const address = page.url();
      await own.stop();
      await page.reload();
      await ready(page);
      await begin(page);
      await room(page).locator('[data-language="ar"]').tap();
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.room').dir === 'rtl');
      // Pulled plug: another page in the same browser, nothing of the server left.
      const context = page.context();
      await page.close();
      const again = await context.newPage();
      again.on('pageerror', (error) => failures.push(error.message));
      await again.goto(address);
      await ready(again);
      await begin(again);
      await room(again).locator('[data-stop="2"]').tap();
      await again.waitForFunction(() => document.querySelector('ganosis-view').view.right === 'irr');
      await again.waitForFunction(() => document.documentElement.dataset.kept === 'as-before');
      await context.close();
    });

    test('the attendant has a code, sees what runs and what went wrong, and takes the counts along', async () => {
      const page = await newPage();
      await open(page);
      await begin(page);
      await room(page).locator('[data-stop="1"]').tap();
      const staff = room(page).locator('.staff-page');
      const type = async (digits) => {
        for (const digit of [...digits, 'enter']) await staff.locator(`[data-digit="${digit}"]`).tap();
      };
      await room(page).locator('.staff').tap();
      assert.deepEqual(await violations(page), []);
      await type('12');
      await staff.getByText('A code has 4 to 8 digits.').waitFor();
      await type('271828');
      await staff.getByText('Works without network').waitFor();
      assert.deepEqual(await violations(page), []);
      await page.evaluate(() => { setTimeout(() => { throw new Error('a fault for the attendant'); }); });
      await page.waitForTimeout(100);
      await staff.locator('.close').tap();
      await room(page).locator('.staff').tap();
      for (const wrong of ['1111', '2222', '3333', '4444']) {
        await type(wrong);
        await staff.getByText('That is not the code.').waitFor();
      }
      await type('271828');
      await staff.getByText(/Too many tries: wait \d+ second/).waitFor();
      await page.evaluate(() => localStorage.setItem('ganosis-attendant', JSON.stringify({ ...JSON.parse(localStorage.getItem('ganosis-attendant')), until: 0 })));
      assert.ok(!(await page.evaluate(() => localStorage.getItem('ganosis-attendant'))).includes('271828'), 'the code itself is nowhere');
      // By keys alone.
      await staff.locator('.pad').focus();
      for (const key of [...'271828', 'Enter']) await page.keyboard.press(key);
      await staff.getByText('a fault for the attendant').waitFor();
      const [download] = await Promise.all([page.waitForEvent('download', { timeout: 240_000 }), staff.locator('[data-staff="table"]').tap()]);
      const table = readFileSync(await download.path(), 'utf8');
      assert.match(table, /^day,what,count\r\n\d{4}-\d\d-\d\d,attendant,1\r\n\d{4}-\d\d-\d\d,begun,1\r\n[\s\S]*,stop v2,1\r\n/);
      assert.deepEqual(failures.splice(0), ['a fault for the attendant']);
      await page.context().close();
    });

    test('a viewer that breaks off is begun anew, and the attendant learns of it', async () => {
      const page = await newPage();
      await withClock(page);
      await open(page);
      // A page that goes while it keeps its files would note that too.
      await page.waitForFunction(() => document.documentElement.dataset.kept, null, { timeout: 120_000 });
      await page.evaluate(() => {
        globalThis.ahead = 100_000;
        globalThis.before = true;
        setTimeout(() => { throw new WebAssembly.RuntimeError('unreachable'); });
      });
      await page.waitForFunction(() => !globalThis.before, null, { timeout: 60_000 });
      await ready(page);
      await attracts(page);
      assert.deepEqual(await page.evaluate(() => JSON.parse(localStorage.getItem('ganosis-gallery-errors')).map(({ message }) => message)), ['unreachable']);
      assert.deepEqual(failures.splice(0), ['unreachable']);
      await page.context().close();
    });

    test('by keys alone: begun, gone through, read, told apart, ended, and the attendant let in', async () => {
      const page = await newPage();
      await withClock(page);
      await open(page, '&idle=60');
      await attracts(page);
      /** Presses Tab until what has the focus fits, and it can be seen there (WCAG 2.2, 2.4.7). */
      const tabTo = async (selector, key = 'Tab') => {
        const passed = [];
        for (let turn = 0; turn < 80; turn += 1) {
          const seen = await page.evaluate((wanted) => {
            const one = document.querySelector('ganosis-view').shadowRoot.activeElement;
            if (!one?.matches(wanted)) return `${one?.localName}.${one?.className}`;
            const { outlineStyle, outlineWidth } = getComputedStyle(one);
            return outlineStyle !== 'none' && parseFloat(outlineWidth) >= 2;
          }, selector);
          if (typeof seen !== 'string') return assert.ok(seen, `${selector} shows that it has the focus`);
          passed.push(seen);
          await page.keyboard.press(key);
        }
        assert.fail(`no way to ${selector} by ${key}: ${passed.join(', ')}`);
      };
      await tabTo('.attract');
      await page.keyboard.press('Enter');
      await room(page).locator('.sill h2').filter({ hasText: /./ }).waitFor();
      await tabTo('[data-stop="1"]');
      await page.keyboard.press('Enter');
      await room(page).locator('.sill .prose', { hasText: 'Copper here.' }).waitFor();
      await tabTo('[data-state="as-found"]');
      await page.keyboard.press('Space');
      assert.equal((await view(page)).right, 'as-found');
      // The object is turned, and a pin is read and left again.
      await tabTo('canvas', 'Shift+Tab');
      const before = (await view(page)).camera.azimuth_deg;
      await page.keyboard.press('ArrowLeft');
      await page.waitForFunction((was) => document.querySelector('ganosis-view').view.camera.azimuth_deg !== was, before);
      await tabTo('.pin');
      await page.keyboard.press('Enter');
      await room(page).locator('.wall').getByText('Copper was found here').waitFor();
      await page.keyboard.press('Escape');
      await room(page).locator('.wall').waitFor({ state: 'hidden' });
      await tabTo('[data-language="de"]');
      await page.keyboard.press('Enter');
      await room(page).locator('.still-there[aria-label="Sind Sie noch da?"]').waitFor({ state: 'attached' });
      // Asked whether somebody is there, any key answers.
      await page.evaluate(() => { globalThis.ahead = 45_000; });
      await room(page).locator('.still-there').waitFor({ state: 'visible' });
      await page.keyboard.press('Shift');
      await room(page).locator('.still-there').waitFor({ state: 'hidden' });
      // The attendant: a code, the page, and back; behind the page nothing can be reached.
      await tabTo('.staff');
      await page.keyboard.press('Enter');
      const staff = room(page).locator('.staff-page');
      for (const key of [...'314159', 'Enter']) await page.keyboard.press(key);
      await staff.locator('[data-staff="table"]').waitFor();
      for (let turn = 0; turn < 12; turn += 1) {
        await page.keyboard.press('Tab');
        assert.ok(await page.evaluate(() => {
          const one = document.querySelector('ganosis-view').shadowRoot.activeElement;
          return one === null || one.closest('.staff-page') !== null;
        }), 'the focus stays on the page');
      }
      await tabTo('[data-staff="table"]');
      const [download] = await Promise.all([page.waitForEvent('download', { timeout: 60_000 }), page.keyboard.press('Enter')]);
      assert.match(readFileSync(await download.path(), 'utf8'), /stop v2,1\r\n/);
      await page.keyboard.press('Escape');
      await staff.waitFor({ state: 'detached' });
      await tabTo('.staff');
      await tabTo('[data-gallery="end"]', 'Shift+Tab');
      await page.keyboard.press('Enter');
      await attracts(page);
      await page.keyboard.press('Enter');
      await page.waitForFunction(() => !document.querySelector('ganosis-view').shadowRoot.querySelector('[data-attract]'));
      await page.context().close();
    });

    test(`wild hands: ${TOUCHES} touches, reloads and lost devices, and always back at the start`, async () => {
      // Coarse pixels: a touch costs what it does and a frame drawn by a processor a quarter.
      const page = await newPage({ viewport: { width: 900, height: 640 }, deviceScaleFactor: 0.5 });
      const crashes = [];
      page.on('crash', () => crashes.push('the page'));
      await withClock(page);
      await open(page, '&idle=60');
      const counts = await soak(page, {
        touches: TOUCHES, seed: SEED, homeEvery: HOME_EVERY, reloadEvery: Math.max(100, Math.round(TOUCHES / 40)), loseEvery: 70,
        opened: ready,
        // Where a graphics card draws seventy touches take less than a second: a device that goes so soon again and again would be given up.
        beforeLoss: () => page.evaluate(() => { globalThis.ahead = (globalThis.ahead ?? 0) + 1000; }),
        told: process.env.GANOSIS_SOAK_LOG ? (line) => appendFileSync(process.env.GANOSIS_SOAK_LOG, `${JSON.stringify({ backend, ...line, failures: failures.length })}\n`) : undefined,
        atHome: async () => {
          // Words of another language may still be on their way: with them it counts anew how long it is left alone.
          await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.room').lang === document.querySelector('ganosis-view').view.language);
          await leaveAlone(page);
          await attracts(page);
          assert.equal((await view(page)).language, 'en');
          for (const part of ['.wall', '.still-there', '.staff-page']) assert.equal(await room(page).locator(part).isVisible(), false, part);
          assert.equal(new URL(page.url()).pathname, '/tablet.html');
          assert.equal(page.context().pages().length, 1);
          await page.waitForFunction(() => !document.querySelector('ganosis-view').shadowRoot.querySelector('.failure'), null, { timeout: 60_000 });
        },
      });
      assert.equal(counts.homes, Math.floor(TOUCHES / HOME_EVERY));
      const quarter = Math.floor(counts.heaps.length / 4);
      const most = (list) => Math.max(...list);
      assert.ok(most(counts.heaps.slice(-quarter)) - most(counts.heaps.slice(-2 * quarter, -quarter)) < FLAT_BYTES, `memory grows: ${counts.heaps}`);
      assert.deepEqual(crashes, []);
      // The attendant's list: nothing but the devices that were taken away went wrong.
      const noted = await page.evaluate(() => JSON.parse(localStorage.getItem('ganosis-gallery-errors') ?? '[]').map(({ message }) => message));
      assert.deepEqual(noted, []);
      await page.context().close();
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}
