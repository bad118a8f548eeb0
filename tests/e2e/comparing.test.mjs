// Strips, mixtures, loupe, panes and taking turns against the dossier's own numbers, on both backends, by mouse, finger and keyboard.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, getView, openReady, probe, seeing, settled, setView, snapshot } from './harness.mjs';
import { decode, encode } from './pictures.mjs';
import { serveSite } from './site.mjs';

const SIZE = 480;
/** Height of the picture, or of a pane, at the square of one metre. */
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);
const BASE = { left: 'as-found', right: 'evidence', third: 'evidence', fourth: 'as-found', count: 2, camera: CAMERA, pin: null, region: null, light: { mode: 'as-measured' } };
/** Middle of a patch along one axis of a picture or pane `height` px high that begins at `start` and is `extent` long. */
const middle = (i, start = 0, extent = SIZE, height = SIZE) => start + extent / 2 + (((i + 0.5) / PATCHES - 0.5) / SEEN_M) * height;

function assertColour(pixels, width, x, y, wanted, what) {
  const at = 4 * (Math.round(y) * width + Math.round(x));
  const got = [...pixels.subarray(at, at + 3)];
  assert.ok(got.every((v, c) => Math.abs(v - wanted[c]) <= 1), `${what} at ${x.toFixed(0)}, ${y.toFixed(0)}: wanted ${wanted.map(Math.round)}, got ${got}`);
}
function eachPatch(check) {
  for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) check(column, row);
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`comparing on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-comparing-'));
    let site;
    let chromium;
    let page;
    const failures = [];

    before(async () => {
      writeDossier(folder);
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 1000, height: 760 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, site.address('dossier/'), backend);
      await settled(page);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    const loupe = { x: 0.45, y: 0.55, radius: 0.26, softness: 0 };
    test('inside the glass is the one state, around it the other, to one code value', async () => {
      await setView(page, { ...BASE, compare: 'loupe', loupe });
      const pixels = await snapshot(page, SIZE, SIZE);
      const seen = [0, 0];
      eachPatch((c, r) => {
        const [x, y] = [middle(c), middle(r)];
        const away = Math.hypot(x - loupe.x * SIZE, y - loupe.y * SIZE) - loupe.radius * SIZE;
        if (Math.abs(away) < 5) return;
        const side = away < 0 ? 1 : 0;
        seen[side] += 1;
        assertColour(pixels, SIZE, x, y, colourOf(side, c, r), side ? 'inside' : 'outside');
      });
      assert.ok(seen[0] > 8 && seen[1] > 4, `both were seen: ${seen}`);
    });

    test('over its soft edge the two are mixed in linear light', async () => {
      const soft = { x: 0.5, y: 0.5, radius: 0.45, softness: 1 };
      await setView(page, { ...BASE, compare: 'loupe', loupe: soft });
      const pixels = await snapshot(page, SIZE, SIZE);
      let mixed = 0;
      eachPatch((c, r) => {
        // A pixel shows what holds at its middle.
        const [x, y] = [Math.round(middle(c)), Math.round(middle(r))];
        const away = Math.hypot(x + 0.5 - SIZE / 2, y + 0.5 - SIZE / 2);
        const share = Math.min(1, Math.max(0, (soft.radius * SIZE - away) / (soft.radius * SIZE)));
        if (Math.abs(away - soft.radius * SIZE) < 5) return;
        if (share > 0.1) mixed += 1;
        const [a, b] = [colourOf(0, c, r), colourOf(1, c, r)];
        assertColour(pixels, SIZE, x, y, a.map((v, i) => encode((1 - share) * decode(v) + share * decode(b[i]))), 'soft edge');
      });
      assert.ok(mixed > 12);
    });

    test('mouse, finger and keyboard carry the glass, and a click in it asks about the place', async () => {
      await setView(page, { ...BASE, compare: 'loupe', loupe: { x: 0.4, y: 0.4, radius: 0.2, softness: 0 } });
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      const at = (x, y) => [box.x + x * box.width, box.y + y * box.height];
      await page.mouse.move(...at(0.38, 0.4));
      await page.mouse.down();
      await page.mouse.move(...at(0.45, 0.35), { steps: 4 });
      await page.mouse.move(...at(0.58, 0.4), { steps: 4 });
      await page.mouse.up();
      let view = await getView(page);
      assert.ok(Math.abs(view.loupe.x - 0.6) < 0.01 && Math.abs(view.loupe.y - 0.4) < 0.01, JSON.stringify(view.loupe));
      assert.deepEqual(view.camera.target_m, CAMERA.target_m);
      assert.ok(Math.abs(view.camera.azimuth_deg) < 1e-9, 'the object was not turned');

      const stem = page.locator('ganosis-view .stem');
      await stem.focus();
      for (let i = 0; i < 5; i += 1) await page.keyboard.press('ArrowLeft');
      await page.keyboard.press('+');
      view = await getView(page);
      assert.ok(Math.abs(view.loupe.x - 0.55) < 0.01 && Math.abs(view.loupe.radius - 0.22) < 1e-9, JSON.stringify(view.loupe));
      assert.match(await stem.getAttribute('aria-label'), /\S/);

      // The stem lies below the rim: a finger on it hides nothing of the glass.
      // It stands where the frame drawn last has it: software takes its time.
      let grip = await stem.boundingBox();
      const rim = box.y + view.loupe.y * box.height + view.loupe.radius * Math.min(box.width, box.height);
      for (let tries = 0; tries < 40 && grip.y < rim - 1; tries += 1) {
        await page.waitForTimeout(50);
        grip = await stem.boundingBox();
      }
      assert.ok(grip.y >= rim - 1, `stem at ${grip.y}, rim at ${rim}`);
      await page.mouse.move(grip.x + 22, grip.y + 22);
      await page.mouse.down();
      await page.mouse.move(grip.x + 22 - 0.1 * box.width, grip.y + 22, { steps: 4 });
      await page.mouse.up();
      view = await getView(page);
      assert.ok(Math.abs(view.loupe.x - 0.45) < 0.01, JSON.stringify(view.loupe));

      await page.mouse.click(...at(view.loupe.x, view.loupe.y));
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.region !== null);
    });

    for (const [count, angle_deg, position, further] of [[3, 0, 0.4, [0.6, 0.9]], [4, 0, 0.35, [0.5, 0.65]], [4, 30, 0.4, [0.5, 0.6]]]) {
      test(`${count} strips at ${angle_deg} degrees show their states up to each divider`, async () => {
        await setView(page, { ...BASE, compare: 'swipe', third: 'as-found', fourth: 'evidence', count, angle_deg, position, further });
        const pixels = await snapshot(page, SIZE, SIZE);
        const [cos, sin] = [Math.cos((angle_deg * Math.PI) / 180), Math.sin((angle_deg * Math.PI) / 180)];
        const seen = [0, 0, 0, 0];
        eachPatch((c, r) => {
          const [x, y] = [middle(c), middle(r)];
          const across = ((x - SIZE / 2) * cos + (y - SIZE / 2) * sin) / (SIZE * (cos + sin)) + 0.5;
          const dividers = [position, ...further].slice(0, count - 1);
          if (dividers.some((divider) => Math.abs(across - divider) * SIZE < 6)) return;
          const strip = dividers.filter((divider) => across >= divider).length;
          seen[strip] += 1;
          assertColour(pixels, SIZE, x, y, colourOf(strip % 2, c, r), `strip ${strip + 1}`);
        });
        assert.ok(seen.slice(0, count).every((patches) => patches > 0), `patches in the strips: ${seen}`);
      });
    }

    test('a mixture of three is the sum of their light by their shares', async () => {
      const shares = [0.5, 0.3, 0.2];
      await setView(page, { ...BASE, compare: 'blend', third: 'as-found', count: 3, shares });
      const pixels = await snapshot(page, SIZE, SIZE);
      eachPatch((c, r) => {
        const [first, second] = [0, 1].map((state) => colourOf(state, c, r).map(decode));
        assertColour(pixels, SIZE, middle(c), middle(r), first.map((v, i) => encode((shares[0] + shares[2]) * v + shares[1] * second[i])), 'mixture');
      });
      // Two alike leave the other's share alone: the whole of one is that one.
      await setView(page, { shares: [0, 0, 1] });
      const alone = await snapshot(page, SIZE, SIZE);
      eachPatch((c, r) => assertColour(alone, SIZE, middle(c), middle(r), colourOf(0, c, r), 'third alone'));
    });

    test('mouse, finger and keyboard move each divider, and one pushes another', async () => {
      await setView(page, { ...BASE, compare: 'swipe', third: 'as-found', fourth: 'evidence', count: 4, angle_deg: 0, position: 0.25, further: [0.5, 0.75] });
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      const drag = async (from, to, y) => {
        await page.mouse.move(box.x + from * box.width, y);
        await page.mouse.down();
        await page.mouse.move(box.x + to * box.width, y, { steps: 5 });
        await page.mouse.up();
      };
      // On the line, away from the grip.
      await drag(0.75, 0.4, box.y + box.height * 0.2);
      let view = await getView(page);
      for (const [got, wanted] of [[view.position, 0.25], [view.further[0], 0.4], [view.further[1], 0.4]]) assert.ok(Math.abs(got - wanted) < 0.01, JSON.stringify(view));
      await setView(page, { further: [0.5, 0.75] });
      const grips = page.locator('ganosis-view .divider:visible');
      assert.equal(await grips.count(), 3);
      await grips.nth(1).focus();
      for (let press = 0; press < 5; press += 1) await page.keyboard.press('ArrowRight');
      view = await getView(page);
      assert.ok(Math.abs(view.further[0] - 0.55) < 1e-6, JSON.stringify(view.further));
      assert.match(await grips.nth(1).getAttribute('aria-label'), /Evidence-based.*As found/);
      // Away from the grips, which have a pointer of their own: on each line the pointer says what it would take.
      const shapes = [];
      for (const at of [0.1, 0.25, 0.4, 0.55, 0.65, 0.75, 0.9]) {
        await page.mouse.move(box.x + at * box.width, box.y + box.height * 0.2);
        shapes.push(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('canvas').style.cursor));
      }
      assert.deepEqual(shapes, ['grab', 'ew-resize', 'grab', 'ew-resize', 'grab', 'ew-resize', 'grab']);
    });

    test('a press on a divider is about the place that lies there', async () => {
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      // The middle of the second column, by the pinhole.
      const column = (1.5 / PATCHES - 0.5) / SEEN_M * box.height;
      const position = 0.5 + column / box.width;
      await setView(page, { ...BASE, compare: 'swipe', angle_deg: 0, position });
      await page.mouse.click(box.x + box.width / 2 + column, box.y + box.height * 0.3);
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.region === 'column-2');
      assert.equal((await getView(page)).position, position, 'and the divider stays');
    });

    for (const [count, columns, rows, shown] of [[2, 2, 1, [0, 1]], [3, 3, 1, [0, 1, 1]], [4, 2, 2, [0, 1, 1, 0]]]) {
      test(`${count} panes show their states under one camera`, async () => {
        await setView(page, { ...BASE, compare: 'pair', count });
        const [width, height] = [columns * SIZE, rows * SIZE];
        const pixels = await snapshot(page, width, height);
        shown.forEach((state, pane) => {
          const [x0, y0] = [(pane % columns) * SIZE, Math.floor(pane / columns) * SIZE];
          eachPatch((c, r) => assertColour(pixels, width, middle(c, x0), middle(r, y0), colourOf(state, c, r), `pane ${pane}`));
        });
      });
    }

    test('the probe and the camera know the pane that they are asked in', async () => {
      await setView(page, { ...BASE, compare: 'pair', count: 2 });
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      const [pane, h] = [box.width / 2, box.height];
      const places = [0, 1].map((i) => [middle(4, i * pane, pane, h), middle(1, 0, h, h)]);
      const hits = [];
      for (const place of places) hits.push(await probe(page, ...place));
      for (const hit of hits) {
        assert.equal(hit.region, 'column-5');
        assert.ok(Math.abs(hit.uv[0] - 4.5 / PATCHES) < 0.01 && Math.abs(hit.uv[1] - 1.5 / PATCHES) < 0.01, JSON.stringify(hit.uv));
      }
      await page.mouse.move(box.x + pane * 1.5, box.y + h * 0.3);
      await page.mouse.down();
      await page.mouse.move(box.x + pane * 1.5 + 60, box.y + h * 0.3, { steps: 5 });
      await page.mouse.up();
      assert.ok(Math.abs((await getView(page)).camera.azimuth_deg) > 5, 'a drag in the second pane turns both');
      const captions = await page.locator('ganosis-view .pane .caption').allTextContents();
      assert.deepEqual(captions, ['As found', 'Evidence-based']);
    });

    test('what is seen whole stays whole in narrow panes and is as it was after them; what is seen near stays near', async () => {
      await setView(page, { ...BASE, compare: 'one' });
      await page.locator('ganosis-view canvas').first().focus();
      await page.keyboard.press('Home');
      await setView(page, {});
      const whole = (await getView(page)).camera;
      /** Of a pinhole camera: pixels from the middle to the sides of the square of one metre, and of the pane. */
      const halves = async (columns) => {
        const { camera } = await getView(page);
        const box = await page.locator('ganosis-view canvas').first().boundingBox();
        const pixels_per_m = box.height / (2 * camera.distance_m * Math.tan((camera.fov_deg * Math.PI) / 360));
        return [0.5 * pixels_per_m, box.width / columns / 2];
      };
      await setView(page, { compare: 'pair', count: 3 });
      await page.waitForFunction((before) => document.querySelector('ganosis-view').view.camera.distance_m > before * 1.05, whole.distance_m, { timeout: 20_000 });
      const [object, pane] = await halves(3);
      assert.ok(object < pane && object > 0.5 * pane, `the square reaches ${object} px to either side in a pane of ${pane} px`);
      await setView(page, { compare: 'swipe' });
      await page.waitForFunction((before) => Math.abs(document.querySelector('ganosis-view').view.camera.distance_m - before) < 1e-6, whole.distance_m, { timeout: 20_000 });
      const { distance_m, ...direction } = (await getView(page)).camera;
      assert.deepEqual({ ...direction, distance_m: 0 }, { ...whole, distance_m: 0 });
      const near = { ...whole, distance_m: whole.distance_m / 3 };
      await setView(page, { compare: 'swipe', camera: near });
      await setView(page, { compare: 'pair' });
      await setView(page, {});
      assert.equal((await getView(page)).camera.distance_m, near.distance_m);
    });

    test('every pane has the pins of its state, and a press on one opens its card', async () => {
      await setView(page, { ...BASE, compare: 'pair', count: 4 });
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelectorAll('[data-echo]').length === 3);
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      // The pin lies in the middle of the square, which is the middle of each pane.
      const middles = await page.locator('ganosis-view .pin:visible').evaluateAll((pins) => pins.map((pin) => pin.getBoundingClientRect()).map(({ x, y }) => [x + 22, y + 22]));
      const wanted = [0, 1, 2, 3].map((pane) => [box.x + box.width * (pane % 2 ? 0.75 : 0.25), box.y + box.height * (pane < 2 ? 0.25 : 0.75)]);
      for (const [x, y] of wanted) assert.ok(middles.some((at) => Math.hypot(at[0] - x, at[1] - y) < 1.5), `${x}, ${y} among ${JSON.stringify(middles)}`);
      await page.locator('ganosis-view [data-echo]').last().click();
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.pin === 'p1');
      await setView(page, { ...BASE, compare: 'one' });
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelectorAll('[data-echo]').length === 0);
    });

    test('states take turns only when asked where motion is unwelcome, and at most three times a second', async () => {
      await setView(page, { ...BASE, compare: 'blink', changes_per_second: 60 });
      assert.equal((await getView(page)).changes_per_second, 3);
      const shown = async () => {
        const pixels = await snapshot(page, SIZE, SIZE);
        const at = 4 * (Math.round(middle(3)) * SIZE + Math.round(middle(2)));
        const got = [...pixels.subarray(at, at + 3)];
        return [0, 1].findIndex((side) => colourOf(side, 2, 3).every((v, c) => Math.abs(v - got[c]) <= 1));
      };
      assert.equal(await shown(), 0);
      await page.waitForTimeout(900);
      assert.equal(await shown(), 0, 'nothing changed by itself');
      await page.locator('ganosis-view [data-blink="other"]').click();
      assert.equal(await shown(), 1);
      await page.locator('ganosis-view [data-blink="other"]').click();
      assert.equal(await shown(), 0);
      // Started, the changes are counted where the picture is told to change.
      const count = await page.evaluate(async () => {
        const root = document.querySelector('ganosis-view').shadowRoot;
        const set = window.setInterval;
        let every = Infinity;
        window.setInterval = (act, ms, ...rest) => { every = ms; return set(act, ms, ...rest); };
        root.querySelector('[data-blink="run"]').click();
        window.setInterval = set;
        await new Promise((done) => { setTimeout(done, 1200); });
        root.querySelector('[data-blink="run"]').click();
        return every;
      });
      assert.ok(count >= 1000 / 3 - 1, `a change every ${count} ms`);
      await setView(page, { ...BASE, compare: 'one' });
    });

    test('a page that is made anew in another language leaves nothing of the old one taking turns', async () => {
      await setView(page, { ...BASE, compare: 'blink', changes_per_second: 3 });
      // Every timer that is running, whoever started it.
      const pressed = await page.evaluate(async () => {
        const element = document.querySelector('ganosis-view');
        const root = element.shadowRoot;
        const [set, clear] = [window.setInterval, window.clearInterval];
        const running = new Set();
        window.setInterval = (...all) => {
          const timer = set(...all);
          running.add(timer);
          return timer;
        };
        window.clearInterval = (timer) => {
          running.delete(timer);
          clear(timer);
        };
        const press = async () => {
          root.querySelector('[data-blink="run"]').click();
          await new Promise((done) => { setTimeout(done, 100); });
          return running.size;
        };
        const counts = [await press()];
        const before = root.querySelector('.plate');
        element.view = { language: 'de' };
        while (root.querySelector('.plate') === before || !root.querySelector('[data-blink="run"]')) await new Promise((done) => { setTimeout(done, 20); });
        await new Promise((done) => { setTimeout(done, 200); });
        counts.push(running.size, await press(), await press());
        [window.setInterval, window.clearInterval] = [set, clear];
        return counts;
      });
      // Motion is unwelcome here, so that the new page does not start by itself.
      assert.deepEqual(pressed, [1, 0, 1, 0], 'timers: begun, other language, begun again, stopped');
      const first = await snapshot(page, 64, 64);
      for (let tries = 0; tries < 4; tries += 1) {
        await page.waitForTimeout(170);
        assert.ok(first.equals(await snapshot(page, 64, 64)), 'nothing changes once stopped');
      }
      await setView(page, { ...BASE, compare: 'one', language: 'en' });
    });

    test('the scale bar is as long as it says', async () => {
      await setView(page, { ...BASE, compare: 'one' });
      await page.waitForTimeout(300);
      const { width, height, label } = await page.evaluate(() => {
        const root = document.querySelector('ganosis-view').shadowRoot;
        return {
          width: root.querySelector('.scale-bar .bar').getBoundingClientRect().width,
          height: root.querySelector('canvas').clientHeight,
          label: root.querySelector('.scale-bar').getAttribute('aria-label'),
        };
      });
      const [, value, unit] = label.match(/([\d.,]+)\s?(mm|m)\b/);
      const metres = Number(value.replace(',', '')) * (unit === 'mm' ? 1e-3 : 1);
      assert.ok(Math.abs(width * SEEN_M / height / metres - 1) < 0.005, `${width} px of ${height}: ${label}`);
    });

    test('the address brings the comparison back', async () => {
      await page.evaluate(() => document.querySelector('ganosis-view').setAttribute('address', 'hash'));
      await setView(page, { ...BASE, compare: 'loupe', loupe: { x: 0.3, y: 0.6, radius: 0.15, softness: 0.5 } });
      await page.waitForFunction(() => location.hash.includes('loupe='));
      const hash = await page.evaluate(() => location.hash);
      await setView(page, { ...BASE, compare: 'pair', count: 4 });
      await page.waitForFunction(() => location.hash.includes('fourth='));
      await page.evaluate((value) => { location.hash = value; }, hash);
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.compare === 'loupe');
      assert.deepEqual((await getView(page)).loupe, { x: 0.3, y: 0.6, radius: 0.15, softness: 0.5 });
    });

    test('nothing broke on the way', () => assert.deepEqual(failures, []));
  });
}
