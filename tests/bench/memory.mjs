// What the browser holds while the camera goes its way over an object for minutes: what the page asked of the graphics
// device and did not give back, the browser's own counters, and what the system counts for its processes (without a
// graphics card the memory of textures is in there too).
import { readFileSync } from 'node:fs';
import { ON_A_CARD } from '../e2e/harness.mjs';
import { countHeld, heldBy } from '../e2e/held.mjs';
import { heap } from '../e2e/soak.mjs';
import { HEIGHT, WIDTH } from './frames.mjs';
import { hold, pictureAlone, viewerSettled } from './pages.mjs';

/** How long the camera goes; the path asked for is 30 minutes. */
const MINUTES = Number(process.env.GANOSIS_BENCH_MINUTES) || 2;
/** Counted so often, ms. */
const EVERY_MS = 5_000;
/** Two states are seen so long. */
const PAIR_MS = 10_000;
/** Drawn by a processor a whole window would leave few places seen in a minute. */
const WINDOW = { viewport: ON_A_CARD ? { width: WIDTH, height: HEIGHT } : { width: 960, height: 600 }, reducedMotion: 'reduce' };
/** Ways to compare, by turns. */
const COMPARISONS = ['swipe', 'difference', 'one', 'blend'];

/** Where the camera is at a share of a round: around the object, up and down, from all of it to a hand's breadth. @param {number} share @param {{distance_m: number}} first */
const placed = (share, first) => ({
  ...first,
  azimuth_deg: 60 * Math.sin(2 * Math.PI * share), elevation_deg: 25 * Math.sin(4 * Math.PI * share),
  distance_m: first.distance_m * 0.15 ** (0.5 - 0.5 * Math.cos(6 * Math.PI * share)),
});

/** Resident memory of the browser's processes of a kind, bytes. That of the page grows by every answer of the server: what drives the browser keeps them for its debugger (without one it stays as it is). @param {{type: string, id: number}[]} processes @param {string} type */
function resident(processes, type) {
  let sum = 0;
  for (const { type: kind, id } of processes) if (kind === type) {
    const status = readFileSync(`/proc/${id}/status`, 'utf8');
    for (const [, kib] of status.matchAll(/^Rss(?:Anon|Shmem):\s+(\d+) kB$/gm)) sum += Number(kib) * 1024;
  }
  return sum;
}

/** The pair of states seen after so many others, so that all layers of a dossier come, in one comparison after the other. @param {number} before @param {{id: string}[]} states */
const pairAfter = (before, states) => ({
  left: states[before % states.length].id, right: states[(before + 1) % states.length].id,
  compare: COMPARISONS[Math.floor(before / states.length) % COMPARISONS.length],
});

/** @returns {Promise<{minutes: number, frames: number, states: number, rows: {asked: number, heap: number, wasm: number, page: number, graphics: number}[]}>} bytes */
export async function memoryOver(chromium, site, backend) {
  site.shape(null);
  const context = await chromium.newContext(WINDOW);
  const whole = await chromium.newBrowserCDPSession();
  try {
    const page = await context.newPage();
    await countHeld(page);
    await page.addInitScript(hold, backend);
    await page.goto(pictureAlone(site.origin, backend), { waitUntil: 'commit' });
    await viewerSettled(page);
    const session = await context.newCDPSession(page);
    const first = await page.evaluate(() => document.querySelector('ganosis-view').view.camera);
    const states = await page.evaluate(() => document.querySelector('ganosis-view').dossier.states);
    const rows = [];
    const began = Date.now();
    let frames = 0;
    let counted = 0;
    /** A round a minute, so that every place is seen again. */
    for (let passed = 0; passed < MINUTES * 60_000; passed = Date.now() - began) {
      await page.evaluate(async (view) => {
        document.querySelector('ganosis-view').view = view;
        await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
      }, { camera: placed(passed / 60_000, first), ...pairAfter(Math.floor(passed / PAIR_MS), states) });
      frames += 1;
      if (passed - counted < EVERY_MS && rows.length > 0) continue;
      counted = passed;
      const { processInfo } = await whole.send('SystemInfo.getProcessInfo');
      rows.push({
        asked: Object.values(await heldBy(page)).reduce((sum, bytes) => sum + bytes), heap: await heap(session),
        wasm: await page.evaluate(async (name) => (await (await import(`/viewer/viewer-${name}.js`)).default()).memory.buffer.byteLength, backend),
        page: resident(processInfo, 'renderer'), graphics: resident(processInfo, 'GPU'),
      });
    }
    return { minutes: MINUTES, frames, states: states.length, rows };
  } finally {
    await context.close();
    await whole.detach();
  }
}

/** What the last third holds at most, in what the third before it held at most: flat is 1. @param {number[]} values */
export function growth(values) {
  const third = Math.max(1, Math.floor(values.length / 3));
  return Math.max(...values.slice(-third)) / Math.max(...values.slice(-2 * third, -third));
}
