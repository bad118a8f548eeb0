// Server, browser and pixels for the tests.
import { spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { existsSync } from 'node:fs';
import axe from 'axe-core';
import { chromium } from 'playwright-core';

/** With `GANOSIS_GRAPHICS=card` Chromium draws on the machine's graphics card, by its Vulkan driver. */
export const ON_A_CARD = process.env.GANOSIS_GRAPHICS === 'card';
const CARD = ['--ignore-gpu-blocklist', '--use-gl=angle', '--use-angle=vulkan', '--use-vulkan=native', '--enable-features=Vulkan', '--disable-vulkan-surface', '--disable-gpu-sandbox'];

/** Both backends, each with the flags it needs in a headless Chromium, without a graphics card or on one. */
export const BACKENDS = ON_A_CARD ? { webgl2: CARD, webgpu: [...CARD, '--enable-unsafe-webgpu'] } : {
  webgl2: [],
  webgpu: [
    '--enable-unsafe-webgpu',
    '--use-webgpu-adapter=swiftshader',
    '--enable-features=Vulkan',
    '--use-vulkan=swiftshader',
    '--use-gl=angle',
    '--use-angle=swiftshader',
    '--enable-unsafe-swiftshader',
  ],
};

export const CHROMIUM = process.env.CHROMIUM
  ?? ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find((path) => existsSync(path));

/** Serves `path` with the command; gives its address and a way to stop it. */
export async function serve(path, ...more) {
  const program = process.env.GANOSIS;
  if (!program) throw new Error('set GANOSIS to the ganosis binary (cargo xtask test does)');
  const args = ['open', path, '--no-browser', '--port', '0', ...more];
  if (process.env.GANOSIS_VIEWER) args.push('--viewer', process.env.GANOSIS_VIEWER);
  const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines = createInterface({ input: child.stdout });
  const address = await new Promise((resolve, reject) => {
    lines.once('line', resolve);
    child.once('exit', (code) => reject(new Error(`ganosis open ended with ${code}`)));
  });
  return { address, stop: () => child.kill('SIGTERM') };
}

/**
 * A browser for one backend.
 * @param {string} backend @param {{coarse?: boolean}} [options] `coarse`: pictures have a quarter of the pixels, for tests
 * that look at the page around them; where a processor draws, pixels are most of the time that a page takes
 */
export async function browser(backend, { coarse = false } = {}) {
  const flags = ['--no-sandbox', '--hide-scrollbars', ...BACKENDS[backend]];
  const launched = await chromium.launch({ executablePath: CHROMIUM, args: flags });
  if (coarse) {
    for (const name of ['newContext', 'newPage']) {
      const own = launched[name].bind(launched);
      launched[name] = (options) => own({ deviceScaleFactor: 0.5, ...options });
    }
  }
  if (ON_A_CARD && backend === 'webgpu') await waitForCard(launched);
  return launched;
}

/** The first page that asks for a card may be told that there is none, while the browser still looks for it. */
async function waitForCard(launched) {
  const page = await launched.newPage();
  await page.route('http://localhost/', (route) => route.fulfill({ contentType: 'text/html', body: '<!doctype html>' }));
  await page.goto('http://localhost/');
  await page.waitForFunction(() => navigator.gpu.requestAdapter().then((card) => card && !card.info.isFallbackAdapter), null, { timeout: 20_000, polling: 200 });
  await page.close();
}

/** A camera that looks squarely at the middle of the fixture's square, from so far. */
export const facing = (distance_m, fov_deg = 27) => ({ target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, fov_deg, distance_m });

/** The same, from where the picture shows so many metres of it in its height. */
export const seeing = (height_m, fov_deg = 27) => facing(height_m / 2 / Math.tan((fov_deg / 2) * (Math.PI / 180)), fov_deg);

/** Where a point of the square lies on the screen, by the pinhole that the camera is, and pixels a metre. */
export async function onScreen(view, { distance_m, fov_deg }, x_m, y_m) {
  const box = await view.locator('.stage canvas').boundingBox();
  const scale = box.height / (2 * distance_m * Math.tan((fov_deg * Math.PI) / 360));
  return [box.x + box.width / 2 + x_m * scale, box.y + box.height / 2 - y_m * scale, scale];
}

/** Opens an address and waits until the element is ready, or says what the page says. */
export async function openReady(page, address, backend) {
  const url = new URL(address);
  url.searchParams.set('backend', backend);
  await page.goto(url.href);
  await page.waitForFunction(() => document.querySelector('ganosis-view')?.ready, null, { timeout: 60_000 });
  await page.evaluate(async () => {
    await Promise.race([
      document.querySelector('ganosis-view').ready,
      new Promise((_, refuse) => { setTimeout(() => refuse(new Error('not ready after 90 s')), 90_000); }),
    ]);
  });
}

/** Waits until everything that was asked for is here and on the picture. */
export const settled = (page, timeout = 60_000) => page.waitForFunction(
  () => !document.querySelector('ganosis-view').shadowRoot.querySelector('[data-busy]'), null, { timeout });

/** What axe-core objects to on a page, a line a rule, with the first three places. */
export async function violations(page) {
  if (!await page.evaluate(() => 'axe' in globalThis)) await page.evaluate(axe.source);
  return page.evaluate(async () => {
    const { violations: found } = await globalThis.axe.run(document, { resultTypes: ['violations'] });
    return found.map(({ id, nodes }) => `${id}: ${nodes.slice(0, 3).map(({ target, failureSummary }) => `${target.flat().join(' ')} ${failureSummary}`).join('; ')}`);
  });
}

/** The picture of `snapshot` as RGBA bytes; with a change of the view it is asked for in the same breath. */
export async function snapshot(page, width, height, change = null) {
  const values = await page.evaluate(async ([w, h, view]) => {
    const el = document.querySelector('ganosis-view');
    if (view) el.view = view;
    const blob = await el.snapshot({ width: w, height: h });
    const bitmap = await createImageBitmap(blob, { colorSpaceConversion: 'none', premultiplyAlpha: 'none' });
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height);
    const context = canvas.getContext('2d');
    context.drawImage(bitmap, 0, 0);
    const data = context.getImageData(0, 0, bitmap.width, bitmap.height).data;
    let text = '';
    for (let i = 0; i < data.length; i += 8192) text += String.fromCharCode(...data.subarray(i, i + 8192));
    return btoa(text);
  }, [width, height, change]);
  return Buffer.from(values, 'base64');
}

/** Sets the view and waits for two frames. */
export async function setView(page, view) {
  await page.evaluate(async (change) => {
    document.querySelector('ganosis-view').view = change;
    await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
  }, view);
}

export const getView = (page) => page.evaluate(() => document.querySelector('ganosis-view').view);
export const probe = (page, x, y) =>
  page.evaluate(([px, py]) => document.querySelector('ganosis-view').probe(px, py), [x, y]);
