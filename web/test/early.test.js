import test from "node:test";
import assert from "node:assert/strict";
import { existsSync, readFileSync, readdirSync } from "node:fs";
import { posix } from "node:path";

const web = new URL("../", import.meta.url);
/** The file of a module by its address on the site. */
const fileOf = (path) => new URL(path.startsWith("internal/") ? `src/${path}` : `src/public/${path}`, web);

/** Every module that comes with one, by its own `import` and `export … from`, dynamic ones too. */
function broughtBy(path, seen = new Set(), naming = /(?:from |import |import\()"(\.[^"]+\.js)"/g) {
  if (seen.has(path)) return seen;
  seen.add(path);
  for (const [, name] of readFileSync(fileOf(path), "utf8").matchAll(naming)) broughtBy(posix.join(posix.dirname(path), name), seen, naming);
  return seen;
}

const pages = readdirSync(web).filter((name) => name.endsWith(".html"));
for (const page of pages) {
  test(`${page} asks early only for modules that its own module comes to`, () => {
    const text = readFileSync(new URL(page, web), "utf8");
    const [, own] = /<script type="module" src="([^"]+)">/.exec(text);
    const asked = [...text.matchAll(/<link rel="modulepreload" href="([^"]+)">/g)].map(([, href]) => href);
    assert.ok(asked.length > 0);
    const brought = broughtBy(own);
    for (const path of asked) {
      assert.ok(existsSync(fileOf(path)), path);
      assert.ok(brought.has(path), `${path} is not among the modules of ${own}`);
    }
  });
}

test("what asks early imports nothing that a page of ours does not ask for before", () => {
  const index = readFileSync(new URL("index.html", web), "utf8");
  const asked = [...index.matchAll(/<link rel="modulepreload" href="([^"]+)">/g)].map(([, href]) => href);
  const imported = broughtBy("internal/early.js", new Set(), /(?:from |import )"(\.[^"]+\.js)"/g);
  assert.deepEqual([...imported].filter((path) => !asked.includes(path)), []);
});
