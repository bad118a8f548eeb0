// Puts the page's modules together into few files: a page of a hundred modules asks for each of them, in chains.
// `node bundle.mjs SITE [--readable] [GLUE.js …]` writes scripts and pages into SITE, and into its `viewer` what binds
// modules to JavaScript (the files named last).
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { rolldown } from 'rolldown';

const WEB = fileURLToPath(new URL('../', import.meta.url));
const [INTERNAL, PUBLIC] = ['src/internal/', 'src/public/'].map((folder) => join(WEB, folder));
/** The element and the scripts of pages: named by others, and parted where one is needed without the rest. */
const SCRIPTS = ['ganosis-view', 'internal/page', 'internal/embed', 'internal/tablet', 'internal/colouring'];
/** Each has all that it needs within: a worker that imported parts of the page would bring the page. */
const WORKERS = ['tablet-worker', 'internal/desk/worker', 'internal/porter/worker', 'internal/tripod/worker'];
/** Stands for the way from a file to the folder of all, until it is known where the file lies. */
const WAY_UP = '%the way up%';

const sourceOf = (path) => (path.startsWith('internal/') ? join(WEB, 'src', path) : join(PUBLIC, path));

/** Public modules and internal ones lie in two folders, and on a site in one. */
const oneSite = {
  name: 'one-site',
  resolveId(path, from) {
    const folder = from && `${dirname(from)}/`;
    if (folder === PUBLIC && path.startsWith('./internal/')) return sourceOf(path.slice(2));
    if (folder === INTERNAL && /^\.\.\/[\w-]+\.js$/.test(path)) return sourceOf(path.slice(3));
    return null;
  },
  transform(code, id) {
    return id === join(INTERNAL, 'site/base.js') ? code.replace('"../../"', `"${WAY_UP}"`) : null;
  },
};

const inputs = (names) => Object.fromEntries(names.map((path) => [path, sourceOf(`${path}.js`)]));

/** @param {Record<string, string>} input files by their names on the site @returns files of one bundle, none of which names another of another bundle */
async function together(input, output) {
  const made = await rolldown({ input, plugins: [oneSite], platform: 'browser' });
  try {
    return (await made.generate({ format: 'es', entryFileNames: '[name].js', chunkFileNames: 'internal/parts/[name]-[hash].js', ...output })).output;
  } finally {
    await made.close();
  }
}

/**
 * @param {string} site folder to write to
 * @param {{readable?: boolean, glue?: string[]}} [options]
 * @returns what was written, by path on the site: `imports` at once, `dynamicImports` and `moduleIds` it is made of
 */
export async function bundle(site, { readable = false, glue = [] } = {}) {
  const minify = !readable;
  const alone = [...WORKERS.map((name) => inputs([name])), ...glue.map((file) => ({ [`viewer/${basename(file, '.js')}`]: file }))];
  const bundles = await Promise.all([together(inputs(SCRIPTS), { minify }), ...alone.map((input) => together(input, { minify, codeSplitting: false }))]);
  const written = new Map(bundles.flat().map((file) => [file.fileName, file]));
  for (const [path, { code }] of written) {
    const depth = path.split('/').length - 1;
    mkdirSync(dirname(join(site, path)), { recursive: true });
    writeFileSync(join(site, path), code.replaceAll(WAY_UP, '../'.repeat(depth) || './'));
  }
  for (const name of readdirSync(WEB).filter((one) => one.endsWith('.html'))) {
    writeFileSync(join(site, name), withModules(readFileSync(join(WEB, name), 'utf8'), written));
  }
  return written;
}

/** A file and all that comes with it. */
export function broughtBy(path, written, found = new Set()) {
  if (!found.has(path)) {
    found.add(path);
    for (const one of written.get(path)?.imports ?? []) broughtBy(one, written, found);
  }
  return found;
}

/** The file in which a module of the sources begins a part of its own. */
export function partOf(source, written) {
  const found = [...written].find(([, { facadeModuleId }]) => facadeModuleId === sourceOf(source));
  if (!found) throw new Error(`${source} begins no part: nothing imports it when it is needed`);
  return found[0];
}

/** What a page asks for at once beside what its script imports: the element would ask for the first when it has begun, and for the second when that is there. */
const SOON = ['internal/early.js', 'internal/core.js'];

/** A page that asks at once for all that comes before a picture: files that import one another would follow in a chain. */
function withModules(html, written) {
  const [, indent, script] = /^( *)<script type="module" src="([^"]+)"><\/script>$/m.exec(html) ?? [];
  if (!script) throw new Error('a page without a module of its own');
  const wanted = new Set([script, ...SOON.map((source) => partOf(source, written))].flatMap((path) => [...broughtBy(path, written)]));
  wanted.delete(script);
  const links = [...wanted].map((path) => `${indent}<link rel="modulepreload" href="${path}">\n`);
  return html.replace(`${indent}<script type="module"`, (found) => links.join('') + found);
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [site, ...more] = process.argv.slice(2);
  await bundle(site, { readable: more.includes('--readable'), glue: more.filter((one) => one !== '--readable') });
}
