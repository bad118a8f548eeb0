// Placing a photograph: clicks on photograph and object, against the command and against a camera written here from the published formulas.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { png, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, openReady, setView, violations } from './harness.mjs';
import { serveSite } from './site.mjs';

const CAMERA = facing(2.6, 30);
const START = { compare: 'one', left: 'as-found', right: 'evidence', camera: CAMERA, pin: null, region: null };

// The object: a wall, and two slabs that float before it. Corners x, y at a depth z, in metres.
const SLABS = [{ z: 0, x: [-0.5, 0.5], y: [-0.5, 0.5] }, { z: 0.35, x: [-0.2, 0.15], y: [-0.15, 0.2] }, { z: 0.2, x: [0.25, 0.47], y: [-0.45, -0.1] }];
/** A colour for every place, without edges: sines of half a metre. */
const paint = ([x, y, z]) => [128 + 100 * Math.sin(11 * x), 128 + 100 * Math.sin(12 * y + 1), 60 + 400 * z].map((v) => Math.round(Math.max(0, Math.min(255, v))));
const BACKGROUND = [16, 16, 16];

// The camera: a lens after Brown (1966) and Conrady (1919), looking at the middle from the upper right, a little askew.
const LENS = { width_px: 720, height_px: 480, focal_px: [1150, 1150], centre_px: [366, 236], distortion: { k1: -0.18, k2: 0.07, k3: 0, p1: 0.001, p2: -0.0015 } };
const sub = (a, b) => a.map((v, k) => v - b[k]);
const dot = (a, b) => a.reduce((sum, v, k) => sum + v * b[k], 0);
const cross = ([a, b, c], [d, e, f]) => [b * f - c * e, c * d - a * f, a * e - b * d];
const unit = (v) => v.map((one) => one / Math.hypot(...v));
const STAND = [0.55, 0.32, 2.15];
const forward = unit(sub([0, 0, 0.05], STAND));
const right = unit(cross(forward, unit([0.06, 1, 0])));
const ROWS = [right, cross(forward, right), forward];
const distort = ([x, y]) => {
  const { k1, k2, k3, p1, p2 } = LENS.distortion;
  const r2 = x * x + y * y;
  const radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
  return [x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x), y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y];
};
const pixelOf = (place) => {
  const [x, y, z] = ROWS.map((row) => dot(row, sub(place, STAND)));
  return distort([x / z, y / z]).map((v, k) => v * LENS.focal_px[k] + LENS.centre_px[k]);
};
/** The direction that is seen at a pixel, by going back and forth. */
const rayOf = (pixel) => {
  const wanted = pixel.map((v, k) => (v - LENS.centre_px[k]) / LENS.focal_px[k]);
  let at = wanted;
  for (let round = 0; round < 30; round += 1) {
    const there = distort(at);
    at = at.map((v, k) => v + wanted[k] - there[k]);
  }
  return [0, 1, 2].map((k) => ROWS[0][k] * at[0] + ROWS[1][k] * at[1] + ROWS[2][k]);
};
/** The first slab on a ray. */
const hit = (from, way) => SLABS.map(({ z, x, y }) => {
  const t = (z - from[2]) / way[2];
  const place = from.map((v, k) => v + t * way[k]);
  return t > 0 && place[0] >= x[0] && place[0] <= x[1] && place[1] >= y[0] && place[1] <= y[1] ? { t, place } : null;
}).filter(Boolean).sort((a, b) => a.t - b.t)[0]?.place ?? null;
const photograph = () => png(LENS.width_px, LENS.height_px, 3, (x, y) => {
  const place = hit(STAND, rayOf([x + 0.5, y + 0.5]));
  return place ? paint(place) : BACKGROUND;
});

