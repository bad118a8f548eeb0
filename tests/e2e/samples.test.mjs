// Real files that nobody here made: meshes, files wrong on purpose and damaged images, opened one after
// another by one element. What is expected comes from the tables beside them (glTF validator, Pillow).
import assert from 'node:assert/strict';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { squareGlb, png } from './fixture.mjs';
import { browser, settled, setView, snapshot } from './harness.mjs';
import { colourAt, covered, differing, rowsOf, share } from './pictures.mjs';
import { sendBytes, sendFile, serveSite } from './site.mjs';

const SAMPLES = process.env.GANOSIS_SAMPLES;
const TABLES = ['meshes', 'invalid', 'images'];
const tables = Object.fromEntries(TABLES.map((name) => {
  const path = SAMPLES && join(SAMPLES, name, 'expected.csv');
  return [name, path && existsSync(path) ? rowsOf(readFileSync(path, 'utf8')) : []];
}));
const skip = SAMPLES ? false : 'GANOSIS_SAMPLES names no folder: the real files are not tried';

/** Files below invalid/, by the folder that they lie in. */
function wrongFiles() {
  const groups = {};
  const names = SAMPLES ? readdirSync(join(SAMPLES, 'invalid'), { recursive: true }) : [];
  for (const name of names.filter((path) => /\.(gltf|glb)$/.test(path)).sort()) {
    (groups[name.split('/').slice(0, 4).filter((part) => !part.includes('.')).join('/')] ??= []).push(name);
  }
  return groups;
}

/** The broken chunk of this one is its embedded profile, which glTF 2.0 (3.8.3) says to ignore. */
const BROKEN_BESIDE_THE_PICTURE = 'unknown_compression_method.png';

/** Opened on WebGPU too. */
const ALSO_ON_WEBGPU = [
  'meshes/flight-helmet/FlightHelmet.gltf', 'meshes/roundtrip/18_variants/18_variants.gltf',
  'meshes/features/texture-transform/TextureTransformTest.gltf', 'meshes/controller/controller-meshopt.glb',
];

/** A page with one element, which opens a source and says what came of it. */
async function opener(backend, mounts = {}) {
  const site = await serveSite({ samples: SAMPLES, ...mounts });
  const chromium = await browser(backend);
  const page = await chromium.newPage({ viewport: { width: 640, height: 520 } });
  const failures = [];
  page.on('pageerror', (error) => failures.push(error.message));
  await page.goto(`${site.origin}/?backend=${backend}`);
  await page.waitForFunction(() => customElements.get('ganosis-view') && document.querySelector('ganosis-view'));
  const open = (src) => page.evaluate(async (address) => {
    const element = document.querySelector('ganosis-view');
    element.setAttribute('src', address);
    const opened = await element.ready.then(() => true, () => false);
    const root = element.shadowRoot;
    const text = (part) => root.querySelector(part)?.textContent ?? '';
    return { opened, failure: text('.failure'), notice: text('.notice'), view: element.view, dossier: element.dossier };
  }, src);
  return { site, page, open, failures, close: async () => { await chromium.close(); await site.stop(); } };
}

