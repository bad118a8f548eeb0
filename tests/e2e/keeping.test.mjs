// What is kept of a sitting: views, pictures of any size with their margin, sets of frames, and the small pictures of the states.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, getView, openReady, setView, snapshot } from './harness.mjs';
import { serveSite } from './site.mjs';

const SIZE = 480;
const FOV_DEG = 27;
const SEEN_M = 1.2;
const CAMERA = {
  target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, fov_deg: FOV_DEG,
  distance_m: SEEN_M / 2 / Math.tan((FOV_DEG / 2) * (Math.PI / 180)),
};
const BASE = {
  left: 'as-found', right: 'evidence', third: 'evidence', fourth: 'as-found', count: 2, camera: CAMERA, pin: null, region: null,
  compare: 'one', light: { mode: 'as-measured' }, lamp: null, overlay: null, position: 0.5, angle_deg: 0,
};
const SLANTED = { ...CAMERA, azimuth_deg: 33, elevation_deg: 21 };
/** Everything that is told by the place of a pixel, and everything whose edges a border of tiles could move. */
const LOOKS = [
  ['a slanted divider', { compare: 'swipe', position: 0.43, angle_deg: 31, camera: SLANTED }],
  ['four strips', { compare: 'swipe', count: 4, position: 0.3, further: [0.5, 0.7], angle_deg: -12, camera: SLANTED }],
  ['a soft loupe', { compare: 'loupe', loupe: { x: 0.52, y: 0.47, radius: 0.3, softness: 0.4 }, camera: SLANTED }],
  ['patterns and an outline', { overlay: 'certainty', region: 'column-3', left: 'evidence', camera: SLANTED }],
  ['four panes', { compare: 'pair', count: 4, camera: SLANTED }],
  ['three panes', { compare: 'pair', count: 3, camera: SLANTED }],
  ['a mixture', { compare: 'blend', count: 3, shares: [0.5, 0.3, 0.2], camera: SLANTED }],
  ['differences', { compare: 'difference', camera: SLANTED }],
  ['raking light', { light: { mode: 'raking', azimuth_deg: -50, elevation_deg: 25 }, camera: SLANTED }],
];

/** The picture joined from tiles of this size. */
async function joined(page, width, height, tile) {
  const text = await page.evaluate(async ([w, h, tw, th]) => {
    const el = document.querySelector('ganosis-view');
    const all = new Uint8Array(w * h * 4);
    for (let y = 0; y < h; y += th) for (let x = 0; x < w; x += tw) {
      const [columns, rows] = [Math.min(tw, w - x), Math.min(th, h - y)];
      const part = await el.picturePart({ width: w, height: h, x, y, columns, rows });
      for (let row = 0; row < rows; row += 1) all.set(part.subarray(row * columns * 4, (row + 1) * columns * 4), ((y + row) * w + x) * 4);
    }
    let out = '';
    for (let i = 0; i < all.length; i += 8192) out += String.fromCharCode(...all.subarray(i, i + 8192));
    return btoa(out);
  }, [width, height, ...tile]);
  return Buffer.from(text, 'base64');
}
/** Pixels that differ by more than `step` in any channel, and the largest difference. */
function apart(one, other, step = 1) {
  assert.equal(one.length, other.length);
  let [count, most] = [0, 0];
  for (let at = 0; at < one.length; at += 4) {
    const by = Math.max(...[0, 1, 2].map((c) => Math.abs(one[at + c] - other[at + c])));
    most = Math.max(most, by);
    if (by > step) count += 1;
  }
  return { count, most };
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`keeping on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-keeping-'));
    let site;
    let chromium;
    let page;
    const failures = [];

    before(async () => {
      writeDossier(folder);
      const demo = process.env.GANOSIS_DEMO;
      site = await serveSite({ dossier: folder, ...(demo && { demo }) });
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
    const settled = (one) => one.waitForFunction(() => !document.querySelector('ganosis-view').shadowRoot.querySelector('[data-busy]'), null, { timeout: 60_000 });

    for (const [name, look] of LOOKS) {
      test(`tiles joined are the whole picture, to one code value: ${name}`, async () => {
        await setView(page, { ...BASE, ...look });
        const whole = await snapshot(page, 600, 450);
        const { count, most } = apart(whole, await joined(page, 600, 450, [176, 128]));
        assert.equal(count, 0, `${count} pixels differ, by ${most} at most`);
      });
    }

    test('tiles joined are the whole picture of a carved object', { skip: !process.env.GANOSIS_DEMO }, async () => {
      const other = await chromium.newPage({ viewport: { width: 900, height: 700 }, reducedMotion: 'reduce' });
      await openReady(other, site.address('demo/'), backend);
      await settled(other);
      await setView(other, { compare: 'swipe', position: 0.5, angle_deg: 20, overlay: 'certainty', light: { mode: 'raking', azimuth_deg: -60, elevation_deg: 20 } });
      const whole = await snapshot(other, 800, 600);
      const { count, most } = apart(whole, await joined(other, 800, 600, [256, 200]));
      assert.equal(count, 0, `${count} pixels differ, by ${most} at most`);
      await other.close();
    });

    test('nothing went wrong unseen', () => assert.deepEqual(failures, []));
  });
}
