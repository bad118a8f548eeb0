import test from "node:test";
import assert from "node:assert/strict";
import { mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { broughtBy, bundle, partOf } from "../tools/bundle.mjs";
import { importedBy } from "../tools/imported.mjs";

/** More than so many files would follow one another, as single modules did; a choice of ours. */
const FILES_BEFORE_A_PICTURE = 16;

/** Begin what comes before a picture, beside the script of a page. */
const BEFORE_A_PICTURE = ["internal/early.js", "internal/core.js"];

const site = mkdtempSync(join(tmpdir(), "ganosis-bundle-"));
test.after(() => rmSync(site, { recursive: true, force: true }));
const written = await bundle(site);
const text = (path) => readFileSync(join(site, path), "utf8");

for (const page of readdirSync(site).filter((name) => name.endsWith(".html"))) {
  test(`${page} asks at once for what its script imports and for what comes before a picture, and for nothing else`, () => {
    const [, own] = /<script type="module" src="([^"]+)">/.exec(text(page));
    const asked = [...text(page).matchAll(/<link rel="modulepreload" href="([^"]+)">/g)].map(([, href]) => href);
    // By the text of the files, not by what the bundler says of them.
    const imported = importedBy(site, own);
    for (const source of BEFORE_A_PICTURE) importedBy(site, partOf(source, written), imported);
    assert.deepEqual(asked.toSorted(), [...imported].filter((path) => path !== own).sort());
  });
}

test("few files come before a picture, and none of a tool that nobody took up", () => {
  const first = broughtBy("internal/page.js", written);
  for (const source of BEFORE_A_PICTURE) broughtBy(partOf(source, written), written, first);
  assert.ok(first.size <= FILES_BEFORE_A_PICTURE, [...first].join(" "));
  const modules = [...first].flatMap((path) => written.get(path).moduleIds);
  assert.ok(modules.some((id) => id.endsWith("/stage.js")));
  assert.deepEqual(modules.filter((id) => /\/(?:desk\/session|panels\/editing\/all|tripod\/|colouring\/|gallery\/)/.test(id)), []);
});

test("workers have all that they need, and every file knows the way to the folder of all", () => {
  for (const path of ["tablet-worker.js", "internal/desk/worker.js", "internal/porter/worker.js", "internal/tripod/worker.js"]) assert.deepEqual(written.get(path).imports, [], path);
  const ways = [...written.keys()].flatMap((path) => [...text(path).matchAll(/new URL\(["'`]([^"'`]*)["'`],\s*import\.meta\.url\)/g)].map(([, way]) => [path, new URL(way, `https://museum.example/viewer/${path}`).href]));
  assert.ok(ways.length >= 4);
  for (const [path, folder] of ways) assert.equal(folder, "https://museum.example/viewer/", path);
});
