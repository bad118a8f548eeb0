// Standard views, named by the dossier's own up and front: a box whose axes are not those of glTF is looked at from each,
// and what stands in the middle of the picture tells which side it is.
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { BACKENDS, browser, getView, openReady, probe, settled } from './harness.mjs';
import { serveSite } from './site.mjs';
import { boxFaces, writeSolid } from './solids.mjs';

/** Half lengths of the box (m). */
const HALF = [0.3, 0.2, 0.25];
/** Up is +z and the front looks to -y; its right, seen from there, is +x. */
const ORIENTATION = { up: [0, 0, 1], front: [0, -1, 0] };
/** Outward normals of the sides. */
const SIDES = { front: [0, -1, 0], back: [0, 1, 0], left: [-1, 0, 0], right: [1, 0, 0], above: [0, 0, 1], below: [0, 0, -1] };
/** A flat slab lies on the ground. */
const SLAB = [0.3, 0.25, 0.01];

const dot = (a, b) => a.reduce((sum, v, i) => sum + v * b[i], 0);

function write(folder, half) {
  writeSolid(folder, boxFaces(half), [120, 110, 100]);
  const path = join(folder, 'dossier.json');
  const document = JSON.parse(readFileSync(path, 'utf8'));
  writeFileSync(path, JSON.stringify({ ...document, object: { orientation: ORIENTATION } }));
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`looking on ${backend}`, () => {
    const [box_folder, slab_folder] = ['box', 'slab'].map((name) => mkdtempSync(join(tmpdir(), `ganosis-looking-${name}-`)));
    let site;
    let chromium;
    let page;

    before(async () => {
      write(box_folder, HALF);
      write(slab_folder, SLAB);
      site = await serveSite({ box: box_folder, slab: slab_folder });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 1000, height: 760 }, reducedMotion: 'reduce' });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      for (const folder of [box_folder, slab_folder]) rmSync(folder, { recursive: true, force: true });
    });

    const open = async (name) => {
      await openReady(page, site.address(`${name}/`), backend);
      await settled(page);
      await page.locator('ganosis-view [data-page="label"]').click();
    };
    /** Goes there; gives what the middle of the picture shows and where the eye stands, as a direction. */
    const from = async (stand) => {
      await page.locator(`ganosis-view [data-stand="${stand}"]`).click();
      await page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); }));
      const canvas = await page.locator('ganosis-view .stage canvas').boundingBox();
      const { camera } = await getView(page);
      const [a, e] = [camera.azimuth_deg, camera.elevation_deg].map((degrees) => (degrees * Math.PI) / 180);
      const eye = [0, 1, 2].map((i) => Math.cos(e) * (Math.sin(a) * SIDES.right[i] + Math.cos(a) * SIDES.front[i]) + Math.sin(e) * SIDES.above[i]);
      const at = (x, y) => probe(page, canvas.width * x, canvas.height * y);
      return { eye, at, middle: await at(0.5, 0.5) };
    };

    for (const [stand, normal] of Object.entries(SIDES)) {
      test(`${stand} shows the side that the dossier calls so`, async () => {
        if (stand === 'front') await open('box');
        const { middle } = await from(stand);
        const axis = normal.findIndex((v) => v !== 0);
        assert.ok(dot(middle.normal ?? middle.anchor.normal, normal) > 0.999, JSON.stringify(middle.anchor));
        assert.ok(Math.abs(middle.anchor.position_m[axis] - normal[axis] * HALF[axis]) < 1e-4, JSON.stringify(middle.anchor));
      });
    }

    test('one finger or button goes nearer, farther and back to the whole, as WCAG 2.2, 2.5.1 asks beside gestures of two', async () => {
      const canvas = await page.locator('ganosis-view .stage canvas').boundingBox();
      const press = async (step) => {
        const button = page.locator(`ganosis-view [data-step="${step}"]`);
        const box = await button.boundingBox();
        // WCAG 2.2, 2.5.5.
        assert.ok(box.width >= 44 && box.height >= 44, `${step}: ${box.width} x ${box.height}`);
        await button.click();
        return (await getView(page)).camera.distance_m;
      };
      const first = (await getView(page)).camera.distance_m;
      const near = await press('nearer');
      assert.ok(near < 0.9 * first, `${near} of ${first}`);
      assert.ok(Math.abs(await press('farther') - first) < 1e-9);
      await press('nearer');
      // With motion reduced the whole is there at once: all of the box's outline lies within the picture.
      await press('whole');
      for (const [x, y] of [[0.01, 0.5], [0.99, 0.5], [0.5, 0.01], [0.5, 0.99]]) assert.equal(await probe(page, canvas.width * x, canvas.height * y) ?? null, null, `${x}, ${y}`);
      assert.equal((await getView(page)).camera.azimuth_deg, 0);
    });

    test('along the wall grazes the plane behind the object, from the nearer side, and then from the other', async () => {
      // From the right it is the right.
      await from('right');
      for (const side of ['right', 'left', 'right']) {
        const { eye, at } = await from('along');
        assert.ok(Math.abs(Math.asin(dot(eye, SIDES.front)) * 180 / Math.PI - 12) < 1e-6, `out of the plane of the wall: ${eye}`);
        assert.ok(Math.abs(dot(eye, SIDES.above)) < 1e-9, 'level');
        // Both the side and, foreshortened, the front are seen; what is behind is not.
        const seen = [];
        for (let x = 0.2; x <= 0.8; x += 0.01) seen.push((await at(x, 0.5))?.anchor.normal);
        const times = (name) => seen.filter((normal) => normal && dot(normal, SIDES[name]) > 0.99).length;
        assert.ok(times(side) > 3 && times('front') > 0 && times(side) > times('front'), `${side}: ${times(side)}, front: ${times('front')}`);
        for (const other of ['back', side === 'right' ? 'left' : 'right']) assert.equal(times(other), 0, other);
      }
    });

    test('what lies is looked along its ground', async () => {
      await open('slab');
      assert.match(await page.locator('ganosis-view [data-stand="along"]').textContent(), /ground/);
      const first = await from('along');
      assert.ok(Math.abs(Math.asin(dot(first.eye, SIDES.above)) * 180 / Math.PI - 12) < 1e-6, `above the ground: ${first.eye}`);
      const second = await from('along');
      assert.ok(Math.abs(dot(first.eye, SIDES.front) + dot(second.eye, SIDES.front)) < 1e-9, 'then from the other side');
    });
  });
}
