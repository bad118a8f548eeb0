// Wild hands on a gallery tablet: touches at random places, swipes, pinches of buttons, reloads and lost devices,
// all from a seed, so that what fails once fails again.

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

/** How much memory the page holds, after collecting what is let go (bytes). */
export async function heap(session) {
  await session.send('HeapProfiler.collectGarbage');
  const { usedSize } = await session.send('Runtime.getHeapUsage');
  return usedSize;
}

/**
 * @param page with the tablet, ready
 * @param {{touches: number, seed: number, reloadEvery: number, loseEvery: number, homeEvery: number, atHome: (page) => Promise<void>, opened: (page) => Promise<void>}} options
 * @returns {Promise<{heaps: number[], homes: number, reloads: number, losses: number}>}
 */
export async function soak(page, { touches, seed, reloadEvery, loseEvery, homeEvery, atHome, opened }) {
  const next = random(seed);
  const session = await page.context().newCDPSession(page);
  const { width, height } = page.viewportSize();
  const counts = { heaps: [], homes: 0, reloads: 0, losses: 0 };
  for (let touch = 1; touch <= touches; touch += 1) {
    const [x, y] = [Math.floor(next() * width), Math.floor(next() * height)];
    const kind = next();
    if (kind < 0.75) await page.touchscreen.tap(x, y);
    else {
      // A finger that slides, now and then a second one with it.
      const fingers = kind < 0.9 ? 1 : 2;
      const points = (step) => Array.from({ length: fingers }, (_, finger) => ({ x: (x + finger * 60 + step * 12) % width, y: (y + step * 7 * (finger === 0 ? 1 : -1) + height) % height, id: finger }));
      await session.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: points(0) });
      for (let step = 1; step <= 4; step += 1) await session.send('Input.dispatchTouchEvent', { type: 'touchMove', touchPoints: points(step) });
      await session.send('Input.dispatchTouchEvent', { type: kind > 0.98 ? 'touchCancel' : 'touchEnd', touchPoints: [] });
    }
    if (touch % loseEvery === 0) {
      counts.losses += 1;
      await page.evaluate(() => { try { document.querySelector('ganosis-view').simulateLoss(); } catch { /* It opens just now. */ } });
    }
    if (touch % homeEvery === 0) {
      await atHome(page);
      counts.homes += 1;
      counts.heaps.push(await heap(session));
    }
    if (touch % reloadEvery === 0) {
      counts.reloads += 1;
      await page.reload();
      await opened(page);
    }
  }
  await session.detach();
  return counts;
}
