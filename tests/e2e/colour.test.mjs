// Colour on the graphics device, on both backends: published differences, layers over one another,
// the difference of two states, another light, and the patterns over the surface.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { deltaE2000 } from './ciede2000.mjs';
import { PATCHES, PATCH_PX, colourOf, png, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, openReady, seeing, serve, setView, snapshot } from './harness.mjs';
import { colourAt, rowsOf, decode, encode } from './pictures.mjs';

const SIZE = 480;
const SIDE = PATCHES * PATCH_PX;
/** Height of the picture at the square, in metres. */
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);
const middle = (i) => Math.round((0.5 + ((i + 0.5) / PATCHES - 0.5) / SEEN_M) * SIZE);

/** Published pairs: G. Sharma, W. Wu, E. N. Dalal, Color Research and Application 30(1), 2005, table 1. */
const table = readFileSync(new URL('../reference/ciede2000_sharma2005.csv', import.meta.url), 'utf8');
const PAIRS = rowsOf(table.split('\n').filter((line) => !line.startsWith('#')).join('\n')).map((row) => ({
  one: ['L1', 'a1', 'b1'].map((key) => Number(row[key])), two: ['L2', 'a2', 'b2'].map((key) => Number(row[key])),
  published: Number(row.dE00_published), pair: Number(row.pair),
}));


/** CIELAB (D50) of sRGB codes: matrix and white of W3C CSS Color Module Level 4, from memory to these digits. */
function labOf(code) {
  const [r, g, b] = code.map(decode);
  const xyz = [
    0.4360657 * r + 0.3851515 * g + 0.1430784 * b,
    0.2224932 * r + 0.7168870 * g + 0.0606198 * b,
    0.0139239 * r + 0.0970813 * g + 0.7140994 * b,
  ];
  const white = [0.9642957, 1, 0.8251046];
  const [x, y, z] = xyz.map((v, i) => (v / white[i] > 216 / 24389 ? Math.cbrt(v / white[i]) : (24389 / 27 * (v / white[i]) + 16) / 116));
  return [116 * y - 16, 500 * (x - y), 200 * (y - z)];
}

/** sRGB codes of CIELAB (D50), not rounded: the same source, from memory to these digits. */
function codeOf([l, a, b]) {
  const f = [(l + 16) / 116 + a / 500, (l + 16) / 116, (l + 16) / 116 - b / 200];
  const white = [0.9642957, 1, 0.8251046];
  const [x, y, z] = f.map((v, i) => white[i] * (v ** 3 > 216 / 24389 ? v ** 3 : (116 * v - 16) / (24389 / 27)));
  return [
    3.1341359 * x - 1.6173860 * y - 0.4906622 * z,
    -0.9787955 * x + 1.9162544 * y + 0.0334429 * z,
    0.0719554 * x - 0.2289768 * y + 1.4053860 * z,
  ].map(encode);
}

/** The common chart of 24 patches as published in 2016: tests/reference/chart24_lab_d50.csv says by whom. */
const chart = readFileSync(new URL('../reference/chart24_lab_d50.csv', import.meta.url), 'utf8');
const CHART = rowsOf(chart.split('\n').filter((line) => !line.startsWith('#')).join('\n'))
  .filter((row) => row.variant.includes('after'))
  .map((row) => ({ name: row.name, lab: [row.L, row.a, row.b].map(Number), column: Number(row.column) - 1, row: Number(row.row) - 1 }));

test('the formula of this test gives the published differences', () => {
  assert.equal(PAIRS.length, 34);
  for (const { one, two, published, pair } of PAIRS) assert.ok(Math.abs(deltaE2000(one, two) - published) < 6e-5, `pair ${pair}`);
});

/** Cover of the upper layer, by column: none, some, all. */
const coverOf = (column) => [0, 51, 128, 204, 255, 255][column];
const UPPER = [20, 90, 200];

function writeColourDossier(folder) {
  const document = writeDossier(folder);
  const file = (name, bytes) => writeFileSync(join(folder, name), bytes);
  const patch = (v) => Math.floor(v / PATCH_PX);
  file('upper.png', png(SIDE, SIDE, 4, (x) => [...UPPER, coverOf(patch(x))]));
  // A pigment whose reflectance steps up at 580 nm (invented values).
  const rows = Array.from({ length: 41 }, (_, i) => `${380 + 10 * i},${380 + 10 * i < 580 ? 0.06 : 0.62}`);
  file('step.csv', `wavelength_nm,reflectance\n${rows.join('\n')}\n`);
  document.layers.push({
    id: 'upper', kind: 'colour', title: 'Upper', images: [{ sheet: 'front', file: 'upper.png', width_px: SIDE, height_px: SIDE }],
  });
  document.states.push({ id: 'glazed', kind: 'hypothetical', title: 'Glazed', layers: ['first', 'upper'], proposed_by: ['ek'] });
  document.palette[0].spectrum = 'step.csv';
  file('dossier.json', JSON.stringify(document));
}

