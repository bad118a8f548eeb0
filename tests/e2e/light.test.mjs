// Lit pictures against formulas of light, on both backends.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, PATCH_PX, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, getView, openReady, seeing, setView, snapshot, violations } from './harness.mjs';
import { decode, encode } from './pictures.mjs';
import { serveSite } from './site.mjs';
import { boxFaces, writeSolid } from './solids.mjs';

const SIZE = 480;
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);
const LAMP = { azimuth_deg: 0, elevation_deg: 90, distance_m: 0, softness: 0, strength: 1 };
const OFF = { ...LAMP, strength: 0 };
const LIGHT = { mode: 'raking', ...LAMP, second: OFF, relief: 1, occlusion: 0 };
const BASE = { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA, pin: null, region: null, light: LIGHT, section: null, lamp: null, overlay: null };
/** Light from everywhere beside lamps, and what a lamp of strength 1 adds to make a whole. */
const AMBIENT = 0.18;
const KEY = 1 - AMBIENT;

const rad = (deg) => (deg * Math.PI) / 180;
/** Right, up, front: x, y, z of the fixture. */
const towards = ({ azimuth_deg: a, elevation_deg: e }) => [Math.sin(rad(a)) * Math.cos(rad(e)), Math.sin(rad(e)), Math.cos(rad(a)) * Math.cos(rad(e))];
const pixel = (metres) => SIZE / 2 + (metres / SEEN_M) * SIZE;
const middle = (i) => (i + 0.5) / PATCHES - 0.5;

/** A picture's own rounding, and sines and roots in single precision. */
const TOLERANCE = 1.5;

/** Every patch is its colour times an irradiance that depends on the place (m). */
function assertLit(pixels, irradiance, what) {
  for (let row = 0; row < PATCHES; row += 1) {
    for (let column = 0; column < PATCHES; column += 1) {
      const [x, y] = [middle(column), -middle(row)];
      const [px, py] = [Math.round(pixel(x)), Math.round(pixel(-y))];
      // The place that the rounded pixel's middle shows.
      const e = irradiance(((px + 0.5) / SIZE - 0.5) * SEEN_M, (0.5 - (py + 0.5) / SIZE) * SEEN_M);
      const wanted = colourOf(0, column, row).map((v) => encode(Math.min(1, decode(v) * e)));
      const got = [...pixels.subarray(4 * (py * SIZE + px), 4 * (py * SIZE + px) + 3)];
      assert.ok(got.every((v, c) => Math.abs(v - wanted[c]) <= TOLERANCE), `${what}, ${column}, ${row}: wanted ${wanted.map(Math.round)}, got ${got}`);
    }
  }
}

