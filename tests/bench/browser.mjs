// The viewer beside a bare page on a general-purpose library, in one run: the same browser, machine, mesh and images, in
// turns. One JSON object a line: {name, measured, limit, unit}, and one {about} of the machine. Run by
// `cargo xtask bench`; by hand with GANOSIS_VIEWER, GANOSIS_WHOLE, GANOSIS_PACKED (dossiers of dossier.mjs) and
// GANOSIS_BENCH (a folder to write to) set: node browser.mjs [webgl2|webgpu] [opening|tasks|frames|memory] …
import { mkdirSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, release, totalmem } from 'node:os';
import { join } from 'node:path';
import { BACKENDS, browser } from '../e2e/harness.mjs';
import { HEIGHT, WIDTH, swipeFrames } from './frames.mjs';
import { serveLinked } from './link.mjs';
import { growth, memoryOver } from './memory.mjs';
import { firstCorrect, pictureOf, tasksWhileLoading } from './opening.mjs';
import { bareSettled, barePage, bundleBare, viewerSettled, visitorsPage } from './pages.mjs';

/** What is asked of this viewer: bounds of its own, in no standard. */
const LIMITS = { first: 0.35, bytes: 0.25, to_bare: 1, to_one: 1.15, task_ms: 50, device_bytes: 320 * 2 ** 20, growth: 1.05 };
/** Times each page is opened, in turns. */
const OPENED = Number(process.env.GANOSIS_BENCH_OPENED) || 3;

const { GANOSIS_WHOLE, GANOSIS_PACKED, GANOSIS_BENCH } = process.env;
if (!GANOSIS_WHOLE || !GANOSIS_PACKED || !GANOSIS_BENCH) throw new Error('set GANOSIS_WHOLE, GANOSIS_PACKED and GANOSIS_BENCH (cargo xtask bench does)');
const asked = process.argv.slice(2);
const backends = Object.keys(BACKENDS).filter((name) => asked.includes(name) || !asked.some((one) => one in BACKENDS));
const wanted = (part) => asked.includes(part) || asked.every((one) => one in BACKENDS);

/** All that was measured, for whoever asks where a figure comes from. */
const detail = { about: null, backends: {} };
const tell = (name, measured, limit, unit) => console.log(JSON.stringify({ name, measured, limit, unit }));
const note = (text) => console.error(`${new Date().toISOString().slice(11, 19)} load ${loadavg()[0].toFixed(1)}  ${text}`);
const smallest = (values) => Math.min(...values);

/** @param {string} backend */
async function opening(chromium, site, backend, seen) {
  const picture = await pictureOf(chromium, site, backend);
  const pages = { ours: visitorsPage(site.origin, backend), bare: barePage(site.origin, picture) };
  const found = { ours: [], bare: [] };
  for (let round = 0; round < OPENED; round += 1) {
    for (const name of round % 2 ? ['bare', 'ours'] : ['ours', 'bare']) {
      found[name].push(await firstCorrect(chromium, site, pages[name], picture.places));
      note(`${backend}, ${name}: first correct picture ${found[name].at(-1).ms.toFixed(0)} ms, ${found[name].at(-1).bytes} bytes`);
    }
  }
  // What else the machine does only ever adds.
  const of = (name, key) => smallest(found[name].map((one) => one[key]));
  tell(`first correct picture, ${backend}`, of('ours', 'ms'), null, 'ms');
  tell(`first correct picture, bare page, ${backend}`, of('bare', 'ms'), null, 'ms');
  tell(`first correct picture / bare page, ${backend}`, of('ours', 'ms') / of('bare', 'ms'), LIMITS.first, 'ratio');
  tell(`bytes before it, ${backend}`, of('ours', 'bytes'), null, 'bytes');
  tell(`bytes before it / bare page, ${backend}`, of('ours', 'bytes') / of('bare', 'bytes'), LIMITS.bytes, 'ratio');
  Object.assign(seen, { picture, opening: found });
}