/** The slabs as .glb (glTF 2.0), side by side on the sheet. */
function slabsGlb() {
  const corners = SLABS.flatMap(({ z, x, y }) => [[x[0], y[0], z], [x[1], y[0], z], [x[1], y[1], z], [x[0], y[1], z]]);
  const uvs = SLABS.flatMap((_, k) => [[k / 3 + 0.01, 0.99], [(k + 1) / 3 - 0.01, 0.99], [(k + 1) / 3 - 0.01, 0.01], [k / 3 + 0.01, 0.01]]);
  const floats = new Float32Array([...corners.flat(), ...corners.flatMap(() => [0, 0, 1]), ...uvs.flat()]);
  const indices = new Uint16Array(SLABS.flatMap((_, k) => [0, 1, 2, 0, 2, 3].map((i) => i + 4 * k)));
  const bin = Buffer.concat([Buffer.from(floats.buffer), Buffer.from(indices.buffer)]);
  const n = corners.length;
  const view = (byteOffset, byteLength) => ({ buffer: 0, byteOffset, byteLength });
  const json = {
    asset: { version: '2.0' }, scene: 0, scenes: [{ nodes: [0] }], nodes: [{ mesh: 0, name: 'slabs' }],
    meshes: [{ primitives: [{ attributes: { POSITION: 0, NORMAL: 1, TEXCOORD_0: 2 }, indices: 3, material: 0 }] }],
    materials: [{ name: 'front' }], buffers: [{ byteLength: bin.length }],
    bufferViews: [view(0, 12 * n), view(12 * n, 12 * n), view(24 * n, 8 * n), view(32 * n, 2 * indices.length)],
    accessors: [
      { bufferView: 0, componentType: 5126, count: n, type: 'VEC3', min: [-0.5, -0.5, 0], max: [0.5, 0.5, 0.35] },
      { bufferView: 1, componentType: 5126, count: n, type: 'VEC3' }, { bufferView: 2, componentType: 5126, count: n, type: 'VEC2' },
      { bufferView: 3, componentType: 5123, count: indices.length, type: 'SCALAR' },
    ],
  };
  const pad = (buffer, by) => Buffer.concat([buffer, Buffer.alloc((4 - (buffer.length % 4)) % 4, by)]);
  const [body, data] = [pad(Buffer.from(JSON.stringify(json)), 32), pad(bin, 0)];
  const head = Buffer.alloc(12);
  head.write('glTF', 0, 'latin1');
  head.writeUInt32LE(2, 4);
  head.writeUInt32LE(28 + body.length + data.length, 8);
  const chunk = (length, type) => { const out = Buffer.alloc(8); out.writeUInt32LE(length, 0); out.writeUInt32LE(type, 4); return out; };
  return Buffer.concat([head, chunk(body.length, 0x4e4f534a), body, chunk(data.length, 0x004e4942), data]);
}

/** A layer of blocks in greys that nobody chose, which go over the sheet; and where a place lies on it. */
const SHEET_PX = 384;
const block = (x, y) => 40 + (Math.imul(Math.floor(x / 6) * 73 + Math.floor(y / 6) * 1619, 2654435761) >>> 24) * 0.7;
const onSheet = ([x, y, z]) => {
  const k = SLABS.findIndex((slab) => Math.abs(slab.z - z) < 1e-6);
  const [left, low, width, height] = [SLABS[k].x[0], SLABS[k].y[0], SLABS[k].x[1] - SLABS[k].x[0], SLABS[k].y[1] - SLABS[k].y[0]];
  return [(k / 3 + 0.01 + ((x - left) / width) * (1 / 3 - 0.02)) * SHEET_PX, (0.99 - ((y - low) / height) * 0.98) * SHEET_PX];
};
/** The same camera in a band in which light is dark. */
const otherBand = () => png(LENS.width_px, LENS.height_px, 1, (x, y) => {
  const rays = [[0.25, 0.25], [0.75, 0.25], [0.25, 0.75], [0.75, 0.75]].map(([u, v]) => hit(STAND, rayOf([x + u, y + v])));
  return [Math.round(rays.reduce((sum, place) => sum + (place ? 250 - 0.6 * block(...onSheet(place)) : 20), 0) / 4)];
});

