// Wild hands on a gallery tablet: touches at random places, swipes, pinches of buttons, reloads and lost devices,
// all from a seed, so that what fails once fails again.
import { readFileSync } from 'node:fs';

/** Numbers from 0 to 1 from a seed (mulberry32, public domain, Tommy Ettinger 2017). */
export function random(seed) {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let value = Math.imul(state ^ (state >>> 15), state | 1);
    value ^= value + Math.imul(value ^ (value >>> 7), value | 61);
    return ((value ^ (value >>> 14)) >>> 0) / 4294967296;
  };
}

/** So many events come one upon the other before the page is waited for: hands do not wait for pages. */
const BURST = 48;

/** How much memory the page holds, after collecting what is let go (bytes). */
export async function heap(session) {
  await session.send('HeapProfiler.collectGarbage');
  const { usedSize } = await session.send('Runtime.getHeapUsage');
  return usedSize;
}

/** What the browser's processes hold in memory, by their kind (bytes; Linux). */
export async function resident(browser) {
  const session = await browser.newBrowserCDPSession();
  const { processInfo } = await session.send('SystemInfo.getProcessInfo');
  await session.detach();
  const sums = {};
  for (const { type, id } of processInfo) {
    try {
      const pages = Number(readFileSync(`/proc/${id}/statm`, 'utf8').split(' ')[1]);
      sums[type] = (sums[type] ?? 0) + pages * 4096;
    } catch { /* It ended just now. */ }
  }
  return sums;
}

/**
 * The first half is cut into lives by reloads; the second is one long life, in which what grows has time to.
 * @param page with the tablet, ready
 * @param {{touches: number, seed: number, reloadEvery: number, loseEvery: number, homeEvery: number, atHome: (page) => Promise<void>, opened: (page) => Promise<void>, beforeLoss: (page) => Promise<void>, told?: (line: object) => void}} options
 * @returns {Promise<{heaps: number[], homes: number, reloads: number, losses: number}>}
 */
export async function soak(page, { touches, seed, reloadEvery, loseEvery, homeEvery, atHome, opened, beforeLoss, told }) {
  const next = random(seed);
  const session = await page.context().newCDPSession(page);
  const { width, height } = page.viewportSize();
  const counts = { heaps: [], homes: 0, reloads: 0, losses: 0 };
  /** How long each kind of thing took in all (ms). */
  const spent = {};
  const timed = async (kind, work) => {
    const start = performance.now();
    await work();
    spent[kind] = Math.round((spent[kind] ?? 0) + performance.now() - start);
  };
  const under_way = [];
  /** @param {string} type @param {object[]} touchPoints */
  const send = (type, touchPoints) => under_way.push(session.send('Input.dispatchTouchEvent', { type, touchPoints }));
  for (let touch = 1; touch <= touches; touch += 1) {
    const [x, y] = [Math.floor(next() * width), Math.floor(next() * height)];
    const kind = next();
    // A finger that taps, or slides, now and then with a second one.
    const fingers = kind < 0.9 ? 1 : 2;
    const points = (step) => Array.from({ length: fingers }, (_, finger) => ({ x: (x + finger * 60 + step * 12) % width, y: (y + step * 7 * (finger === 0 ? 1 : -1) + height) % height, id: finger }));
    send('touchStart', points(0));
    if (kind >= 0.75) for (let step = 1; step <= 4; step += 1) send('touchMove', points(step));
    send(kind > 0.98 ? 'touchCancel' : 'touchEnd', []);
    if (under_way.length >= BURST || [loseEvery, homeEvery, reloadEvery].some((every) => touch % every === 0)) await timed('touches', () => Promise.all(under_way.splice(0)));
    if (touch % loseEvery === 0) {
      counts.losses += 1;
      await beforeLoss(page);
      await page.evaluate(() => { try { document.querySelector('ganosis-view').simulateLoss(); } catch { /* It opens just now. */ } });
    }
    if (touch % homeEvery === 0) {
      await timed('homes', () => atHome(page));
      counts.homes += 1;
      counts.heaps.push(await heap(session));
      told?.({ touch, ...counts, heaps: undefined, spent, heap: counts.heaps.at(-1), resident: await resident(page.context().browser()) });
    }
    if (touch % reloadEvery === 0 && touch <= touches / 2) {
      counts.reloads += 1;
      await timed('reloads', async () => {
        await page.reload();
        await opened(page);
      });
    }
  }
  await session.detach();
  return counts;
}
