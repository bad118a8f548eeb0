// Times in Chromium, one JSON object a line: {name, measured, limit, unit}. Run by `cargo xtask bench`.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { CROWD, scrollTime, writeCrowd } from './crowd.mjs';
import { mountsWithDesk, openDossier } from './desk.mjs';
import { BACKENDS, browser, openReady } from './harness.mjs';
import { serveSite } from './site.mjs';

const [WIDTH, HEIGHT] = [960, 600];
/** Frames of one measurement, and measurements of each kind, taken in turn so that a busy machine harms both alike. */
const [FRAMES, ROUNDS] = [4, 5];
/** What a frame of each comparison may cost at most, in frames of one state: bounds asked of this viewer, in no standard. */
const LIMITS = { swipe: 1.15, difference: 1.6, loupe: null, four: 2.0 };

const tell = (name, measured, limit, unit) => console.log(JSON.stringify({ name, measured, limit, unit }));
const median = (values) => values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)];

/** From navigation to the first picture, in milliseconds: the median of fresh pages. */
async function firstPicture(chromium, address, backend) {
  const times = [];
  for (let round = 0; round < 3; round += 1) {
    const context = await chromium.newContext({ viewport: { width: WIDTH, height: HEIGHT } });
    const page = await context.newPage();
    await openReady(page, address, backend);
    // `openReady` polls; the element itself says when.
    times.push(await page.evaluate(() => performance.getEntriesByName('ganosis-first-picture').at(-1)?.startTime ?? performance.now()));
    await context.close();
  }
  return median(times);
}

/** Milliseconds a frame of each comparison, on a handle of the viewer's own. */
async function frames(chromium, origin, backend) {
  const page = await chromium.newPage({ viewport: { width: WIDTH, height: HEIGHT } });
  await page.goto(`${origin}/bench/`);
  const rounds = await page.evaluate(async ([name, width, height, count, rounds]) => {
    const module = await import(`/viewer/viewer-${name}.js`);
    await module.default({ module_or_path: `/viewer/viewer-${name}_bg.wasm` });
    const canvas = document.createElement('canvas');
    document.body.append(canvas);
    const handle = await module.Viewer.create(canvas, { antialias: true, reduced_motion: true });
    const bytesOf = async (path) => new Uint8Array(await (await fetch(`/dossier/${path}`)).arrayBuffer());
    handle.open('dossier.json', await bytesOf('dossier.json'));
    handle.resize(width, height, 1);
    for (let wanted = handle.wanted(); wanted.length > 0; wanted = handle.wanted()) {
      for (const { id, path, kind } of wanted) {
        const bytes = await bytesOf(path);
        if (kind === 'colour') handle.supply_image(id, await createImageBitmap(new Blob([bytes]), { colorSpaceConversion: 'none', premultiplyAlpha: 'none' }));
        else handle.supply(id, bytes);
      }
    }
    const ids = handle.document().states.map(({ id }) => id);
    const base = { ...handle.view(), left: ids[0], right: ids[1], third: ids[2] ?? ids[0], fourth: ids[3] ?? ids[1], position: 0.5, angle_deg: 0, pin: null, region: null };
    const views = {
      one: { ...base, compare: 'one' }, swipe: { ...base, compare: 'swipe' }, difference: { ...base, compare: 'difference', difference: { threshold: 0, full_scale: 10 } },
      loupe: { ...base, compare: 'loupe' }, four: { ...base, compare: 'pair', count: 4 },
    };
    /** Waits until everything asked of the device is done: what is read back was drawn last. */
    const fence = () => handle.snapshot(8, 8);
    const measure = async (view, frames) => {
      handle.set_view(view);
      handle.frame(performance.now());
      await fence();
      const start = performance.now();
      for (let index = 0; index < frames; index += 1) {
        // Another camera each time, since the same picture is not drawn twice.
        handle.set_view({ camera: { ...view.camera, azimuth_deg: view.camera.azimuth_deg + 0.001 * (index % 2 ? 1 : -1) } });
        if (!handle.frame(performance.now())) throw new Error('a frame was not drawn');
      }
      await fence();
      return performance.now() - start;
    };
    const empty = async () => {
      const start = performance.now();
      await fence();
      return performance.now() - start;
    };
    const kinds = Object.keys(views);
    for (const kind of kinds) await measure(views[kind], 1);
    const all = [];
    for (let round = 0; round < rounds; round += 1) {
      const row = { rest: await empty() };
      for (const kind of round % 2 ? kinds.toReversed() : kinds) row[kind] = await measure(views[kind], count);
      all.push(row);
    }
    return all;
  }, [backend, WIDTH, HEIGHT, FRAMES, ROUNDS]);
  await page.close();
  const rest = median(rounds.map((row) => row.rest));
  const times = (kind) => rounds.map((row) => (row[kind] - rest) / FRAMES);
  const one = times('one');
  return {
    one: median(one),
    ratios: Object.fromEntries(Object.keys(LIMITS).map((kind) => [kind, median(times(kind).map((time, index) => time / one[index]))])),
  };
}

/** What a step of scrolling through the long lists computes, in ms. */
async function scrolls(counts) {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-bench-'));
  writeCrowd(folder, counts);
  const crowd = await serveSite(mountsWithDesk(folder));
  const chromium = await browser('webgl2');
  try {
    const page = await chromium.newPage({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
    const view = await openDossier(page, crowd);
    await view.locator('[data-page="audit"]').click();
    await view.locator('.finding').first().waitFor();
    const findings = await scrollTime(page, 100);
    await page.evaluate(() => { document.querySelector('ganosis-view').view = { region: 'column-5' }; });
    await view.locator('details.evidence').first().waitFor();
    return { findings, observations: await scrollTime(page, 100) };
  } finally {
    await chromium.close();
    await crowd.stop();
    rmSync(folder, { recursive: true, force: true });
  }
}

/** A frame at 60 Hz, in ms. */
const FRAME_MS = 1000 / 60;
for (const [list, time] of Object.entries(await scrolls(CROWD))) tell(`a step of scrolling through ${CROWD[list]} ${list} / a frame at 60 Hz`, time / FRAME_MS, 1, 'ratio');

const site = await serveSite({ dossier: process.env.GANOSIS_DEMO, bench: (response) => { response.writeHead(200, { 'content-type': 'text/html' }); response.end('<!doctype html><title>Bench</title>'); } });
try {
  for (const backend of Object.keys(BACKENDS)) {
    const chromium = await browser(backend);
    try {
      tell(`first picture after navigation, ${backend}`, await firstPicture(chromium, site.address('dossier/'), backend), null, 'ms');
      const { one, ratios } = await frames(chromium, site.origin, backend);
      tell(`single frame, ${backend}`, one, null, 'ms');
      for (const [kind, ratio] of Object.entries(ratios)) tell(`frame of ${kind} / single frame, ${backend}`, ratio, LIMITS[kind], 'ratio');
    } finally {
      await chromium.close();
    }
  }
} finally {
  await site.stop();
}