describe('real files on webgl2', { skip }, () => {
  let at;
  before(async () => {
    at = await opener('webgl2', { trial: (response, path) => trial(response, path) });
  });
  after(() => at?.close());

  for (const { file, triangles, extensions } of tables.meshes) {
    test(file, async () => {
      const { opened, failure } = await at.open(`samples/${file}`);
      if (extensions.includes('draco')) {
        assert.match(failure, /KHR_draco_mesh_compression/);
      } else if (Number(triangles) === 0) {
        assert.match(failure, /no triangle/);
      } else {
        assert.ok(opened, failure);
        const seen = covered(await snapshot(at.page, 320, 240));
        assert.ok(seen > 0.01, `only ${seen} of the picture is not the surround`);
      }
    });
  }

  test('variants become states', async () => {
    const { dossier } = await at.open('samples/meshes/roundtrip/18_variants/18_variants.gltf');
    assert.deepEqual(dossier.states.map(({ title }) => title), ['Variant_Red', 'Variant_Blue']);
    const pictures = [];
    for (const { id } of dossier.states) {
      await setView(at.page, { left: id, right: id, compare: 'one' });
      pictures.push(await snapshot(at.page, 200, 200));
    }
    assert.ok(differing(...pictures, 20) > 0.1);
  });

  test('the meshopt twin looks like the file it was made from', async () => {
    const pictures = [];
    for (const name of ['controller', 'controller-meshopt']) {
      await at.open(`samples/meshes/controller/${name}.glb`);
      await setView(at.page, { camera: { target_m: [0, 0, 0], azimuth_deg: 35, elevation_deg: 25, distance_m: 0.5, fov_deg: 27 }, light: { mode: 'as-measured', azimuth_deg: 0, elevation_deg: 0 } });
      pictures.push(await snapshot(at.page, 400, 400));
    }
    assert.ok(covered(pictures[0]) > 0.02);
    // Positions of 14 bits: the outline may move by a pixel.
    assert.ok(differing(...pictures, 12) < 0.01, `${differing(...pictures, 12)}`);
  });

  test('the picture of the texture transform test says pass', async () => {
    await at.open('samples/meshes/features/texture-transform/TextureTransformTest.gltf');
    assertTransformPasses(await snapshot(at.page, 600, 450));
  });

  test('a mesh in another format is refused with what to do', async () => {
    const { opened, failure } = await at.open('samples/meshes/no-uv/demosthenes-low-res.obj');
    assert.ok(!opened);
    assert.match(failure, /demosthenes-low-res\.obj/);
    assert.match(failure, /glTF 2\.0.*UV/s);
  });

  // Where the validator has no objection there may still be nothing to show: no mesh, or triangles without an area.
  for (const [group, files] of Object.entries(wrongFiles())) {
    test(`${group}: ${files.length} files open or get a message`, async () => {
      for (const file of files) {
        const { opened, failure, view } = await at.open(`samples/invalid/${file}`);
        if (opened) assert.ok(view.camera.distance_m > 0 && view.camera.target_m.every(Number.isFinite), file);
        else assert.match(failure, /\.(bin|gltf|glb)/, file);
        assert.deepEqual(at.failures.splice(0), [], file);
      }
    });
  }

  const damaged = tables.images.filter(({ file }) => file.startsWith('images/damaged/'));
  for (const kind of ['colour', 'band']) {
    test(`damaged images as ${kind} layers get a message or are shown`, async () => {
      const { opened } = await at.open(`trial/${kind}/`);
      assert.ok(opened);
      for (const { file, decodes } of damaged) {
        const name = file.split('/').pop();
        await setView(at.page, { left: name, right: name, compare: 'one' });
        await settled(at.page, 30_000);
        const notice = await at.page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.notice')?.textContent ?? '');
        if (decodes === 'no' && name !== BROKEN_BESIDE_THE_PICTURE) assert.ok(notice.includes(name), `nothing is said of ${name}`);
        assert.ok((await snapshot(at.page, 64, 64)).length > 0);
      }
      await setView(at.page, { left: 'sound', right: 'sound', compare: 'one', camera: { target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, distance_m: 1, fov_deg: 27 } });
      const [r, g, b] = colourAt(await snapshot(at.page, 64, 64), 64, 32, 32);
      if (kind === 'colour') assert.ok(Math.abs(r - 10) <= 1 && Math.abs(g - 120) <= 1 && Math.abs(b - 200) <= 1, `${[r, g, b]}`);
    });
  }

  test('after all of them a sound file opens, and no script failed', async () => {
    const { opened } = await at.open('samples/meshes/flight-helmet/FlightHelmet.gltf');
    assert.ok(opened);
    assert.ok(covered(await snapshot(at.page, 200, 150)) > 0.02);
    assert.deepEqual(at.failures, []);
  });

  /** A dossier of one state or band for each damaged image, and one that is sound. */
  async function trial(response, path) {
    const [kind, file] = path.split('/');
    if (file === 'dossier.json') {
      const names = [...damaged.map((row) => row.file.split('/').pop()), 'sound'];
      const layer = (name) => ({ id: kind === 'band' ? name : `layer-${name}`, kind, title: name, images: [{ sheet: 'front', file: name === 'sound' ? 'sound.png' : name }], ...(kind === 'band' ? { band: 'IRR', unit: '%', range: [0, 1] } : { colour_space: 'srgb' }) });
      const layers = names.map(layer);
      const base = { id: 'base', kind: 'colour', title: 'base', colour_space: 'srgb', images: [{ sheet: 'front', file: 'sound.png' }] };
      const states = kind === 'band' ? [{ id: 'base', kind: 'as-found', title: 'base', layers: ['base'] }]
        : names.toReversed().map((name) => ({ id: name, kind: 'as-found', title: name, layers: [`layer-${name}`] }));
      const document = { format: 'ganosis-dossier/1', id: 'trial', title: 'Trial', surface: { file: 'square.glb', sheets: [{ id: 'front', material: 'front' }] }, layers: kind === 'band' ? [base, ...layers] : layers, states };
      sendBytes(response, Buffer.from(JSON.stringify(document)), 'application/json');
    } else if (file === 'square.glb') sendBytes(response, squareGlb());
    else if (file === 'sound.png') sendBytes(response, kind === 'band' ? png(4, 4, 1, () => [128]) : png(4, 4, 3, () => [10, 120, 200]));
    else await sendFile(response, join(SAMPLES, 'images/damaged'), file);
  }
});

