// Layers in tiles: the same picture as the whole images, the same values under the probe, and a picture
// whatever becomes of the tiles.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { png, png16, squareGlb } from './fixture.mjs';
import { BACKENDS, browser, onScreen, openReady, probe, seeing, setView, settled, snapshot } from './harness.mjs';
import { colourAt, differing, share } from './pictures.mjs';
import { sendFile, serveSite } from './site.mjs';

/** Of the images: not a multiple of a tile, odd, and three levels above the 512 px that come at once. */
const [ACROSS, DOWN] = [2049, 1301];
const [WIDTH, HEIGHT] = [480, 360];
const FLAT = [181, 62, 43];

/** A number that looks random, the same every time (T. Wang's integer hash, from memory). */
function hash(n) {
  let a = (n ^ 61) ^ (n >>> 16);
  a = Math.imul(a, 9);
  a ^= a >>> 4;
  a = Math.imul(a, 0x27d4eb2d);
  return (a ^ (a >>> 15)) >>> 0;
}

/** Blocks with noise on them: something to see at every distance. */
export function speckled(x, y) {
  const block = hash((x >> 6) + 64 * (y >> 6));
  const noise = hash(x + 4096 * y);
  return [0, 8, 16].map((shift) => Math.min(255, ((block >>> shift) & 191) + ((noise >>> shift) & 63)));
}
const bandAt = (x, y) => (x * 29 + y * 17) % 65536;
const regionAt = (x, y) => 1 + ((x >> 3) + (y >> 3)) % 2;

function write(folder) {
  mkdirSync(folder, { recursive: true });
  const put = (name, bytes) => writeFileSync(join(folder, name), bytes);
  put('flat.png', png(ACROSS, DOWN, 3, () => FLAT));
  put('speckled.png', png(ACROSS, DOWN, 3, speckled));
  put('band.png', png16(ACROSS, DOWN, bandAt));
  put('regions.png', png(ACROSS, DOWN, 1, (x, y) => [regionAt(x, y)]));
  put('square.glb', squareGlb());
  const over = (file) => [{ sheet: 'front', file, width_px: ACROSS, height_px: DOWN }];
  put('dossier.json', JSON.stringify({
    format: 'ganosis-dossier/1', id: 'large', revision: 1, title: 'Large images', languages: ['en'],
    rights: { licence: 'https://creativecommons.org/publicdomain/zero/1.0/', credit: 'Invented' },
    surface: { file: 'square.glb', sheets: [{ id: 'front', material: 'front' }] },
    layers: [
      { id: 'flat-layer', kind: 'colour', title: 'Flat', images: over('flat.png') },
      { id: 'speckled-layer', kind: 'colour', title: 'Speckled', images: over('speckled.png') },
      { id: 'irr', kind: 'band', band: 'IRR', title: 'Infrared', unit: '%', range: [0, 65535], images: over('band.png') },
    ],
    states: [
      { id: 'flat', kind: 'as-found', title: 'Flat', layers: ['flat-layer'] },
      { id: 'speckled', kind: 'evidence-based', title: 'Speckled', layers: ['speckled-layer'] },
    ],
    region_map: { images: over('regions.png') },
    regions: [{ id: 'even', number: 1, title: 'Even' }, { id: 'odd', number: 2, title: 'Odd' }],
  }));
}

/** Waits until the picture is as fine as it gets, and drawn so. */
const fine = (page) => page.evaluate(async () => {
  await document.querySelector('ganosis-view').settled();
  await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
});
const said = (page) => page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.scale-bar .coming')?.textContent ?? '');

const folder = mkdtempSync(join(tmpdir(), 'ganosis-tiles-'));
const [whole, packed] = [join(folder, 'whole'), join(folder, 'packed')];
write(whole);
execFileSync(process.env.GANOSIS, ['pack', whole, '-o', packed], { stdio: ['ignore', 'ignore', 'pipe'] });
/** The coarse levels, which come as other images do. */
const written = JSON.parse(readFileSync(join(packed, 'dossier.json')));
const bases = new Set([...written.layers, written.region_map].flatMap(({ images }) => images.map(({ file }) => file)));
const isTile = (path) => /^tiles\/..\//.test(path) && !bases.has(path);
after(() => rmSync(folder, { recursive: true }));

