import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";

const folder = new URL("../messages/", import.meta.url);
const messages = Object.fromEntries(["en", "de", "es", "ar"].map((tag) => [tag, JSON.parse(readFileSync(new URL(`${tag}.json`, folder), "utf8"))]));
const sources = readdirSync(new URL("../src", import.meta.url), { recursive: true }).filter((name) => name.endsWith(".js"))
  .map((name) => readFileSync(join(new URL("../src", import.meta.url).pathname, name), "utf8"));

test("every message that the page asks for is there in every language", () => {
  const asked = new Set(sources.flatMap((text) => [...text.matchAll(/\bt\("([^"]+)"/g)].map(([, key]) => key)));
  assert.ok(asked.size > 200);
  for (const [tag, all] of Object.entries(messages)) assert.deepEqual([...asked].filter((key) => !(key in all)), [], tag);
});

test("messages made of parts have every one of their parts", () => {
  const parts = {
    "severity.": ["error", "warning", "note"], "review.": ["agree", "dispute", "ask", "agree.said", "dispute.said", "ask.said", "agree.why", "dispute.why", "ask.why"],
    "draw.": ["look", "brush", "lasso", "colour", "band", "add", "take", "free", "all", "grow", "shrink"],
    "response.": ["none", "weak", "strong"],
    "gallery.counted.": ["attendant", "begun", "ended", "left_alone", "seconds", "pin_opened", "state", "stop", "language"],
  };
  for (const kind of ["edit.add.", "edit.amend.", "edit.group.", "form.", "undo.add.", "undo.change.", "undo.remove."]) parts[kind] = ["pin", "evidence", "claim", "pigment", "person", "region"];
  const keys = Object.entries(parts).flatMap(([start, ends]) => ends.map((end) => start + end));
  for (const [tag, all] of Object.entries(messages)) assert.deepEqual(keys.filter((key) => !(key in all)), [], tag);
});

test("placeholders are the same in every language", () => {
  const names = (text) => [...new Set([...JSON.stringify(text).matchAll(/\{(\w+)\}/g)].map(([, name]) => name))].sort();
  for (const key of Object.keys(messages.en)) for (const tag of ["de", "es", "ar"]) {
    assert.deepEqual(names(messages[tag][key] ?? "").filter((name) => name !== "count"), names(messages.en[key]).filter((name) => name !== "count"), `${tag}: ${key}`);
  }
});

test("no message is there twice: the later one would be said for both", () => {
  for (const tag of Object.keys(messages)) {
    const keys = [...readFileSync(new URL(`${tag}.json`, folder), "utf8").matchAll(/^  "([^"]+)":/gm)].map(([, key]) => key);
    assert.equal(keys.length, Object.keys(messages[tag]).length, tag);
    assert.deepEqual(keys.filter((key, at) => keys.indexOf(key) !== at), [], tag);
  }
});