/** All over the object and in depth. */
const POINTS = [[-0.45, -0.4, 0], [0.4, 0.42, 0], [-0.4, 0.4, 0], [0.05, -0.4, 0], [-0.15, 0.15, 0.35], [0.1, -0.1, 0.35], [-0.12, -0.1, 0.35], [0.3, -0.15, 0.2], [0.42, -0.4, 0.2], [0.45, 0.1, 0]];

for (const backend of Object.keys(BACKENDS)) {
  describe(`placing a photograph on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-photographs-'));
    const taken = { name: 'slabs.png', mimeType: 'image/png', buffer: photograph() };
    const lens = { name: 'lens.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(LENS)) };
    let site;
    let chromium;
    const failures = [];

    before(async () => {
      writeDossier(folder);
      writeFileSync(join(folder, 'square.glb'), slabsGlb());
      writeFileSync(join(folder, taken.name), taken.buffer);
      writeFileSync(join(folder, lens.name), lens.buffer);
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    /** The page with the photograph chosen. */
    const opened = async (context = {}, src = 'dossier/', photo = taken) => {
      const room = await chromium.newContext({ viewport: { width: 1600, height: 900 }, reducedMotion: 'reduce', acceptDownloads: true, ...context });
      const page = await room.newPage();
      page.on('pageerror', (error) => failures.push(error.message));
      const [folder_of, ask = ''] = src.split('#');
      await openReady(page, site.address(folder_of) + (ask && `#${ask}`), backend);
      await setView(page, START);
      const view = page.locator('ganosis-view');
      await view.locator('[data-page="measure"]').click();
      await view.locator('[data-photographs]').click();
      await view.locator('.photographs input[type="file"]').first().setInputFiles(photo);
      await view.locator('.photo-canvas').waitFor();
      await setView(page, {});
      return { page, view };
    };
    const stageBox = (view) => view.locator('.stage > canvas').first().boundingBox();
    /** Where a place lies on the screen, by the pinhole that the viewer's camera is. */
    const onScreen = async (view, [x, y, z], box) => {
      box ??= await stageBox(view);
      const scale = box.height / (2 * (CAMERA.distance_m - z) * Math.tan((CAMERA.fov_deg * Math.PI) / 360));
      return [box.x + box.width / 2 + x * scale, box.y + box.height / 2 - y * scale];
    };
    /** Where a pixel lies on the pane while the whole photograph is shown. */
    const onPane = async (view, [x, y]) => {
      await view.locator('.photo-canvas').scrollIntoViewIfNeeded();
      const box = await view.locator('.photo-canvas').boundingBox();
      const inner = { x: box.x + 1, y: box.y + 1, width: box.width - 2, height: box.height - 2 };
      const scale = Math.min(inner.width / LENS.width_px, inner.height / LENS.height_px);
      return [inner.x + inner.width / 2 + (x - LENS.width_px / 2) * scale, inner.y + inner.height / 2 + (y - LENS.height_px / 2) * scale];
    };
    /** Sets points, in either order by turns. */
    const set = async (page, view, places, wrong = {}) => {
      for (const [index, place] of places.entries()) {
        const [u, v] = pixelOf(place);
        const clicks = [() => onPane(view, [u + (wrong[index] ?? 0), v]), () => onScreen(view, place)];
        if (index % 2 === 1) clicks.reverse();
        for (const at of clicks) {
          const [x, y] = await at();
          await page.mouse.click(x, y);
        }
        await view.locator(`[data-pair="${index + 1}"]`).waitFor();
      }
    };
    const solved = (view) => view.locator('[data-sum="rms"]').waitFor({ timeout: 60_000 });
    const saved = async (page, view, what) => {
      const waiting = page.waitForEvent('download');
      await view.locator(`[data-save="${what}"]`).click();
      return readFileSync(await (await waiting).path(), 'utf8');
    };
    const command = (...more) => {
      const out = join(folder, `out-${backend}.json`);
      try {
        execFileSync(process.env.GANOSIS, ['pose', join(folder, taken.name), '--surface', join(folder, 'square.glb'), '--force', '-o', out, ...more], { stdio: 'pipe' });
      } catch (error) {
        // 1 says that something is weak.
        if (error.status !== 1) throw error;
      }
      return JSON.parse(readFileSync(out, 'utf8'));
    };
    /** The colours of the screen at places of it; the browser itself reads its picture. */
    const colours = async (page, places) => page.evaluate(async ([text, all]) => {
      const bytes = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
      const bitmap = await createImageBitmap(new Blob([bytes], { type: 'image/png' }), { colorSpaceConversion: 'none' });
      const context = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
      context.drawImage(bitmap, 0, 0);
      return all.map(([x, y]) => [...context.getImageData(Math.floor(x), Math.floor(y), 1, 1).data].slice(0, 3));
    }, [(await page.screenshot()).toString('base64'), places]);
    const frames = (page) => page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(done))); }));

    test('clicks give what the command gives of the same points, and the wrong one is named', async () => {
      const { page, view } = await opened();
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles(lens);
      await view.locator('.photographs', { hasText: 'Lens known, from lens.json' }).waitFor();
      await set(page, view, POINTS, { 3: 60 });
      await solved(view);
      await view.locator('[data-pair="4"][data-wrong]').waitFor();
      assert.equal(await view.locator('[data-wrong]').count(), 1);
      assert.match(await view.locator('[data-weak="wrong-pairs"]').innerText(), /: 4\./);
      const points = await saved(page, view, 'points');
      const pose = JSON.parse(await saved(page, view, 'poses'));
      writeFileSync(join(folder, `points-${backend}.csv`), points);
      const wanted = command('--points', join(folder, `points-${backend}.csv`), '--lens', join(folder, lens.name));
      assert.equal(pose.format, wanted.format);
      // The same code on the same numbers; only the last digits of functions of the platform may differ.
      pose.photos[0].pose.rotation.flat().forEach((v, k) => assert.ok(Math.abs(v - wanted.photos[0].pose.rotation.flat()[k]) < 1e-9));
      pose.photos[0].pose.translation_m.forEach((v, k) => assert.ok(Math.abs(v - wanted.photos[0].pose.translation_m[k]) < 1e-9));
      assert.equal(pose.photos[0].photo.sha256, wanted.photos[0].photo.sha256);
      // And it is the camera: at a pixel of the pane a click is off by half a pixel of the photograph.
      const { rotation, translation_m } = pose.photos[0].pose;
      const stand = [0, 1, 2].map((k) => -rotation.reduce((sum, row, at) => sum + row[k] * translation_m[at], 0));
      assert.ok(Math.hypot(...sub(stand, STAND)) < 0.01, String(stand));

      // Taken away, it is no longer missed: nothing is wrong any more.
      await view.locator('[data-pair="4"] .quiet').click();
      await view.locator('[data-wrong]').waitFor({ state: 'detached' });
      assert.deepEqual(await violations(page), []);
      await page.context().close();
    });

    test('without a lens the focal length is found as the command finds it', async () => {
      const { page, view } = await opened();
      await set(page, view, POINTS);
      await solved(view);
      writeFileSync(join(folder, `points-${backend}.csv`), await saved(page, view, 'points'));
      const pose = JSON.parse(await saved(page, view, 'poses'));
      const wanted = command('--points', join(folder, `points-${backend}.csv`));
      const [got, is] = [pose, wanted].map(({ photos: [{ lens: one }] }) => one.focal_px[0]);
      assert.ok(Math.abs(got - is) < 1e-6 * is, `${got} ${is}`);
      await page.context().close();
    });

    test('the photograph lies over the surface where the camera saw it, and nowhere else', async () => {
      const { page, view } = await opened();
      // The pose as it is, so that what is off is the projection alone.
      const truth = { format: 'ganosis-poses/1', photos: [{ photo: { file: taken.name, sha256: '' }, lens: LENS, pose: { rotation: ROWS, translation_m: ROWS.map((row) => -dot(row, STAND)) } }] };
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'truth.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(truth)) });
      await view.locator('[data-shows="photo"]').waitFor();
      await view.locator('[data-shows="frustum"]').uncheck();
      // Nothing of the page's own stands over the picture.
      await view.locator('[data-set][aria-pressed="true"]').click();
      const opacity = view.locator('.photographs input[type="range"]');
      await opacity.fill('1');
      await view.locator('.lantern:not([hidden])').waitFor({ state: 'attached' });
      await setView(page, {});
      await frames(page);
      // A grid over wall and slabs; what lies within 12 mm of an edge of a slab, on the screen or in the photograph, is left out.
      const places = [];
      for (let i = -12; i <= 12; i += 1) for (let j = -12; j <= 12; j += 1) for (const { z } of SLABS) places.push([i * 0.04, j * 0.04, z]);
      const eye = [0, 0, CAMERA.distance_m];
      const near = (from, place) => [[0, 0], [0.012, 0], [-0.012, 0], [0, 0.012], [0, -0.012]].map(([dx, dy]) => {
        const to = [place[0] + dx, place[1] + dy, place[2]];
        const first = hit(from, sub(to, from));
        return first !== null && Math.hypot(...sub(first, to)) < 1e-6;
      });
      const clear = places.filter((place) => near(eye, place).every(Boolean));
      const inPicture = (place, by) => pixelOf(place).every((v, k) => v > by && v < [LENS.width_px, LENS.height_px][k] - by);
      const seen = clear.filter((place) => inPicture(place, 3) && near(STAND, place).every(Boolean));
      const hidden = clear.filter((place) => !inPicture(place, -3) || !near(STAND, place).some(Boolean));
      assert.ok(seen.length > 150 && hidden.length > 15, `${seen.length} ${hidden.length}`);
      const box = await stageBox(view);
      const at = await Promise.all([...seen, ...hidden].map((place) => onScreen(view, place, box)));
      const lit = await colours(page, at);
      await view.locator('[data-shows="photo"]').uncheck();
      await frames(page);
      const bare = await colours(page, at);
      const off = (a, b) => Math.max(...a.map((v, k) => Math.abs(v - b[k])));
      // A pixel of the screen is 1.6 mm, over which the paint changes by 2 codes; the photograph's own are 2 mm, rounded.
      const far = seen.map((place, k) => ({ place, off: off(lit[k], paint(place)) })).filter((one) => one.off > 6);
      assert.deepEqual(far, []);
      hidden.forEach((place, k) => assert.deepEqual(lit[seen.length + k], bare[seen.length + k], String(place)));
      await page.context().close();
    });

    test('through its lens the whole photograph is seen, straightened', async () => {
      const { page, view } = await opened();
      const truth = { format: 'ganosis-poses/1', photos: [{ photo: { file: taken.name, sha256: '' }, lens: LENS, pose: { rotation: ROWS, translation_m: ROWS.map((row) => -dot(row, STAND)) } }] };
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'truth.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(truth)) });
      await view.locator('[data-through]').first().click();
      await view.locator('.lantern[data-through]').waitFor({ state: 'attached', timeout: 10_000 });
      await view.locator('.photographs input[type="range"]').fill('1');
      await view.locator('[data-shows="frustum"]').uncheck();
      await frames(page);
      const { camera } = await page.evaluate(() => document.querySelector('ganosis-view').view);
      const [azimuth, elevation] = [camera.azimuth_deg, camera.elevation_deg].map((deg) => (deg * Math.PI) / 180);
      const backward = [Math.sin(azimuth) * Math.cos(elevation), Math.sin(elevation), Math.cos(azimuth) * Math.cos(elevation)];
      const eye = camera.target_m.map((v, k) => v + backward[k] * camera.distance_m);
      assert.ok(Math.hypot(...sub(eye, STAND)) < 1e-6, String(eye));
      const across = unit(cross([0, 1, 0], backward));
      const upward = cross(backward, across);
      const box = await stageBox(view);
      const scale = box.height / 2 / Math.tan((camera.fov_deg * Math.PI) / 360);
      const onLook = (way) => { const depth = -dot(way, backward); return [box.x + box.width / 2 + (dot(way, across) / depth) * scale, box.y + box.height / 2 - (dot(way, upward) / depth) * scale]; };
      const pixels = [];
      for (let x = 30; x < LENS.width_px; x += 60) for (let y = 30; y < LENS.height_px; y += 60) pixels.push([x + 0.5, y + 0.5]);
      // Away from edges: the same slab, or none, 6 px around.
      const z = (pixel) => hit(STAND, rayOf(pixel))?.[2] ?? null;
      const even = pixels.filter(([x, y]) => new Set([[0, 0], [6, 0], [-6, 0], [0, 6], [0, -6]].map(([dx, dy]) => z([x + dx, y + dy]))).size === 1);
      assert.ok(even.length > 40, `${even.length}`);
      const places = even.map((pixel) => onLook(rayOf(pixel)));
      // All of the photograph is in the picture.
      for (const corner of [[0, 0], [LENS.width_px, 0], [0, LENS.height_px], [LENS.width_px, LENS.height_px]]) {
        const [x, y] = onLook(rayOf(corner));
        assert.ok(x > box.x && x < box.x + box.width && y > box.y && y < box.y + box.height, `${corner}: ${x} ${y}`);
      }
      const lit = await colours(page, places);
      const wanted = even.map((pixel) => { const place = hit(STAND, rayOf(pixel)); return place ? paint(place) : BACKGROUND; });
      const worst = Math.max(...lit.map((got, k) => Math.max(...got.map((v, c) => Math.abs(v - wanted[k][c])))));
      // Within a pixel of the photograph, over which the paint changes by 3 codes.
      assert.ok(worst <= 6, `${worst}`);
      await page.context().close();
    });

    test('a pose that is nearly right is brought into agreement with a layer, though the band is another', async () => {
      const own = mkdtempSync(join(tmpdir(), 'ganosis-by-layer-'));
      writeDossier(own);
      writeFileSync(join(own, 'square.glb'), slabsGlb());
      writeFileSync(join(own, 'state-0.png'), png(SHEET_PX, SHEET_PX, 3, (x, y) => new Array(3).fill(Math.round(block(x, y)))));
      site.mounts.blocks = own;
      const { page, view } = await opened({}, 'blocks/', { name: 'band.png', mimeType: 'image/png', buffer: otherBand() });
      // Knocked about: turned about its own axes, and shifted.
      const [a, b, c] = [0.008, -0.006, 0.01];
      const turn = [[1, -c, b], [c, 1, -a], [-b, a, 1]];
      const rows = turn.map((row) => [0, 1, 2].map((k) => row.reduce((sum, v, j) => sum + v * ROWS[j][k], 0)));
      const first = unit(rows[0]);
      const second = unit(sub(rows[1], first.map((v) => v * dot(first, rows[1]))));
      const rotation = [first, second, cross(first, second)];
      const start = { rotation, translation_m: rotation.map((row, k) => -dot(row, STAND) + [0.004, -0.003, 0.01][k]) };
      const off = (pose) => {
        const misses = POINTS.map((place) => {
          const [x, y, z] = pose.rotation.map((row, k) => dot(row, place) + pose.translation_m[k]);
          return Math.hypot(...sub(distort([x / z, y / z]).map((v, k) => v * LENS.focal_px[k] + LENS.centre_px[k]), pixelOf(place)));
        });
        return Math.sqrt(misses.reduce((sum, v) => sum + v * v, 0) / misses.length);
      };
      assert.ok(off(start) > 5, `${off(start)}`);
      const poses = { format: 'ganosis-poses/1', photos: [{ photo: { file: 'band.png', sha256: '' }, lens: LENS, pose: start }] };
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'start.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(poses)) });
      await view.locator('[data-agree]').click();
      await view.locator('.agreed', { hasText: /Agrees with First|Refused/ }).waitFor({ timeout: 240_000 });
      const told = await view.locator('.agreed').innerText();
      const found = JSON.parse(await saved(page, view, 'poses')).photos[0].pose;
      assert.ok(off(found) < 0.2, `${off(found)}: ${told}`);
      // It says how far it moved: as far as it was off.
      const moved = Number(/moved by ([\d.]+) px/.exec(told)[1]);
      assert.ok(Math.abs(moved - off(start)) < 0.2 * off(start), `${told}, ${off(start)}`);
      await page.context().close();
      rmSync(own, { recursive: true, force: true });
    });

    test('a point by keyboard alone, and by a finger that rests', async () => {
      const { page, view } = await opened({ hasTouch: true });
      await view.locator('.photo-canvas').focus();
      for (const key of ['Enter', 'ArrowRight', 'Shift+ArrowDown', 'Enter']) await page.keyboard.press(key);
      // From the middle 2 px to the right and 20 down, in pixels of the photograph.
      const box = await view.locator('.photo-canvas').boundingBox();
      const scale = Math.min((box.width - 2) / LENS.width_px, (box.height - 2) / LENS.height_px);
      const told = await view.locator('.photo-pane [role="status"]').innerText();
      const [x, y] = told.match(/[\d.]+/g).map(Number);
      assert.ok(Math.abs(x - LENS.width_px / 2 - 2 / scale) < 0.1 && Math.abs(y - LENS.height_px / 2 - 20 / scale) < 0.1, told);
      await view.locator('.asked', { hasText: 'now click it on the object' }).waitFor();
      await view.locator('[data-set]').focus();
      await page.keyboard.press('Enter');
      await page.keyboard.press('Enter');
      await view.locator('.crosshair').focus();
      await page.keyboard.press('Enter');
      await view.locator('[data-pair="1"]').waitFor();

      const session = await page.context().newCDPSession(page);
      const [u, v] = [box.x + box.width / 2 - 40, box.y + box.height / 2];
      await session.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [{ x: u, y: v }] });
      await page.waitForTimeout(400);
      await session.send('Input.dispatchTouchEvent', { type: 'touchMove', touchPoints: [{ x: u + 10, y: v - 5 }] });
      await session.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] });
      const after_touch = (await view.locator('.photo-pane [role="status"]').innerText()).match(/[\d.]+/g).map(Number);
      assert.ok(Math.abs(after_touch[0] - LENS.width_px / 2 + 30 / scale) < 1.5, String(after_touch));
      await page.context().close();
    });

    test('one after another is placed, each keeps its points, and a pose enters the dossier as one step', async () => {
      const { page, view } = await opened({}, 'dossier/#edit');
      const truth = (file) => ({ format: 'ganosis-poses/1', photos: [{ photo: { file, sha256: '' }, lens: LENS, pose: { rotation: ROWS, translation_m: ROWS.map((row) => -dot(row, STAND)) } }] });
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles(lens);
      await set(page, view, POINTS);
      await solved(view);
      const residuals = await view.locator('[data-sum="rms"] dd').innerText();
      await view.locator('.photographs input[type="file"]').first().setInputFiles({ name: 'band.png', mimeType: 'image/png', buffer: otherBand() });
      await view.locator('.tray [data-taken="1"] [aria-pressed="true"]').waitFor();
      // The second has no points, and the same lens, since it is of the same size.
      assert.equal(await view.locator('[data-pair]').count(), 0);
      await view.locator('.photographs', { hasText: 'Lens known, from lens.json' }).waitFor();
      await view.locator('.tray [data-taken="1"]', { hasText: '0 points, not placed' }).waitFor();
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'truth.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(truth('band.png'))) });
      await view.locator('.tray [data-taken="1"]', { hasText: 'read from a file' }).waitFor();
      // Both poses in one file, as draping takes them.
      const both = JSON.parse(await saved(page, view, 'all'));
      assert.deepEqual(both.photos.map(({ photo }) => photo.file), [taken.name, 'band.png']);
      // Back at the first: its points, and what was found.
      await view.locator('.tray [data-taken="0"] .row').click();
      await view.locator(`[data-pair="${POINTS.length}"]`).waitFor();
      assert.equal(await view.locator('[data-sum="rms"] dd').innerText(), residuals);

      await view.locator('[data-save="dossier"]').click();
      await view.locator('.edit-bar').waitFor();
      const undo = view.locator('[data-do="undo"]');
      await page.waitForFunction((name) => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-do="undo"]').getAttribute('aria-label').includes(`observation ${name} added`), taken.name);
      // Saved where no server takes it, it is a zip, with both files under their names (APPNOTE 4.3.7).
      const waiting = page.waitForEvent('download');
      await view.locator('[data-do="save"]').click();
      const zip = readFileSync(await (await waiting).path()).toString('latin1');
      for (const name of ['slabs-pose.json', 'slabs-points.csv']) assert.ok(zip.includes(name), name);
      // The page goes on where it was, and the step can be taken back.
      assert.equal(await view.locator('[data-pair]').count(), POINTS.length);
      assert.deepEqual(await violations(page), []);
      await undo.click();
      await page.waitForFunction((name) => !document.querySelector('ganosis-view').shadowRoot.querySelector('[data-do="undo"]').getAttribute('aria-label').includes(name), taken.name);
      // What is kept as a picture lacks the photograph, and that is said.
      await view.locator('[data-page="portfolio"]').click();
      await view.locator('.remark', { hasText: taken.name }).waitFor();
      await page.context().close();
    });

    test('shown whole it stays whole in a window of another size, and the room stays in its place', async () => {
      const { page, view } = await opened();
      const { width_px, height_px } = LENS;
      // Near a corner, where only a photograph that is whole has it.
      for (const [width, height, u, v] of [[360, 740, 20, height_px - 20], [1600, 900, width_px - 20, 20]]) {
        await page.setViewportSize({ width, height });
        await frames(page);
        await page.mouse.click(...await onPane(view, [u, v]));
        // A pixel of the window is several of the photograph.
        await page.waitForFunction(([x, y]) => {
          const note = document.querySelector('ganosis-view').shadowRoot.querySelector('.photo-pane .note');
          const [a, b] = (note.textContent.match(/[\d.]+/g) ?? []).map(Number);
          return Math.hypot(a - x, b - y) < 4;
        }, [u, v]);
        assert.equal(await page.evaluate(() => {
          const room = document.querySelector('ganosis-view').shadowRoot.querySelector('.room');
          room.scrollTop = 300;
          return room.scrollTop;
        }), 0);
      }
      await page.context().close();
    });

    test('what is no photograph, and what is no table, is said', async () => {
      const { page, view } = await opened();
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'odd.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\n1,2\n') });
      await view.locator('.asked', { hasText: 'no column x_px' }).waitFor();
      await view.locator('.photographs input[type="file"]').nth(1).setInputFiles({ name: 'lens.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify({ ...LENS, width_px: 700 })) });
      await view.locator('.asked', { hasText: '700 × 480 px' }).waitFor();
      await view.locator('.photographs input[type="file"]').first().setInputFiles({ name: 'torn.tif', mimeType: 'image/tiff', buffer: Buffer.from('II*\0torn') });
      await view.locator('.asked', { hasText: 'cannot be read' }).waitFor();
      await page.context().close();
    });

    test('nothing failed on the way', () => assert.deepEqual(failures, []));
  });
}