/** Irradiance by rays from a round lamp, over that of its middle seen squarely: brute force over its disc of directions. */
function softly(cosine, sine_radius) {
  const n = 400;
  const axis = [Math.sqrt(1 - cosine * cosine), 0, cosine];
  const side = [cosine, 0, -axis[0]];
  let sum = 0;
  let whole = 0;
  for (let i = 0; i < n; i += 1) {
    for (let j = 0; j < n; j += 1) {
      // Even steps of solid angle: of the cosine from the axis, and around it.
      const c = 1 - ((i + 0.5) / n) * (1 - Math.sqrt(1 - sine_radius * sine_radius));
      const s = Math.sqrt(1 - c * c);
      const z = axis[2] * c + side[2] * s * Math.cos((2 * Math.PI * (j + 0.5)) / n);
      sum += Math.max(0, z);
      whole += c;
    }
  }
  return sum / whole;
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`light on ${backend}`, () => {
    const root = mkdtempSync(join(tmpdir(), 'ganosis-light-'));
    const folder = (name) => join(root, name);
    const failures = [];
    let site;
    let chromium;
    let page;
    const open = (name) => openReady(page, site.address(`${name}/`), backend);

    before(async () => {
      writeDossier(folder('patches'));
      const square = [[[-0.5, -0.5, 0], [1, 0, 0], [0, 1, 0], 4]];
      for (const finish of ['matt', 'waxed', 'glossy', 'burnished']) writeSolid(folder(finish), square, [188, 150, 100], finish);
      writeSolid(folder('tray'), boxFaces([1, 1, 0.5], { open: true, cells: 8 }), [188, 188, 188]);
      writeSolid(folder('box'), boxFaces([0.5, 0.3, 0.2]), [200, 120, 60]);
      site = await serveSite(Object.fromEntries(['patches', 'matt', 'waxed', 'glossy', 'burnished', 'tray', 'box'].map((name) => [name, folder(name)])));
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await open('patches');
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(root, { recursive: true, force: true });
    });
    const lit = async (light, view = {}) => {
      await setView(page, { ...BASE, ...view, light: { ...LIGHT, ...light } });
      return snapshot(page, SIZE, SIZE);
    };

    for (const [azimuth_deg, elevation_deg] of [[0, 0], [40, 0], [-65, 20], [0, 75], [120, 10]]) {
      test(`a far lamp at ${azimuth_deg}°, ${elevation_deg}° lights by the cosine`, async () => {
        const pixels = await lit({ azimuth_deg, elevation_deg });
        const cosine = Math.max(0, towards({ azimuth_deg, elevation_deg })[2]);
        assertLit(pixels, () => AMBIENT + KEY * cosine, 'far lamp');
      });
    }

    test('a near lamp falls off with the square of the distance and shines from where it stands', async () => {
      const lamp = { azimuth_deg: 35, elevation_deg: 20, distance_m: 0.9 };
      const place = towards(lamp).map((v) => v * lamp.distance_m);
      assertLit(await lit(lamp), (x, y) => {
        const way = [place[0] - x, place[1] - y, place[2]];
        const near = Math.hypot(...way);
        return AMBIENT + KEY * (lamp.distance_m / near) ** 2 * (way[2] / near);
      }, 'near lamp');
    });

    test('a second lamp adds its own light', async () => {
      const first = { azimuth_deg: 60, elevation_deg: 0, strength: 0.5 };
      const second = { ...LAMP, azimuth_deg: -50, elevation_deg: 30, strength: 0.4 };
      const pixels = await lit({ ...first, second });
      assertLit(pixels, () => AMBIENT + KEY * (0.5 * towards(first)[2] + 0.4 * towards(second)[2]), 'two lamps');
    });

    for (const [azimuth_deg, softness] of [[30, 0.5], [80, 0.5], [95, 0.5], [89, 0.2], [70, 0.9], [91, 0.05]]) {
      test(`a round lamp of ${softness} at ${azimuth_deg}° lights as its rays together do`, async () => {
        const share = softly(Math.cos(rad(azimuth_deg)), softness);
        assertLit(await lit({ azimuth_deg, elevation_deg: 0, softness }), () => AMBIENT + KEY * share, 'round lamp');
      });
    }

    test('soft daylight is that of an overcast sky and a ground that gives a fifth back', async () => {
      // The square faces the front; the middle of the sky stands 60° above it.
      const up = Math.cos(rad(60));
      assertLit(await lit({ mode: 'daylight' }), () => (1 + up) / 2 + (0.2 * (1 - up)) / 2, 'daylight');
      assert.match(await page.locator('ganosis-view .stamp').textContent(), /daylight.*not as measured/i);
      assert.match(await page.locator('ganosis-view .stage canvas').getAttribute('aria-label'), /daylight; colours not as measured/i);
    });

    test('the unlit picture is the layer, whatever lamps are set', async () => {
      assertLit(await lit({ mode: 'as-measured', strength: 4, relief: 5, occlusion: 1 }), () => 1, 'as measured');
    });

    test('enlarged, a texel is even up to one pixel from its edge', async () => {
      const seen = 0.03;
      await setView(page, { ...BASE, light: { ...LIGHT, mode: 'as-measured' }, camera: { ...seeing(seen), target_m: [0, 0.03, 0] } });
      const pixels = await snapshot(page, SIZE, SIZE);
      const texel_px = SIZE / seen / (PATCHES * PATCH_PX);
      assert.ok(texel_px > 40, 'a texel is wide');
      for (const y of [100, 240, 380]) {
        for (const off of [2, 10, 18, 40]) {
          for (const [x, column] of [[SIZE / 2 - off, PATCHES / 2 - 1], [SIZE / 2 + off - 1, PATCHES / 2]]) {
            const got = [...pixels.subarray(4 * (y * SIZE + x), 4 * (y * SIZE + x) + 3)];
            const wanted = colourOf(0, column, PATCHES / 2 - 1);
            assert.ok(got.every((v, c) => Math.abs(v - wanted[c]) <= 1), `${off} px from the edge, row ${y}: wanted ${wanted}, got ${got}`);
          }
        }
      }
    });

    test('the lamp is carried on the picture, by pointer and by keys', async () => {
      await setView(page, { ...BASE, light: { ...LIGHT, azimuth_deg: 0, elevation_deg: 0 } });
      const grip = page.locator('ganosis-view .lamp-grip.lamp').first();
      const stage = await page.locator('ganosis-view .stage').boundingBox();
      const box = await grip.boundingBox();
      const centre = [stage.x + stage.width / 2, stage.y + stage.height / 2];
      assert.ok(Math.hypot(box.x + 22 - centre[0], box.y + 22 - centre[1]) < 2, 'a lamp before the eye stands in the middle');
      await page.mouse.move(...centre);
      await page.mouse.down();
      await page.mouse.move(centre[0] - 600, centre[1], { steps: 4 });
      await page.mouse.up();
      let { light } = await getView(page);
      assert.ok(Math.abs(light.azimuth_deg + 90) < 0.5 && Math.abs(light.elevation_deg) < 0.5, `on the rim it grazes: ${light.azimuth_deg}, ${light.elevation_deg}`);
      await grip.focus();
      await page.keyboard.press('ArrowRight');
      await page.keyboard.press('Shift+ArrowUp');
      ({ light } = await getView(page));
      assert.ok(Math.abs(light.azimuth_deg + 88) < 0.5 && Math.abs(light.elevation_deg - 10) < 0.5);
      await page.keyboard.press('PageDown');
      ({ light } = await getView(page));
      assert.ok(light.distance_m > 0.8, 'a page down brings it near');
      // Said with the frame that shows it.
      await page.waitForFunction(() => /direction -88°, height 10°/.test(document.querySelector('ganosis-view').shadowRoot.querySelector('.lamp-grip.lamp').getAttribute('aria-valuetext')), null, { timeout: 20_000 });
      await page.waitForFunction(() => location.hash.includes('light=raking,-88'), null, { timeout: 20_000 });
      assert.deepEqual(await violations(page), []);
    });

    test('in panes the lamp goes around the object of the first one', async () => {
      await setView(page, { ...BASE, compare: 'pair', count: 4, light: { ...LIGHT, azimuth_deg: -90, elevation_deg: 0 } });
      const grip = page.locator('ganosis-view .lamp-grip.lamp').first();
      const stage = await page.locator('ganosis-view .stage').boundingBox();
      const box = await grip.boundingBox();
      const [x, y] = [box.x + 22, box.y + 22];
      const centre = [stage.x + stage.width / 4, stage.y + stage.height / 4];
      assert.ok(Math.abs(y - centre[1]) < 2 && x < centre[0] - 30 && x > stage.x, `a lamp from the left stands left of the middle of the pane: ${x}, ${y}`);
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(...centre, { steps: 4 });
      await page.mouse.up();
      const { light } = await getView(page);
      assert.ok(Math.abs(light.azimuth_deg) < 1.5 && Math.abs(light.elevation_deg) < 1.5, `in its middle it is before the eye: ${light.azimuth_deg}, ${light.elevation_deg}`);
      assert.match(await page.locator('ganosis-view .stamp').first().innerText(), /not as measured/);
      await setView(page, { compare: 'one' });
    });

    for (const [finish, alpha, metal] of [['glossy', 0.1, 0], ['waxed', 0.3, 0], ['burnished', 0.18, 1]]) {
      test(`${finish}: the highlight stands where the half vector is the normal, as bright as the facets say`, async () => {
        await open(finish);
        const azimuth_deg = 6;
        // So that nothing is too bright, and the lobe has more codes than the tolerance.
        const strength = { glossy: 0.2, waxed: 0.8, burnished: 0.05 }[finish];
        await setView(page, { ...BASE, light: { ...LIGHT, azimuth_deg, elevation_deg: 0, strength } });
        await page.waitForFunction(() => document.querySelector('ganosis-view').probe(640, 300).then((hit) => hit?.region === 'all'), null, { timeout: 30_000 });
        const pixels = await snapshot(page, SIZE, SIZE);
        const green = (x, y) => pixels[4 * (y * SIZE + x) + 1];
        let most = 0;
        for (let y = 45; y < 435; y += 1) for (let x = 45; x < 435; x += 1) most = Math.max(most, green(x, y));
        let [sum_x, sum_y, count] = [0, 0, 0];
        for (let y = 45; y < 435; y += 1) for (let x = 45; x < 435; x += 1) if (green(x, y) >= most - 1) { sum_x += x + 0.5; sum_y += y + 0.5; count += 1; }
        // n bisects lamp and eye where the eye's direction is the lamp's, mirrored: x = h tan(azimuth).
        const wanted_x = pixel(CAMERA.distance_m * Math.tan(rad(azimuth_deg)));
        assert.ok(green(Math.round(wanted_x), SIZE / 2) >= most - 1, 'the brightest is there');
        // A broad lobe is flat at its top, and the square ends before it does.
        if (alpha < 0.2) assert.ok(Math.hypot(sum_x / count - wanted_x, sum_y / count - SIZE / 2) < 5, `at ${sum_x / count}, ${sum_y / count}, wanted ${wanted_x}`);
        // There: pi D = 1 / alpha², G of Smith at the angle, F seen almost squarely, over 4 (n·l)(n·v).
        const c = Math.cos(rad(azimuth_deg));
        const g1 = (2 * c) / (c + Math.sqrt(alpha ** 2 + (1 - alpha ** 2) * c * c));
        const square = metal ? decode(150) : finish === 'waxed' ? 0.033 : 0.04;
        const fresnel = (f0, cosine, grazing = 1) => f0 + (Math.max(grazing, f0) - f0) * (1 - cosine) ** 5;
        const gloss = (fresnel(square, c) / alpha ** 2) * g1 * g1 / (4 * c * c);
        const diffuse = metal ? 0 : decode(150) * (AMBIENT + KEY * strength * c);
        const wanted = encode(Math.min(1, diffuse + AMBIENT * fresnel(square, c, 1 - alpha) + KEY * strength * c * gloss));
        assert.ok(Math.abs(most - wanted) <= 2.5, `as bright as ${most}, wanted ${wanted}`);
        await setView(page, { light: { ...LIGHT, mode: 'as-measured' } });
        const plain = await snapshot(page, SIZE, SIZE);
        assert.deepEqual([...plain.subarray(4 * (240 * SIZE + 240), 4 * (240 * SIZE + 240) + 3)], [188, 150, 100]);
      });
    }

    test('the floor of a tray is darker by what its walls hide, once that is found', async () => {
      await open('tray');
      const camera = { target_m: [0, 0, -0.5], azimuth_deg: 0, elevation_deg: 0, fov_deg: 20, distance_m: 12 };
      const light = { ...LIGHT, mode: 'daylight', occlusion: 1 };
      await setView(page, { ...BASE, camera, light });
      const sky = 0.75 + 0.2 * 0.25;
      // Plane element to parallel square, J. R. Howell's catalogue B-3: four corners of 1 × 1 at height 1.
      const seen = (4 / (2 * Math.PI)) * 2 * Math.SQRT1_2 * Math.atan(Math.SQRT1_2);
      const at = async () => (await snapshot(page, SIZE, SIZE))[4 * (240 * SIZE + 240) + 1];
      const wanted = encode(decode(188) * sky * seen);
      let got = 0;
      for (let i = 0; i < 60 && Math.abs(got - wanted) > 4; i += 1) {
        await page.waitForTimeout(500);
        got = await at();
      }
      // 64 rays: within a ray and a half of the light.
      const [low, high] = [-1.5, 1.5].map((rays) => encode(decode(188) * sky * (seen + rays / 64)));
      assert.ok(got >= low && got <= high, `wanted ${wanted}, got ${got}`);
      await setView(page, { light: { ...light, occlusion: 0 } });
      assert.ok(Math.abs((await at()) - encode(decode(188) * sky)) <= TOLERANCE);
    });

    test('a section takes away what lies before it, draws its edge and shows the inner side grey', async () => {
      await open('box');
      const base = { ...BASE, light: { ...LIGHT, mode: 'as-measured' }, camera: { ...seeing(1.2), target_m: [0, 0, 0] } };
      const radius = Math.hypot(0.5, 0.3, 0.2);
      const px = (x, y) => [SIZE / 2 + x * SIZE, SIZE / 2 - y * SIZE].map(Math.round);
      const colour = (pixels, [x, y]) => [...pixels.subarray(4 * (y * SIZE + x), 4 * (y * SIZE + x) + 3)];
      // What lies to the right of x = 0.1 is gone.
      await setView(page, { ...base, section: { azimuth_deg: 90, elevation_deg: 0, position: 0.1 / radius } });
      let pixels = await snapshot(page, SIZE, SIZE);
      // The front face lies 0.2 m nearer than the middle: perspective enlarges it.
      const near = base.camera.distance_m / (base.camera.distance_m - 0.2) / 1.2;
      const edge = 0.1 * near;
      assert.deepEqual(colour(pixels, px(edge - 0.03, 0)), [200, 120, 60]);
      assert.deepEqual(colour(pixels, px(0.45 * near, 0)), [119, 119, 119]);
      const line = [0, 1, 2, 3].map((off) => colour(pixels, [Math.floor(SIZE / 2 + edge * SIZE) - off, SIZE / 2]));
      assert.ok(line.some(([r, g, b]) => r + g + b < 60) || line.some(([r, g, b]) => r + g + b > 700), `a line at the cut: ${line}`);
      // Facing: the front is taken away, the inner side of the back is seen.
      await setView(page, { ...base, section: { azimuth_deg: 0, elevation_deg: 0, position: 0 } });
      pixels = await snapshot(page, SIZE, SIZE);
      const [r, g, b] = colour(pixels, px(0, 0));
      assert.ok(r === g && g === b && r > 60 && r < 140, `grey inside: ${[r, g, b]}`);
      const found = await page.evaluate(() => document.querySelector('ganosis-view').probe(640, 300));
      assert.ok(Math.abs(found.anchor.position_m[2] + 0.2) < 1e-6, 'the back is picked through the cut');
      await setView(page, { ...base, section: null });
      assert.deepEqual(colour(await snapshot(page, SIZE, SIZE), px(0, 0)), [200, 120, 60]);
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}