async function tasks(chromium, site, backend, seen) {
  const size = await pictureSize(chromium, site, backend, seen);
  const found = { ours: [], bare: [] };
  for (let round = 0; round < OPENED; round += 1) {
    found.ours.push(await tasksWhileLoading(chromium, site, visitorsPage(site.origin, backend), viewerSettled));
    found.bare.push(await tasksWhileLoading(chromium, site, barePage(site.origin, size), bareSettled));
    note(`${backend}: longest task ${found.ours.at(-1).longest_ms} ms, bare page ${found.bare.at(-1).longest_ms} ms`);
  }
  tell(`longest task while loading, ${backend}`, smallest(found.ours.map((one) => one.longest_ms)), LIMITS.task_ms, 'ms');
  tell(`longest task while loading, bare page, ${backend}`, smallest(found.bare.map((one) => one.longest_ms)), null, 'ms');
  seen.tasks = found;
}

/** The picture that was looked at before, or one to look at. */
const pictureSize = async (chromium, site, backend, seen) => seen.picture ?? pictureOf(chromium, site, backend);

async function frames(chromium, site, backend, seen) {
  const found = await swipeFrames(chromium, site, backend);
  note(`${backend}: ${JSON.stringify(found)}`);
  tell(`frame of a swipe at ${WIDTH} × ${HEIGHT}, ${backend}`, found.ms.swipe, null, 'ms');
  tell(`frame of a swipe / bare page, ${backend}`, found.to_bare, LIMITS.to_bare, 'ratio');
  tell(`frame of a swipe that turns / bare page, ${backend}`, found.to_bare_turned, LIMITS.to_bare, 'ratio');
  tell(`frame of a swipe / of one state, both turning, ${backend}`, found.to_one, LIMITS.to_one, 'ratio');
  seen.frames = found;
}

async function memory(chromium, site, backend, seen) {
  const found = await memoryOver(chromium, site, backend);
  const of = (key) => found.rows.map((row) => row[key]);
  note(`${backend}: ${found.frames} frames of ${found.states} states in ${found.minutes} minutes, ${JSON.stringify(found.rows.at(-1))}`);
  const names = { asked: 'asked of the graphics device', heap: 'memory of scripts', wasm: 'memory of the module', page: 'memory of the page’s process', graphics: 'memory of the graphics process' };
  for (const [key, name] of Object.entries(names)) {
    tell(`${name}, at most, ${backend}`, Math.max(...of(key)), key === 'asked' ? LIMITS.device_bytes : null, 'bytes');
    tell(`${name}, end / middle of ${found.minutes} min, ${backend}`, growth(of(key)), LIMITS.growth, 'ratio');
  }
  seen.memory = found;
}

const PARTS = { opening, tasks, frames, memory };

mkdirSync(GANOSIS_BENCH, { recursive: true });
const bare = join(GANOSIS_BENCH, 'bare');
await bundleBare(bare);
const site = await serveLinked({ bare, whole: GANOSIS_WHOLE, packed: GANOSIS_PACKED }, join(GANOSIS_BENCH, 'brotli'));
try {
  for (const backend of backends) {
    const chromium = await browser(backend);
    const seen = (detail.backends[backend] = {});
    try {
      detail.about ??= await about(chromium);
      console.log(JSON.stringify({ about: { ...detail.about, backend, load: loadavg().map((value) => Number(value.toFixed(2))) } }));
      for (const [part, measure] of Object.entries(PARTS)) if (wanted(part)) await measure(chromium, site, backend, seen);
    } finally {
      await chromium.close();
      writeFileSync(join(GANOSIS_BENCH, 'browser.json'), `${JSON.stringify(detail, null, 1)}\n`);
    }
  }
} finally {
  await site.stop();
}

/** What was measured on. */
async function about(chromium) {
  const page = await chromium.newPage();
  const drawn_by = await page.evaluate(() => {
    const gl = document.createElement('canvas').getContext('webgl2');
    const names = gl?.getExtension('WEBGL_debug_renderer_info');
    return names ? gl.getParameter(names.UNMASKED_RENDERER_WEBGL) : 'unknown';
  });
  await page.close();
  const processors = cpus();
  return { processor: processors[0]?.model ?? 'unknown', processors: processors.length, memory_bytes: totalmem(), system: `Linux ${release()}`, browser: `Chromium ${chromium.version()}`, drawn_by, three: (await import('three')).REVISION };
}
