// Opacity, ends, tone maps and lines of layers against the numbers of the dossier's own files, on both backends.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, PATCH_PX, bandOf, colourOf, png, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, getView, openReady, seeing, setView, snapshot, violations } from './harness.mjs';
import { decode, encode } from './pictures.mjs';
import { serveSite } from './site.mjs';

const SIZE = 480;
/** Height of the picture at the square of one metre. */
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);
const BASE = { left: 'irr', right: 'evidence', compare: 'one', count: 2, camera: CAMERA, pin: null, region: null, light: { mode: 'as-measured' }, layers: {}, over: null };
const BAND = { opacity: 1, ends: [0, 1], map: 'grey', lines: 0 };
/** Pixel of a place 0..1 of the square. */
const pixel = (share) => SIZE / 2 + ((share - 0.5) / SEEN_M) * SIZE;
const middle = (i) => pixel((i + 0.5) / PATCHES);

/** Linear light of a neutral of lightness L* (CIE 15:2018, 8.2.1.1). */
const lightOf = (l) => (l > 8 ? ((l + 16) / 116) ** 3 : (l * 27) / 24389);
const grey = (share) => lightOf(100 * Math.min(1, Math.max(0, share)));

/** A table of 256 codes of 8 bits holds the maps: mixed between two entries they may be off by one more than the picture's own rounding. */
const TOLERANCE = 2;
function assertColour(pixels, x, y, wanted, what) {
  const at = 4 * (Math.round(y) * SIZE + Math.round(x));
  const got = [...pixels.subarray(at, at + 3)];
  assert.ok(got.every((v, c) => Math.abs(v - wanted[c]) <= TOLERANCE), `${what} at ${x.toFixed(0)}, ${y.toFixed(0)}: wanted ${wanted.map(Math.round)}, got ${got}`);
}
function eachPatch(check) {
  for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) check(column, row);
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`layers on ${backend}`, () => {
    const folders = [0, 1].map(() => mkdtempSync(join(tmpdir(), 'ganosis-layers-')));
    const failures = [];
    let site;
    let chromium;
    let page;

    before(async () => {
      for (const folder of folders) writeDossier(folder);
      // In the second the band rises evenly from left to right.
      const side = PATCHES * PATCH_PX;
      writeFileSync(join(folders[1], 'band.png'), png(side, side, 1, (x) => [Math.round((x / (side - 1)) * 255)]));
      site = await serveSite({ patches: folders[0], ramp: folders[1] });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, site.address('patches/'), backend);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      for (const folder of folders) rmSync(folder, { recursive: true, force: true });
    });

    for (const ends of [[0, 1], [0.25, 0.75], [0.75, 0.25]]) {
      test(`a band in grey from ${ends[0]} to ${ends[1]} is as light as its value says`, async () => {
        await setView(page, { ...BASE, layers: { irr: { ...BAND, ends } } });
        const pixels = await snapshot(page, SIZE, SIZE);
        eachPatch((c, r) => {
          const share = (bandOf(c, r) / 255 - ends[0]) / (ends[1] - ends[0]);
          assertColour(pixels, middle(c), middle(r), Array(3).fill(encode(grey(share))), `value ${bandOf(c, r)}`);
        });
      });
    }

    test('a band over colour is mixed by its opacity in linear light, on either side', async () => {
      await setView(page, { ...BASE, left: 'as-found', compare: 'swipe', position: 0.5, angle_deg: 0, over: 'irr', layers: { irr: { ...BAND, opacity: 0.3 } } });
      const pixels = await snapshot(page, SIZE, SIZE);
      eachPatch((c, r) => {
        const light = grey(bandOf(c, r) / 255);
        const colour = colourOf(c < PATCHES / 2 ? 0 : 1, c, r).map((v) => encode(0.7 * decode(v) + 0.3 * light));
        assertColour(pixels, middle(c), middle(r), colour, 'mixed');
      });
    });

    test('a thinner paint lets the bare surface through', async () => {
      await setView(page, { ...BASE, left: 'as-found', layers: { first: { opacity: 0.25 } } });
      const pixels = await snapshot(page, SIZE, SIZE);
      // The bare surface is a grey of 0.6 in linear light.
      eachPatch((c, r) => assertColour(pixels, middle(c), middle(r), colourOf(0, c, r).map((v) => encode(0.25 * decode(v) + 0.75 * 0.6)), 'thin'));
      await setView(page, { layers: {} });
      const whole = await snapshot(page, SIZE, SIZE);
      eachPatch((c, r) => assertColour(whole, middle(c), middle(r), colourOf(0, c, r), 'as recorded'));
    });

    test('lines of one value lie where the band has that value, and steps are eight colours', async () => {
      await openReady(page, site.address('ramp/'), backend);
      await setView(page, { ...BASE, layers: { irr: { ...BAND, lines: 4 } } });
      const pixels = await snapshot(page, SIZE, SIZE);
      const y = Math.round(pixel(0.4));
      const lines = [];
      for (let x = Math.ceil(pixel(0.02)); x < pixel(0.98); x += 1) {
        const share = ((x + 0.5 - SIZE / 2) / SIZE) * SEEN_M + 0.5;
        const off = Math.abs(pixels[4 * (y * SIZE + x)] - encode(grey(share)));
        // Where the codes of eight bits stay the same for a while a line is wider and paler.
        if (off < 8) continue;
        if (lines.length > 0 && x - lines.at(-1).at(-1) <= 1) lines.at(-1).push(x);
        else lines.push([x]);
      }
      const middles = lines.map((run) => run.reduce((sum, x) => sum + x + 0.5, 0) / run.length);
      assert.equal(middles.length, 3, JSON.stringify(lines));
      middles.forEach((x, index) => assert.ok(Math.abs(x - pixel((index + 1) / 4)) < 1.5, `${x} for ${pixel((index + 1) / 4)}`));
      assert.ok(lines.every((run) => run.length <= 5), JSON.stringify(lines));

      await setView(page, { layers: { irr: { ...BAND, map: 'steps' } } });
      const steps = await snapshot(page, SIZE, SIZE);
      const colours = [];
      for (let i = 0; i < 8; i += 1) {
        const at = 4 * (y * SIZE + Math.round(pixel((i + 0.5) / 8)));
        colours.push([...steps.subarray(at, at + 3)].join());
      }
      assert.equal(new Set(colours).size, 8);
      // Within a step the colour stays.
      const [a, b] = [0.03, 0.1].map((share) => 4 * (y * SIZE + Math.round(pixel(share))));
      assert.deepEqual([...steps.subarray(a, a + 3)], [...steps.subarray(b, b + 3)]);
    });

    test('the page of layers sets them by keyboard and by the surface itself, and the address keeps them', async () => {
      await setView(page, BASE);
      const element = page.locator('ganosis-view');
      await element.locator('[data-page="layers"]').click();
      const layer = element.locator('[data-layer="irr"]');
      await layer.getByRole('button', { name: 'Ends from the surface' }).click();
      // The values rise evenly: a hundredth of the surface lies below a hundredth of the range.
      let { layers } = await getView(page);
      assert.ok(Math.abs(layers.irr.ends[0] - 0.01) < 0.02 && Math.abs(layers.irr.ends[1] - 0.99) < 0.02, JSON.stringify(layers));
      await layer.getByRole('slider', { name: 'Upper end' }).focus();
      for (let press = 0; press < 9; press += 1) await page.keyboard.press('ArrowLeft');
      await layer.getByRole('checkbox', { name: 'Inverted' }).check();
      await layer.getByRole('combobox', { name: 'Colours' }).selectOption('diverging');
      ({ layers } = await getView(page));
      assert.ok(Math.abs(layers.irr.ends[0] - 0.9) < 0.02 && layers.irr.ends[1] < layers.irr.ends[0] && layers.irr.map === 'diverging', JSON.stringify(layers));
      assert.match(await element.locator('.end.left .legend').getAttribute('aria-label'), /45.*%/);
      await page.evaluate(() => document.querySelector('ganosis-view').setAttribute('address', 'hash'));
      await setView(page, { over: 'irr', left: 'as-found' });
      await page.waitForFunction(() => location.hash.includes('over=irr'));
      const [hash, before] = [await page.evaluate(() => location.hash), (await getView(page)).layers];
      await setView(page, { over: null, layers: {} });
      await page.waitForFunction(() => !location.hash.includes('over='));
      await page.evaluate((value) => { location.hash = value; }, hash);
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.over === 'irr');
      const back = (await getView(page)).layers;
      assert.ok(before.irr.ends.every((end, index) => Math.abs(end - back.irr.ends[index]) < 1e-5) && back.irr.map === 'diverging', JSON.stringify(back));
      assert.deepEqual(await violations(page), []);
    });

    test('a picture waits for the band that was just chosen, and for no other', async () => {
      const other = await chromium.newPage({ viewport: { width: 1280, height: 800 } });
      other.on('pageerror', (error) => failures.push(error.message));
      let comes;
      const held = new Promise((resolve) => { comes = resolve; });
      await other.route('**/band.png', async (route) => {
        await held;
        await route.continue();
      });
      await openReady(other, site.address('patches/'), backend);
      await setView(other, { ...BASE, left: 'as-found' });
      // None of it is seen, and so nothing is waited for.
      const without = await snapshot(other, SIZE, SIZE);
      eachPatch((c, r) => assertColour(without, middle(c), middle(r), colourOf(0, c, r), 'without the band'));
      let is_made = false;
      const waiting = snapshot(other, SIZE, SIZE, { over: 'irr', layers: { irr: { ...BAND, opacity: 0.3 } } }).then((pixels) => {
        is_made = true;
        return pixels;
      });
      // Long enough for a picture that waits for nothing.
      await other.waitForTimeout(1_500);
      assert.ok(!is_made, 'the picture was made before the band was here');
      comes();
      const pixels = await waiting;
      eachPatch((c, r) => {
        const light = grey(bandOf(c, r) / 255);
        assertColour(pixels, middle(c), middle(r), colourOf(0, c, r).map((v) => encode(0.7 * decode(v) + 0.3 * light)), 'with the band');
      });
      await other.close();
    });

    test('nothing broke on the way', () => assert.deepEqual(failures, []));
  });
}
