// Patterns over the surface and in the legend, seen in grey and with deficient colour vision: each must
// stay apart from every other and from bare paint, on paints from black to white and in strong colours.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, writeDossier } from './fixture.mjs';
import { browser, openReady, snapshot } from './harness.mjs';
import { serveSite } from './site.mjs';
import { SIMULATIONS, contrast, likeness, seen } from './vision.mjs';

/** One technique of each kind that the overlay tells apart, in the order of its legend. */
const TECHNIQUES = ['xrf', 'raman', 'micrograph', 'colorimetry', 'uvl', 'document'];
const SIZE = 1200;
/** A square of so many pixels within a patch: several times what the widest pattern repeats by. */
const SIDE = 48;
/** As WCAG 2.2, 1.4.11, asks of graphics that tell something; bare paint must stay well below. */
const LEAST_CONTRAST = 2;
/** A texture is at least so like itself on another paint, and at most so like any other. */
const [SAME, OTHER] = [0.8, 0.72];

describe('legibility of patterns', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-legibility-'));
  let site;
  let chromium;

  before(async () => {
    const document = writeDossier(folder);
    document.evidence = TECHNIQUES.map((technique, index) => ({ id: `e${index}`, technique, title: technique, date: '2025-01-01' }));
    document.claims = TECHNIQUES.map((_, index) => ({ id: `c${index}`, regions: [`column-${index + 1}`], states: ['as-found', 'evidence'], certainty: 'observed', evidence: [`e${index}`] }));
    document.pins = [];
    writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
    site = await serveSite({ dossier: folder });
    chromium = await browser('webgl2');
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  /** The state's patches with a pattern a column, or bare: `[column][row]` as luminance. */
  async function patches(page, left, overlay, rows) {
    await page.evaluate(async (view) => {
      document.querySelector('ganosis-view').view = view;
      await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
    }, { left, compare: 'one', overlay, camera: { target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, fov_deg: 27, distance_m: 0.5 / Math.tan((13.5 * Math.PI) / 180) } });
    const pixels = await snapshot(page, SIZE, SIZE);
    const step = SIZE / PATCHES;
    return Array.from({ length: PATCHES }, (_, column) => Array.from({ length: PATCHES }, (__, row) =>
      seen(pixels, SIZE, { x: Math.round((column + 0.5) * step - SIDE / 2), y: Math.round((row + 0.5) * step - SIDE / 2), width: SIDE, height: SIDE }, rows)));
  }

  test('over the surface', async () => {
    const page = await chromium.newPage({ viewport: { width: 1280, height: 1280 }, reducedMotion: 'reduce' });
    await openReady(page, site.address('dossier/'), 'webgl2');
    for (const [vision, rows] of Object.entries(SIMULATIONS)) {
      for (const state of ['as-found', 'evidence']) {
        const bare = await patches(page, state, null, rows);
        const patterned = await patches(page, state, 'technique', rows);
        const most_bare = Math.max(...bare.flat().map(contrast));
        assert.ok(most_bare < 1.05, `${vision}: bare paint has a texture of its own (${most_bare})`);
        for (const [column, all] of patterned.entries()) {
          for (const [row, patch] of all.entries()) {
            const found = contrast(patch);
            assert.ok(found >= LEAST_CONTRAST, `${vision}, ${state}: ${TECHNIQUES[column]} on patch ${row} has a contrast of ${found.toFixed(2)}`);
          }
          // Contrast is looked at on every paint, likeness on two of each: it takes long.
          if (state !== 'as-found') continue;
          const [first, ...others] = all;
          const same = Math.min(...others.map((other) => likeness(first, other)));
          assert.ok(same >= SAME, `${vision}: ${TECHNIQUES[column]} is like itself by ${same.toFixed(2)} only`);
          for (const [another, there] of patterned.entries()) {
            if (another === column) continue;
            for (const patch of all.slice(0, 2)) for (const other of there.slice(0, 2)) {
              const found = likeness(patch, other);
              assert.ok(found <= OTHER, `${vision}: ${TECHNIQUES[column]} is like ${TECHNIQUES[another]} by ${found.toFixed(2)}`);
            }
          }
        }
      }
    }
    await page.close();
  });

  for (const colorScheme of ['light', 'dark']) {
    test(`in the legend, ${colorScheme}`, async () => {
      const page = await chromium.newPage({ viewport: { width: 1280, height: 900 }, colorScheme, deviceScaleFactor: 2 });
      await openReady(page, site.address('dossier/'), 'webgl2');
      const view = page.locator('ganosis-view');
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { overlay: 'technique', compare: 'one' }; });
      await view.locator('[data-page="grounds"]').click();
      const swatches = view.locator('.overlay-legend .pattern');
      await swatches.nth(TECHNIQUES.length - 1).waitFor();
      const pictures = [];
      for (const swatch of await swatches.all()) pictures.push(await swatch.screenshot());
      for (const [vision, rows] of Object.entries(SIMULATIONS)) {
        const textures = [];
        for (const picture of pictures) {
          const { pixels, width } = await page.evaluate(async (bytes) => {
            const bitmap = await createImageBitmap(new Blob([Uint8Array.from(atob(bytes), (letter) => letter.charCodeAt(0))]));
            const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
            context.drawImage(bitmap, 0, 0);
            return { pixels: [...context.getImageData(0, 0, bitmap.width, bitmap.height).data], width: bitmap.width };
          }, picture.toString('base64'));
          textures.push(seen(pixels, width, { x: 6, y: 5, width: 76, height: 30 }, rows));
        }
        for (const [index, texture] of textures.entries()) {
          assert.ok(contrast(texture) >= 3, `${vision}: ${TECHNIQUES[index]} has a contrast of ${contrast(texture).toFixed(2)}`);
          for (const [another, other] of textures.entries()) {
            if (another === index) continue;
            const found = likeness(texture, other);
            assert.ok(found <= OTHER, `${vision}: ${TECHNIQUES[index]} is like ${TECHNIQUES[another]} by ${found.toFixed(2)}`);
          }
        }
      }
      await page.close();
    });
  }
});
