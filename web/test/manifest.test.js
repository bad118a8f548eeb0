import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import Ajv from "ajv";

const source = new URL("../src/", import.meta.url).pathname;
const files = readdirSync(source, { recursive: true }).filter((name) => name.endsWith(".js")).map((name) => readFileSync(join(source, name), "utf8"));
const element = readFileSync(new URL("../src/public/ganosis-view.js", import.meta.url), "utf8");
const { modules: [module] } = JSON.parse(readFileSync(new URL("../package/custom-elements.json", import.meta.url), "utf8"));
const [declared] = module.declarations;
const names = (list) => list.map(({ name }) => name).sort();
const found = (texts, pattern) => [...new Set(texts.flatMap((text) => [...text.matchAll(pattern)].map(([, name]) => name)))].sort();

test("the manifest lists every attribute that the element reads, and no other", () => {
  const seen = /const SEEN = \[([^\]]+)\]/.exec(element)[1].match(/\w+/g);
  const read = [...found([element], /(?:get|has)Attribute\("([\w-]+)"\)/g), ...found(files, /\.option\("(\w+)"\)/g), ...seen];
  assert.deepEqual(names(declared.attributes), [...new Set(read)].sort());
});

test("the manifest lists every event, part, property and public member", () => {
  assert.deepEqual(names(declared.events), found(files, /(?:#say|hooks\.say)\("(\w+)"/g));
  assert.deepEqual(names(declared.cssParts), found(files, /(?:part: |setAttribute\("part", )"(\w+)"/g));
  const sheet = readFileSync(new URL("../styles/room.css", import.meta.url), "utf8");
  assert.deepEqual(names(declared.cssProperties), found([sheet], /var\((--ganosis-\w+)/g));
  const own = found([element], /^  (?:get |set |async )?([a-z]\w*)\(/gm).filter((name) => !/Callback$|^constructor$|^simulateLoss$/.test(name));
  assert.deepEqual(names(declared.members), own);
});

/** The schema that its format publishes (npm `custom-elements-manifest`), by a validator of others (npm `ajv`). */
test("the manifest is one by the published schema", () => {
  const read = (/** @type {string} */ address) => JSON.parse(readFileSync(new URL(address, import.meta.url), "utf8"));
  const schema = read("../node_modules/custom-elements-manifest/schema.json");
  const manifest = read("../package/custom-elements.json");
  const valid = new Ajv({ allErrors: true, strict: false }).compile(schema);
  assert.ok(valid(manifest), JSON.stringify(valid.errors, null, 1));
  assert.equal(manifest.schemaVersion, "1.0.0");
  // It would find what is wrong.
  const [wrong] = structuredClone(manifest.modules);
  delete wrong.path;
  assert.equal(valid({ ...manifest, modules: [wrong] }), false);
});