/** Writes the chart with the codes that `ganosis colour` gives for its CIELAB values. */
function writeChart(folder) {
  const document = writeDossier(folder);
  const asked = CHART.map(({ lab: [l, a, b] }) => `lab(${l} ${a} ${b})`);
  const answer = JSON.parse(spawnSync(process.env.GANOSIS, ['colour', '--json', '--', ...asked], { encoding: 'utf8' }).stdout);
  const codes = answer.colours.map(({ components }) => components.map((v) => Math.round(255 * Math.min(Math.max(v, 0), 1))));
  const codeAt = (x, y) => {
    const [column, row] = [Math.floor(x / PATCH_PX), Math.floor(y / PATCH_PX)];
    return codes[CHART.findIndex((patch) => patch.column === column && patch.row === row)] ?? [0, 0, 0];
  };
  writeFileSync(join(folder, 'state-0.png'), png(SIDE, SIDE, 3, codeAt));
  return document;
}

const pixelAt = (pixels, column, row) => [...pixels.subarray(4 * (middle(row) * SIZE + middle(column)), 4 * (middle(row) * SIZE + middle(column)) + 3)];
const close = (found, wanted, tolerance) => found.every((v, i) => Math.abs(v - wanted[i]) <= tolerance);

for (const backend of Object.keys(BACKENDS)) {
  describe(`colour on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-colour-'));
    let site;
    let chromium;
    let page;

    before(async () => {
      writeColourDossier(folder);
      site = await serve(folder);
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 900, height: 700 } });
      await openReady(page, site.address, backend);
      await page.waitForFunction(async () => {
        const hit = await document.querySelector('ganosis-view').probe(300, 250).catch(() => null);
        return hit?.colours.length === 3 && hit.region;
      }, null, { timeout: 60_000 });
    });

    after(async () => {
      await chromium?.close();
      site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    test('the device computes the published differences to 0.005', async () => {
      const found = await page.evaluate((pairs) => document.querySelector('ganosis-view').checkDifferences(pairs), PAIRS.flatMap(({ one, two }) => [...one, ...two]));
      for (const [i, { published, pair }] of PAIRS.entries()) {
        // Pair 14 lies on the break of the hue: 4.8045 and 4.7461 are both right (note to the table).
        const wanted = pair === 14 && Math.abs(found[i] - 4.7461) < 0.005 ? 4.7461 : published;
        assert.ok(Math.abs(found[i] - wanted) < 0.005, `pair ${pair}: ${found[i]} for ${published}`);
      }
    });

    test('CIELAB values of the chart of 24 patches reach the picture', async () => {
      const other = mkdtempSync(join(tmpdir(), 'ganosis-chart-'));
      writeChart(other);
      const own = await serve(other);
      const second = await chromium.newPage({ viewport: { width: 600, height: 500 } });
      await openReady(second, own.address, backend);
      await setView(second, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA });
      const pixels = await snapshot(second, SIZE, SIZE);
      assert.equal(CHART.length, 24);
      for (const { name, lab, column, row } of CHART) {
        const wanted = codeOf(lab);
        // Cyan lies outside sRGB; what is shown instead is another test's matter.
        if (wanted.some((v) => v < -0.5 || v > 255.5)) continue;
        assert.ok(close(pixelAt(pixels, column, row), wanted, 1), `${name}: ${pixelAt(pixels, column, row)} for ${wanted}`);
      }
      await second.close();
      own.stop();
      rmSync(other, { recursive: true, force: true });
    });

    test('an upper layer covers by its alpha, in linear light', async () => {
      await setView(page, { left: 'glazed', right: 'glazed', compare: 'one', camera: CAMERA });
      const pixels = await snapshot(page, SIZE, SIZE);
      for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
        const cover = coverOf(column) / 255;
        const wanted = colourOf(0, column, row).map((v, c) => encode((1 - cover) * decode(v) + cover * decode(UPPER[c])));
        assert.ok(close(pixelAt(pixels, column, row), wanted, 1.01), `column ${column}, row ${row}: ${pixelAt(pixels, column, row)} for ${wanted}`);
      }
    });

    test('a scale that nobody chose fits the two states; a chosen one stays', async () => {
      const scale = () => page.evaluate(() => document.querySelector('ganosis-view').view.difference);
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'difference', camera: CAMERA, difference: { threshold: 0, full_scale: 2, fitted: true } });
      const all = [0, 1, 2, 3, 4, 5].flatMap((column) => Array.from({ length: PATCHES }, (_, row) => deltaE2000(labOf(colourOf(0, column, row)), labOf(colourOf(1, column, row)))));
      const within = all.sort((a, b) => a - b)[Math.ceil(0.95 * all.length) - 1];
      const wanted = [2, 5, 10, 20, 50, 100].find((end) => end >= within);
      await page.waitForFunction((end) => document.querySelector('ganosis-view').view.difference.full_scale === end, wanted);
      await setView(page, { difference: { full_scale: 7 } });
      await setView(page, { right: 'as-found' });
      await page.waitForTimeout(600);
      assert.deepEqual(await scale(), { threshold: 0, full_scale: 7, fitted: false });
      await setView(page, { difference: { fitted: true } });
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.difference.full_scale === 2);
    });

    test('statistics of the difference are those of the patches', async () => {
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'difference', camera: CAMERA, difference: { threshold: 20, full_scale: 50 } });
      const wanted = (columns) => columns.flatMap((column) => Array.from({ length: PATCHES }, (_, row) => deltaE2000(labOf(colourOf(0, column, row)), labOf(colourOf(1, column, row)))));
      const mean = (list) => list.reduce((sum, v) => sum + v, 0) / list.length;
      for (const [region, columns] of [[null, [0, 1, 2, 3, 4, 5]], ['column-3', [2]], ['column-6', [5]]]) {
        const found = await page.evaluate((id) => document.querySelector('ganosis-view').differences(id), region);
        const list = wanted(columns);
        // Rows of pixels on the edge of two patches mix them: under 2 % of all.
        assert.ok(Math.abs(found.mean - mean(list)) < 0.02 * mean(list) + 0.1, `${region}: mean ${found.mean} for ${mean(list)}`);
        assert.ok(Math.abs(found.largest - Math.max(...list)) < 5, `${region}: largest ${found.largest} for ${Math.max(...list)}`);
        const above = list.filter((v) => v >= 20).length / list.length;
        assert.ok(Math.abs(found.share_above - above) < 0.04, `${region}: share ${found.share_above} for ${above}`);
      }
    });

    test('differences below the threshold are grey, those above take the colour of their size', async () => {
      const map = await page.evaluate(() => [...document.querySelector('ganosis-view').bandMap]);
      const pixels = await snapshot(page, SIZE, SIZE);
      for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
        const difference = deltaE2000(labOf(colourOf(0, column, row)), labOf(colourOf(1, column, row)));
        if (Math.abs(difference - 20) < 0.2) continue;
        const found = pixelAt(pixels, column, row);
        if (difference < 20) {
          assert.ok(Math.max(...found) - Math.min(...found) <= 1, `${found} is not grey`);
        } else {
          const at = Math.min(difference / 50, 1) * 255;
          const steps = [Math.floor(at), Math.ceil(at)].map((i) => map.slice(3 * i, 3 * i + 3));
          assert.ok(steps.some((step) => close(found, step, 3)), `ΔE00 ${difference}: ${found} for ${steps}`);
        }
      }
    });

    test('another light is computed where a pigment is claimed; white stays white to the adapted eye', async () => {
      const view = { left: 'evidence', right: 'evidence', compare: 'one', camera: CAMERA };
      await setView(page, { ...view, lamp: null });
      const day = await snapshot(page, SIZE, SIZE);
      await setView(page, { ...view, lamp: { id: 'A', adapted: true } });
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.stamp'));
      // The spectrum arrives after the choice.
      await page.waitForFunction(async () => (await document.querySelector('ganosis-view').probe(450, 250))?.colours?.[0], null, { timeout: 20_000 });
      await page.waitForTimeout(500);
      const lit = await snapshot(page, SIZE, SIZE);
      let changed = 0;
      for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
        const [before_, now] = [pixelAt(day, column, row), pixelAt(lit, column, row)];
        if (column === 2) changed += close(before_, now, 2) ? 0 : 1;
        else assert.ok(close(before_, now, 1), `column ${column} has no claim: ${now} for ${before_}`);
      }
      assert.ok(changed >= 3, `the claimed column changes: ${changed} of ${PATCHES} patches`);
      await setView(page, { ...view, lamp: { id: 'A', adapted: false } });
      const tinted = await snapshot(page, SIZE, SIZE);
      let blue = 0;
      for (let row = 0; row < PATCHES; row += 1) {
        const [plain, now] = [pixelAt(day, 0, row), pixelAt(tinted, 0, row)];
        if (plain[2] < 100 || Math.min(...plain) < 40) continue;
        blue += 1;
        assert.ok(now[2] < plain[2] - 20, `tungsten beside daylight has little blue: ${now} for ${plain}`);
      }
      assert.ok(blue > 0, 'a patch with blue in it was seen');
      await setView(page, { lamp: null });
    });

    test('patterns cover claimed regions only; the legend has their area', async () => {
      const view = { left: 'evidence', right: 'evidence', compare: 'one', camera: CAMERA, overlay: null };
      await setView(page, view);
      const bare = await snapshot(page, SIZE, SIZE);
      await setView(page, { ...view, overlay: 'certainty' });
      const covered = await snapshot(page, SIZE, SIZE);
      for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
        // Over several pixels: even the closest pattern has joints.
        const around = (pixels) => colourAt(pixels, SIZE, middle(column), middle(row), 8);
        const same = close(around(bare), around(covered), 0);
        assert.equal(same, column !== 2, `column ${column}, row ${row}`);
      }
      await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-page="grounds"]').click());
      const legend = page.locator('ganosis-view .areas td').first();
      await legend.waitFor({ timeout: 20_000 });
      const area_cm2 = Number((await legend.innerText()).replace(/[^\d.]/g, ''));
      // A sixth of a square metre, to 0.5 %.
      assert.ok(Math.abs(area_cm2 - 1e4 / PATCHES) < 0.005 * 1e4 / PATCHES, `area ${area_cm2} cm²`);
      await setView(page, { overlay: null });
    });
  });
}