for (const backend of Object.keys(BACKENDS)) {
  describe(`layers in tiles, ${backend}`, () => {
    let site, chromium, page;
    /** What becomes of a request for a tile: a function that answers, or nothing. */
    let trouble = null;
    const base = { compare: 'one', left: 'speckled', right: 'flat', region: null };

    before(async () => {
      site = await serveSite({
        whole,
        packed: (response, path) => (trouble && isTile(path) ? trouble(response, path) : sendFile(response, packed, path)),
      });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: WIDTH, height: HEIGHT + 130 }, reducedMotion: 'reduce' });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
    });

    async function open(name) {
      await openReady(page, site.address(`${name}/`), backend);
      await settled(page);
    }

    async function picture(view) {
      await setView(page, { ...base, ...view });
      await fine(page);
      return snapshot(page, WIDTH, HEIGHT);
    }

    const views = {
      far: { camera: seeing(4) },
      whole: { camera: seeing(1.1) },
      'one level finer': { camera: seeing(0.5) },
      'texel to pixel': { camera: seeing(0.2) },
      enlarged: { camera: seeing(0.03) },
      aslant: { camera: { ...seeing(0.6), azimuth_deg: 55, elevation_deg: 20 } },
      band: { camera: seeing(0.5), left: 'irr' },
      'a region': { camera: seeing(0.3), region: 'odd' },
    };

    // Levels are made of the same texels in the same way; a device blends two levels in steps of 1/256
    // (Vulkan 1.3, limit mipmapPrecisionBits), and the shader exactly. Neighbours of noise differ by 63.
    test('show what the whole images show, at every distance', { timeout: 240_000 }, async () => {
      const pictures = {};
      for (const name of ['whole', 'packed']) {
        await open(name);
        pictures[name] = {};
        for (const [title, view] of Object.entries(views)) pictures[name][title] = await picture(view);
      }
      for (const title of Object.keys(views)) {
        const away = differing(pictures.whole[title], pictures.packed[title], 2);
        if (process.env.GANOSIS_VERBOSE) console.log(backend, title, [0, 1, 2, 4].map((step) => (100 * differing(pictures.whole[title], pictures.packed[title], step)).toFixed(3)).join(' '));
        assert.ok(away <= 0.002, `${title}: ${(100 * away).toFixed(2)} % differ by more than 2 code values`);
      }
    });

    test('have no seams: a flat colour is flat at every distance and aslant', { timeout: 120_000 }, async () => {
      for (const [title, view] of Object.entries(views).filter(([, { left, region }]) => !left && !region)) {
        const pixels = await picture({ ...view, left: 'flat' });
        const middle = colourAt(pixels, WIDTH, WIDTH / 2, HEIGHT / 2);
        assert.deepEqual(middle, FLAT, title);
        // The surround is neutral; everything else is the square, but for pixels on its edge.
        const object = share(pixels, (r, g, b) => r - g > 40 && r - b > 40);
        const exact = share(pixels, (r, g, b) => Math.abs(r - FLAT[0]) <= 1 && Math.abs(g - FLAT[1]) <= 1 && Math.abs(b - FLAT[2]) <= 1);
        const edge = 4 * (WIDTH + HEIGHT) / (WIDTH * HEIGHT);
        assert.ok(object - exact <= edge, `${title}: ${object} of the picture is the square, ${exact} has its colour`);
      }
    });

    test('give the probe every code value', async () => {
      const camera = seeing(1.1);
      await picture({ camera });
      const canvas = page.locator('ganosis-view');
      const box = await canvas.locator('.stage canvas').boundingBox();
      for (const [u, v] of [[0.31, 0.42], [0.5003, 0.5001], [0.77, 0.69], [0.1251, 0.333]]) {
        const [x, y] = await onScreen(canvas, camera, u - 0.5, 0.5 - v);
        const found = await probe(page, x - box.x, y - box.y);
        const texel = [Math.floor(found.uv[0] * ACROSS), Math.floor(found.uv[1] * DOWN)];
        assert.ok(Math.abs(found.uv[0] - u) < 0.01 && Math.abs(found.uv[1] - v) < 0.01, 'the place meant');
        const srgb = found.colours.find(({ state }) => state === 'speckled').srgb;
        assert.deepEqual(srgb, speckled(...texel), `colour at ${texel}`);
        assert.equal(Math.round(found.bands[0].value), bandAt(...texel), `band at ${texel}`);
        assert.equal(found.region, ['even', 'odd'][regionAt(...texel) - 1], `region at ${texel}`);
        assert.equal(found.coarse, false);
      }
    });

    test('stay a picture without any tile, say so, and refine when they come', { timeout: 120_000 }, async () => {
      trouble = (response) => response.writeHead(503).end();
      await open('packed');
      const coarse = await picture({ camera: seeing(0.5) });
      assert.ok(share(coarse, (r, g, b) => r + g + b < 6) < 0.001, 'nothing is black');
      assert.match(await said(page), /missing/);
      trouble = null;
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.scale-bar .coming')?.textContent === '', null, { timeout: 60_000 });
      await fine(page);
      const refined = await snapshot(page, WIDTH, HEIGHT);
      assert.ok(differing(coarse, refined, 10) > 0.2, 'finer than before');
    });

    test('need no more memory than they are given', { timeout: 120_000 }, async () => {
      await open('packed');
      const straight = await picture(views['one level finer']);
      await page.evaluate(async () => {
        const element = document.querySelector('ganosis-view');
        element.setAttribute('tile-memory', '16');
        element.setAttribute('src', `${element.getAttribute('src')}?again`);
        await element.ready;
      });
      await settled(page);
      // Another view first, whose tiles then make room.
      await picture(views['texel to pixel']);
      const sparing = await picture(views['one level finer']);
      assert.equal(differing(straight, sparing, 1), 0, 'the same picture');
    });

    test('survive every third answer being late, refused, cut off or another', { timeout: 180_000 }, async () => {
      let count = 0;
      trouble = async (response, path) => {
        count += 1;
        const fate = hash(count) % 12;
        const bytes = readFileSync(join(packed, path));
        if (fate === 0) return response.writeHead(500).end();
        if (fate === 1) return response.writeHead(200).end(bytes.subarray(0, bytes.length / 2));
        if (fate === 2) return response.writeHead(200).end(Buffer.from(bytes).fill(7, 20, 60));
        if (fate === 3) await new Promise((done) => { setTimeout(done, 1500); });
        return response.writeHead(200).end(bytes);
      };
      const errors = [];
      page.on('pageerror', (error) => errors.push(error.message));
      await open('packed');
      for (const [i, view] of [views.whole, views['texel to pixel'], views.aslant, views['one level finer']].entries()) {
        await setView(page, { ...base, ...view });
        await page.waitForTimeout(150 * (i + 1));
        const pixels = await snapshot(page, WIDTH, HEIGHT);
        assert.ok(share(pixels, (r, g, b) => r + g + b < 6) < 0.001, 'nothing is black');
      }
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.scale-bar .coming')?.textContent === '', null, { timeout: 90_000 });
      await fine(page);
      const through = await snapshot(page, WIDTH, HEIGHT);
      trouble = null;
      await open('packed');
      const straight = await picture(views['one level finer']);
      // Tiles lie elsewhere in the pool, where places are rounded otherwise.
      assert.equal(differing(through, straight, 1), 0, 'in the end the same picture');
      assert.deepEqual(errors, []);
      assert.ok(count > 10, `${count} tiles were asked for`);
    });
  });
}
