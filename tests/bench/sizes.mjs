// What a visitor fetches before a first picture, as a server would store it (brotli, quality 11): modules and scripts of
// one backend. Styles, words and the dossier itself come beside it. One JSON object a line, as `browser.mjs` tells it.
// Run by `cargo xtask bench`; by hand with GANOSIS_VIEWER set.
import { readFileSync, readdirSync } from 'node:fs';
import { join, posix } from 'node:path';
import { brotliCompressSync, constants } from 'node:zlib';

/** What is asked of this viewer: bounds of its own, in no standard. */
const LIMITS = { webgpu: 320_000, webgl2: 850_000 };
const { GANOSIS_VIEWER: site } = process.env;
if (!site) throw new Error('set GANOSIS_VIEWER to the folder of the built site (cargo xtask bench does)');

const brotli = (bytes) => brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length } }).length;
const text = (path) => readFileSync(join(site, path), 'utf8');
/** The part that begins with a module of this name. */
const part = (name) => {
  const all = readdirSync(join(site, 'internal/parts')).filter((file) => file.replace(/-[\w-]{8}\.js$/, '') === name);
  if (all.length !== 1) throw new Error(`${all.length} parts are called ${name}`);
  return `internal/parts/${all[0]}`;
};

/** A script and those that it imports at once. */
function withImports(path, found) {
  if (found.has(path)) return;
  found.add(path);
  for (const [, name] of text(path).matchAll(/(?:from|import)\s*["'`](\.[^"'`]+\.js)["'`]/g)) withImports(posix.join(posix.dirname(path), name), found);
}

for (const [backend, limit] of Object.entries(LIMITS)) {
  const scripts = new Set();
  for (const path of ['internal/page.js', part('early'), part('core'), part('tiles'), 'internal/porter/worker.js', `viewer/viewer-${backend}.js`, 'viewer/porter.js']) withImports(path, scripts);
  const modules = [`viewer/viewer-${backend}_bg.wasm`, 'viewer/porter_bg.wasm'];
  const sum = (paths) => [...paths].reduce((all, path) => all + brotli(readFileSync(join(site, path))), 0);
  const [of_scripts, of_modules] = [sum(scripts), sum(modules)];
  console.log(JSON.stringify({ name: `scripts before a picture, brotli, ${backend}`, measured: of_scripts, limit: null, unit: 'bytes' }));
  console.log(JSON.stringify({ name: `modules and scripts before a picture, brotli, ${backend}`, measured: of_scripts + of_modules, limit, unit: 'bytes' }));
}
