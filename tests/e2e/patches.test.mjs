// The picture against the dossier's own numbers, on both backends.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, bandOf, colourOf, regionOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, getView, openReady, probe, seeing, serve, setView, snapshot, violations } from './harness.mjs';
import { decode, encode } from './pictures.mjs';

const SIZE = 480;
/** Height of the picture at the square, in metres. */
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);

/** Middle of a patch in a square picture. */
const middle = (i, size = SIZE) => (0.5 + ((i + 0.5) / PATCHES - 0.5) / SEEN_M) * size;


function eachPatch(check) {
  for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) check(column, row);
}

function assertPixel(pixels, column, row, wanted, tolerance, what) {
  const at = 4 * (Math.round(middle(row)) * SIZE + Math.round(middle(column)));
  for (let c = 0; c < 3; c += 1) {
    const off = Math.abs(pixels[at + c] - wanted[c]);
    assert.ok(off <= tolerance, `${what}, column ${column}, row ${row}: wanted ${wanted}, got ${[...pixels.subarray(at, at + 3)]}`);
  }
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-e2e-'));
    let site;
    let chromium;
    let page;
    const failures = [];

    before(async () => {
      writeDossier(folder);
      site = await serve(folder);
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 900, height: 700 } });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, site.address, backend);
      // All images, not only the first state's.
      await page.waitForFunction(async () => {
        const hit = await document.querySelector('ganosis-view').probe(300, 250).catch(() => null);
        return hit && hit.colours.length === 2 && hit.bands.length === 1 && hit.region;
      }, null, { timeout: 60_000 }).catch(() => {});
    });

    after(async () => {
      await chromium?.close();
      site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    test('each state alone shows the code values of its file, to one', async () => {
      for (const [index, id] of ['as-found', 'evidence'].entries()) {
        await setView(page, { left: id, right: id, compare: 'one', camera: CAMERA });
        const pixels = await snapshot(page, SIZE, SIZE);
        eachPatch((c, r) => assertPixel(pixels, c, r, colourOf(index, c, r), 1, id));
      }
    });

    test('a turned divider leaves either side its own colours', async () => {
      const angle = 30;
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'swipe', position: 0.45, angle_deg: angle, camera: CAMERA });
      const pixels = await snapshot(page, SIZE, SIZE);
      const normal = [Math.cos((angle * Math.PI) / 180), Math.sin((angle * Math.PI) / 180)];
      const extent = SIZE * (Math.abs(normal[0]) + Math.abs(normal[1]));
      let sides = [0, 0];
      eachPatch((c, r) => {
        const from = [middle(c) - SIZE / 2, middle(r) - SIZE / 2];
        const distance = (from[0] * normal[0] + from[1] * normal[1]) - (0.45 - 0.5) * extent;
        if (Math.abs(distance) < 6) return;
        const side = distance < 0 ? 0 : 1;
        sides[side] += 1;
        assertPixel(pixels, c, r, colourOf(side, c, r), 1, side === 0 ? 'left' : 'right');
      });
      assert.ok(sides[0] > 5 && sides[1] > 5, `both sides were seen: ${sides}`);
    });

    test('a blend is the mean in linear light', async () => {
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'blend', position: 0.3, camera: CAMERA });
      const pixels = await snapshot(page, SIZE, SIZE);
      eachPatch((c, r) => {
        const [a, b] = [colourOf(0, c, r), colourOf(1, c, r)];
        const wanted = a.map((v, i) => Math.round(encode(0.7 * decode(v) + 0.3 * decode(b[i]))));
        assertPixel(pixels, c, r, wanted, 1, 'blend');
      });
    });

    test('the surround is a neutral grey of the lightness asked for', async () => {
      await setView(page, { left: 'as-found', compare: 'one', surround_l: 50, camera: CAMERA });
      const pixels = await snapshot(page, SIZE, SIZE);
      // CIELAB L* 50 is sRGB 119 (CIE 15, IEC 61966-2-1; W3C CSS Color 4: lab(50 0 0) is rgb(118.9 …)).
      assert.deepEqual([...pixels.subarray(0, 4)], [119, 119, 119, 255]);
    });

    test('the probe tells what the dossier says of the place', async () => {
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'swipe', position: 0.5, angle_deg: 0, camera: CAMERA });
      const box = await page.evaluate(() => {
        const canvas = document.querySelector('ganosis-view').shadowRoot.querySelector('canvas');
        return [canvas.clientWidth, canvas.clientHeight];
      });
      const place = (c, r) => [box[0] / 2 + (middle(c, box[1]) - box[1] / 2), middle(r, box[1])];
      for (const [c, r] of [[2, 1], [0, 0], [5, 4]]) {
        const hit = await probe(page, ...place(c, r));
        assert.equal(hit.sheet, 'front');
        assert.equal(hit.region, `column-${regionOf(c)}`);
        assert.deepEqual(hit.claims, c === 2 ? ['c-1'] : []);
        assert.deepEqual(hit.colours.map((x) => [x.state, ...x.srgb]), [['as-found', ...colourOf(0, c, r)], ['evidence', ...colourOf(1, c, r)]]);
        assert.equal(hit.bands[0].unit, '%');
        assert.ok(Math.abs(hit.bands[0].value - (bandOf(c, r) / 255) * 50) < 1e-9, JSON.stringify(hit.bands));
        assert.ok(Math.abs(hit.uv[0] - (c + 0.5) / PATCHES) < 0.01 && Math.abs(hit.uv[1] - (r + 0.5) / PATCHES) < 0.01);
      }
      assert.equal(await probe(page, 2, 2), null);
    });

    test('mouse, keyboard and a click do what they should', async () => {
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'swipe', position: 0.5, angle_deg: 0, camera: CAMERA, region: null, pin: null });
      const canvas = page.locator('ganosis-view canvas').first();
      const box = await canvas.boundingBox();
      const start = await getView(page);
      const drag = async (from, to) => {
        await page.mouse.move(...from);
        await page.mouse.down();
        await page.mouse.move((from[0] + to[0]) / 2, (from[1] + to[1]) / 2, { steps: 3 });
        await page.mouse.move(...to, { steps: 3 });
        await page.mouse.up();
      };
      const y = box.y + box.height * 0.3;
      await drag([box.x + box.width / 2, y], [box.x + box.width * 0.3, y]);
      let view = await getView(page);
      assert.ok(Math.abs(view.position - 0.3) < 0.02, `divider at ${view.position}`);
      assert.deepEqual(view.camera, start.camera);
      await drag([box.x + box.width * 0.6, y], [box.x + box.width * 0.7, y]);
      view = await getView(page);
      assert.notEqual(view.camera.azimuth_deg, start.camera.azimuth_deg);
      await canvas.focus();
      const turned = view.camera.azimuth_deg;
      await page.keyboard.press('ArrowRight');
      view = await getView(page);
      assert.ok(Math.abs(Math.abs(view.camera.azimuth_deg - turned) - 5) < 1e-6, 'an arrow turns by five degrees');
      await page.keyboard.press(']');
      assert.ok((await getView(page)).position > view.position);
      await setView(page, { camera: CAMERA });
      const x = box.x + box.width / 2 + (middle(2, box.height) - box.height / 2);
      await page.mouse.click(x, box.y + middle(1, box.height));
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.region === 'column-3', null, { timeout: 10_000 });
      const text = await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.textContent);
      assert.ok(text.includes('Copper at the spot.'), 'the claim is shown');
    });

    test('a lost device comes back by itself with the same view', async () => {
      await setView(page, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA, region: null, pin: null });
      const view = await getView(page);
      await page.evaluate(() => document.querySelector('ganosis-view').simulateLoss());
      await page.waitForTimeout(1500);
      let pixels;
      for (let i = 0; i < 60; i += 1) {
        pixels = await snapshot(page, SIZE, SIZE).catch(() => null);
        if (pixels && pixels[4 * (Math.round(middle(0)) * SIZE + Math.round(middle(1))) + 1] === colourOf(0, 1, 0)[1]) break;
        await page.waitForTimeout(500);
      }
      assert.ok(pixels, 'a picture can be had again');
      eachPatch((c, r) => assertPixel(pixels, c, r, colourOf(0, c, r), 1, 'after the loss'));
      assert.deepEqual(await getView(page), view);
    });

    test('axe finds nothing to object to', async () => {
      assert.deepEqual(await violations(page), []);
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}

test('the fixture is a dossier that the command finds sound', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-e2e-'));
  writeDossier(folder);
  const { status, stdout } = spawnSync(process.env.GANOSIS, ['check', folder], { encoding: 'utf8' });
  assert.equal(status, 0, stdout);
  rmSync(folder, { recursive: true, force: true });
});
