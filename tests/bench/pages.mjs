// The two pages that are measured, and how a script gets hold of each.
import { cpSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const HERE = fileURLToPath(new URL('./', import.meta.url));

/** Bundles the bare page as a web server would have it. @param {string} folder to write to */
export async function bundleBare(folder) {
  mkdirSync(folder, { recursive: true });
  for (const file of ['index.html', 'bare.css']) cpSync(join(HERE, 'bare', file), join(folder, file));
  await build({ entryPoints: [join(HERE, 'bare/bare.js')], outfile: join(folder, 'bare.js'), bundle: true, minify: true, format: 'esm', target: 'es2022', logLevel: 'warning' });
}

/** States that are compared first, and where the divider stands. */
export const SEEN = { left: 'as-found', right: 'evidence-based', position: 0.5 };

/** The page a visitor has, of the dossier in tiles. @param {string} origin @param {string} backend */
export const visitorsPage = (origin, backend) =>
  `${origin}/?${new URLSearchParams({ src: '/packed/', backend, language: 'en' })}#${new URLSearchParams({ ...SEEN, compare: 'swipe' })}`;

/** The picture alone, as large as the window. @param {string} origin @param {string} backend */
export const pictureAlone = (origin, backend) =>
  `${origin}/embed.html?${new URLSearchParams({ src: '/packed/', backend, language: 'en', controls: 'none', compare: 'swipe', ...SEEN })}`;

/** @param {string} origin @param {{width: number, height: number, camera: object}} seen a picture like that of the viewer */
export const barePage = (origin, { width, height, camera: { target_m, azimuth_deg, elevation_deg, distance_m, fov_deg } }) =>
  `${origin}/bare/?${new URLSearchParams({ dossier: '/whole/', ...SEEN, width, height, camera: [...target_m, azimuth_deg, elevation_deg, distance_m, fov_deg].join(',') })}`;

/** A machine that draws in software, and does other things beside, takes its time. */
const PATIENCE = { timeout: 300_000 };

/** Waits for the first picture. */
export async function viewerReady(page) {
  await page.waitForFunction(() => document.querySelector('ganosis-view')?.ready, null, PATIENCE);
  await page.evaluate(() => document.querySelector('ganosis-view').ready);
}

/** Waits for all that the picture wants. */
export async function viewerSettled(page) {
  await viewerReady(page);
  await page.evaluate(() => document.querySelector('ganosis-view').settled());
}

export const bareReady = (page) => page.waitForFunction(() => Boolean(globalThis.bare), null, PATIENCE);

export async function bareSettled(page) {
  await bareReady(page);
  await page.evaluate(() => bare.settled);
}

/** Runs before the scripts of a page of the viewer: gives a script the handle, and what tells when a device is done. */
export function hold(backend) {
  const adapter = globalThis.GPUAdapter?.prototype;
  if (adapter) {
    const ask = adapter.requestDevice;
    adapter.requestDevice = async function requestDevice(...wanted) {
      const device = await ask.apply(this, wanted);
      globalThis.held_device = device;
      return device;
    };
  }
  const take = async () => {
    const { Viewer } = await import(`${location.origin}/viewer/viewer-${backend}.js`);
    const { create } = Viewer;
    Viewer.create = async (...given) => {
      const handle = await create.apply(Viewer, given);
      globalThis.held = handle;
      return handle;
    };
  };
  void take();
}
