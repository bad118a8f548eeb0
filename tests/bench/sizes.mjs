// What a visitor fetches before a first picture, as a server would store it (brotli, quality 11): modules and scripts of
// one backend. Styles, words and the dossier itself come beside it. One JSON object a line, as `browser.mjs` tells it.
// Run by `cargo xtask bench`; by hand with GANOSIS_VIEWER and GANOSIS_BENCH (a folder to write to) set.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { importedBy } from '../../web/tools/imported.mjs';
import { packedOnce } from './link.mjs';

/** What is asked of this viewer: bounds of its own, in no standard. */
const LIMITS = { webgpu: 320_000, webgl2: 850_000 };
const { GANOSIS_VIEWER: site, GANOSIS_BENCH } = process.env;
if (!site || !GANOSIS_BENCH) throw new Error('set GANOSIS_VIEWER to the folder of the built site, and GANOSIS_BENCH (cargo xtask bench does)');

/** The part that begins with a module of this name. */
const part = (name) => {
  const all = readdirSync(join(site, 'internal/parts')).filter((file) => file.replace(/-[\w-]{8}\.js$/, '') === name);
  if (all.length !== 1) throw new Error(`${all.length} parts are called ${name}`);
  return `internal/parts/${all[0]}`;
};

for (const [backend, limit] of Object.entries(LIMITS)) {
  const scripts = new Set();
  for (const path of ['internal/page.js', part('early'), part('core'), part('tiles'), 'internal/porter/worker.js', `viewer/viewer-${backend}.js`, 'viewer/porter.js']) importedBy(site, path, scripts);
  const modules = [`viewer/viewer-${backend}_bg.wasm`, 'viewer/porter_bg.wasm'];
  const sum = (paths) => [...paths].reduce((all, path) => all + packedOnce(join(GANOSIS_BENCH, 'brotli'), readFileSync(join(site, path))).length, 0);
  const [of_scripts, of_modules] = [sum(scripts), sum(modules)];
  console.log(JSON.stringify({ name: `scripts before a picture, brotli, ${backend}`, measured: of_scripts, limit: null, unit: 'bytes' }));
  console.log(JSON.stringify({ name: `modules and scripts before a picture, brotli, ${backend}`, measured: of_scripts + of_modules, limit, unit: 'bytes' }));
}
