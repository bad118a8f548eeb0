// From navigation to the first correct picture, over a link, with nothing cached; and the longest task of the main
// thread while a page loads.
import { TOLERANCE, knownPlaces, watch } from './known.mjs';
import { SEEN, bareReady, barePage, viewerReady, visitorsPage } from './pages.mjs';

/** The link of a visitor, as it was asked for. */
const LINK = { bits_per_second: 20e6, latency_ms: 40 };
/** A tablet's, on its side. */
const WINDOW = { viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' };
/** A picture that has not come by then does not come. */
const PATIENCE_MS = Number(process.env.GANOSIS_BENCH_PATIENCE_MS) || 240_000;

/** What the viewer shows at first: its size, its camera, and known places of it. */
export async function pictureOf(chromium, site, backend) {
  site.shape(null);
  const context = await chromium.newContext(WINDOW);
  try {
    const page = await context.newPage();
    await page.goto(visitorsPage(site.origin, backend), { waitUntil: 'commit' });
    await viewerReady(page);
    const seen = await page.evaluate(() => {
      const view = document.querySelector('ganosis-view');
      const { width, height } = view.shadowRoot.querySelector('.stage canvas');
      return { width, height, camera: view.view.camera };
    });
    const bare = await context.newPage();
    await bare.goto(barePage(site.origin, seen), { waitUntil: 'commit' });
    await bareReady(bare);
    const places = await knownPlaces(bare, '/whole/', { ...seen, states: [SEEN.left, SEEN.right], position: SEEN.position });
    return { ...seen, places };
  } finally {
    await context.close();
  }
}

/** @param {string} address @returns {Promise<{ms: number, bytes: number, by_path: Record<string, number>}>} */
export async function firstCorrect(chromium, site, address, places, link = LINK) {
  const context = await chromium.newContext(WINDOW);
  try {
    const page = await context.newPage();
    await page.addInitScript(watch, [places, TOLERANCE]);
    site.shape(link);
    await page.goto(address, { waitUntil: 'commit' });
    const done = await page.waitForFunction(() => window.watched?.correct_ms ?? null, null, { timeout: PATIENCE_MS, polling: 200 }).catch(() => null);
    const { correct_ms, origin_ms, worst, looks } = await page.evaluate(() => ({ ...window.watched, origin_ms: performance.timeOrigin }));
    if (!done) throw new Error(`${address} showed no correct picture in ${PATIENCE_MS} ms: after ${looks} looks the places are off by ${worst?.map((value) => value.toFixed(0))}`);
    return { ms: correct_ms, ...site.bytesAt(origin_ms + correct_ms) };
  } finally {
    await context.close();
    site.shape(null);
  }
}

/**
 * The longest task of the main thread until everything that the picture wants is here, and each task over 50 ms, in ms.
 * @param {(page: import('playwright-core').Page) => Promise<void>} settled
 */
export async function tasksWhileLoading(chromium, site, address, settled, link = null) {
  const context = await chromium.newContext(WINDOW);
  try {
    const page = await context.newPage();
    await page.addInitScript(() => {
      window.long_tasks = [];
      new PerformanceObserver((list) => {
        for (const { startTime, duration } of list.getEntries()) window.long_tasks.push({ at_ms: startTime, ms: duration });
      }).observe({ type: 'longtask', buffered: true });
    });
    site.shape(link);
    await page.goto(address, { waitUntil: 'commit' });
    await settled(page);
    // What is observed is told after it.
    await page.waitForTimeout(300);
    const tasks = await page.evaluate(() => window.long_tasks);
    return { longest_ms: Math.max(0, ...tasks.map(({ ms }) => ms)), tasks };
  } finally {
    await context.close();
    site.shape(null);
  }
}
