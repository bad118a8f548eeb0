// What the browser holds while the camera goes its way over an object for minutes: its own counters, and what the
// system counts for its processes (without a graphics card the memory of textures is in there too).
import { readFileSync } from 'node:fs';
import { heap } from '../e2e/soak.mjs';
import { hold, pictureAlone, viewerSettled } from './pages.mjs';

/** How long the camera goes; the path asked for is 30 minutes. */
const MINUTES = Number(process.env.GANOSIS_BENCH_MINUTES) || 2;
/** Counted so often, ms. */
const EVERY_MS = 5_000;
const WINDOW = { viewport: { width: 960, height: 600 }, reducedMotion: 'reduce' };

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

/** @returns {Promise<{minutes: number, frames: number, rows: {heap: number, wasm: number, page: number, graphics: number}[]}>} bytes */
export async function memoryOver(chromium, site, backend) {
  site.shape(null);
  const context = await chromium.newContext(WINDOW);
  const whole = await chromium.newBrowserCDPSession();
  try {
    const page = await context.newPage();
    await page.addInitScript(hold, backend);
    await page.goto(pictureAlone(site.origin, backend), { waitUntil: 'commit' });
    await viewerSettled(page);
    const session = await context.newCDPSession(page);
    const first = await page.evaluate(() => document.querySelector('ganosis-view').view.camera);
    const rows = [];
    const began = Date.now();
    let frames = 0;
    let counted = 0;
    /** A round a minute, so that every place is seen again. */
    for (let passed = 0; passed < MINUTES * 60_000; passed = Date.now() - began) {
      await page.evaluate(async (camera) => {
        document.querySelector('ganosis-view').view = { camera };
        await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
      }, placed(passed / 60_000, first));
      frames += 1;
      if (passed - counted < EVERY_MS && rows.length > 0) continue;
      counted = passed;
      const { processInfo } = await whole.send('SystemInfo.getProcessInfo');
      rows.push({
        heap: await heap(session),
        wasm: await page.evaluate(async (name) => (await (await import(`/viewer/viewer-${name}.js`)).default()).memory.buffer.byteLength, backend),
        page: resident(processInfo, 'renderer'), graphics: resident(processInfo, 'GPU'),
      });
    }
    return { minutes: MINUTES, frames, rows };
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