/**
 * "Texture Transform Test" (Microsoft 2018): the upper tiles show a tick on green, blue and cyan where the
 * transform is right and a cross on red where it is not; below, each arrow points at a green tick, and at a
 * red cross or a yellow sign where rotation or all of it is left out.
 */
function assertTransformPasses(pixels) {
  const saturated = (r, g, b) => Math.max(r, g, b) - Math.min(r, g, b) > 100;
  const green = share(pixels, (r, g, b) => saturated(r, g, b) && g > r + 60 && g > b + 60);
  const blue = share(pixels, (r, g, b) => saturated(r, g, b) && b > r + 60 && b > g + 60);
  const cyan = share(pixels, (r, g, b) => saturated(r, g, b) && g > r + 60 && b > r + 60 && Math.abs(g - b) < 50);
  const red = share(pixels, (r, g, b) => saturated(r, g, b) && r > g + 60 && r > b + 60);
  for (const tile of [green, blue, cyan]) assert.ok(tile > 0.01, `${[green, blue, cyan]}`);
  assert.ok(red < 0.002, `red on ${red} of the picture`);
}

describe('a handful on webgpu', { skip }, () => {
  let at;
  before(async () => { at = await opener('webgpu'); });
  after(() => at?.close());
  for (const file of ALSO_ON_WEBGPU) {
    test(file, async () => {
      const { opened, failure } = await at.open(`samples/${file}`);
      assert.ok(opened, failure);
      const pixels = await snapshot(at.page, 600, 450);
      assert.ok(covered(pixels) > 0.01);
      if (file.includes('texture-transform')) assertTransformPasses(pixels);
    });
  }
  test('no script failed', () => assert.deepEqual(at.failures, []));
});

test('how many files the tables name', { skip }, () => {
  for (const name of TABLES) assert.ok(tables[name].length > 10, `${name}/expected.csv`);
  const files = Object.values(wrongFiles()).flat();
  for (const { file } of tables.invalid) assert.ok(files.includes(file.slice('invalid/'.length)), file);
});
