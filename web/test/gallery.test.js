import test from "node:test";
import assert from "node:assert/strict";
import { Counts } from "../src/internal/gallery/counts.js";
import { Code } from "../src/internal/gallery/code.js";
import { Idle, LEAST_S, WARN_S } from "../src/internal/gallery/idle.js";
import { filesIn, tileFiles, tileLists } from "../src/internal/gallery/offline.js";

/** As much of `Storage` as is used. */
function store(limit = Infinity) {
  const kept = new Map();
  return {
    getItem: (key) => kept.get(key) ?? null,
    setItem(key, value) {
      if (value.length > limit) throw new Error("full");
      kept.set(key, value);
    },
    removeItem: (key) => kept.delete(key),
  };
}

test("counts are sums by day, and leave as a table", () => {
  let today = new Date(2026, 0, 31, 23, 59);
  const counts = new Counts({ store: store(), today: () => today });
  counts.add("begun");
  counts.add("begun");
  counts.add('state "a", b');
  today = new Date(2026, 1, 1, 0, 1);
  counts.add("seconds", 93);
  assert.equal(counts.csv(), 'day,what,count\r\n2026-01-31,begun,2\r\n2026-01-31,"state ""a"", b",1\r\n2026-02-01,seconds,93\r\n');
  counts.forget();
  assert.equal(counts.csv(), "day,what,count\r\n");
});

test("days are forgotten after a year and a month, errors after fifty; a full store stops nobody", () => {
  let day = 0;
  const counts = new Counts({ store: store(), today: () => new Date(2026, 0, 1 + day) });
  for (day = 0; day < 450; day += 1) counts.add("begun");
  assert.equal(Object.keys(counts.days).length, 400);
  assert.equal(Object.keys(counts.days).sort()[0], "2026-02-20");
  for (let error = 0; error < 60; error += 1) counts.note(`fault ${error}`);
  assert.deepEqual([counts.errors.length, counts.errors[0].message, counts.errors.at(-1).message], [50, "fault 10", "fault 59"]);
  const full = new Counts({ store: store(5) });
  full.add("begun");
  assert.deepEqual(full.days, {});
  const other = store();
  other.setItem("ganosis-gallery-counts", "{half");
  assert.deepEqual(new Counts({ store: other }).days, {});
});

test("a code is kept as a derived key, and wrong ones wait longer and longer", async () => {
  let now = 0;
  const kept = store();
  const code = new Code({ store: kept, now: () => now });
  assert.equal(code.chosen, false);
  await assert.rejects(code.choose("12"), RangeError);
  await assert.rejects(code.choose("12345a"), RangeError);
  await code.choose("2718");
  assert.equal(code.chosen, true);
  const { salt, key } = JSON.parse(kept.getItem("ganosis-attendant"));
  // Derived anew by Node's own PBKDF2.
  const { pbkdf2Sync } = await import("node:crypto");
  assert.equal(key, pbkdf2Sync("2718", Buffer.from(salt, "hex"), 200_000, 32, "sha256").toString("hex"));
  assert.equal(await code.is("2718"), true);
  for (let wrong = 0; wrong < 3; wrong += 1) assert.equal(await code.is("0000"), false);
  assert.equal(code.waits_ms, 0);
  await code.is("0000");
  assert.equal(code.waits_ms, 15_000);
  assert.equal(await code.is("2718"), false, "while it waits no code is taken");
  now += 15_000;
  await code.is("0000");
  assert.equal(code.waits_ms, 30_000);
  now += 30_000;
  assert.equal(await code.is("2718"), true);
  assert.equal(code.waits_ms, 0);
});

test("it warns, goes back when somebody is there, and ends", (context) => {
  context.mock.timers.enable({ apis: ["setInterval"] });
  let now = 0;
  const log = [];
  const target = new EventTarget();
  const idle = new Idle({ target, seconds: 5, now: () => now, warn: (left) => log.push(left), over: () => log.push("over") });
  idle.start();
  const wait = (seconds) => { for (let second = 0; second < seconds; second += 1) { now += 1000; context.mock.timers.tick(1000); } };
  // Five seconds are too few to read by: it is the least.
  wait(LEAST_S - WARN_S - 1);
  assert.deepEqual(log, []);
  wait(2);
  assert.deepEqual(log, [WARN_S, WARN_S - 1]);
  target.dispatchEvent(new Event("pointerdown"));
  assert.equal(log.at(-1), null);
  wait(LEAST_S);
  assert.deepEqual(log.slice(-3), [1, null, "over"]);
  const { length } = log;
  wait(200);
  assert.equal(log.length, length, "it ends once");
});

test("every file that a document names is found, also by fields of later versions, and nothing on the web", () => {
  assert.deepEqual(filesIn({
    surface: { file: "a.glb" }, layers: [{ images: [{ file: "b c.png" }] }], palette: [{ spectrum: "s.csv" }, { spectrum: null }],
    views: [{ narration: { en: { audio: "n.ogg", captions: "n.vtt" } } }], evidence: [{ attachments: [{ file: "https://elsewhere.example/x" }, { file: "" }], title: "file" }], later: { deep: [{ file: "z.bin" }] },
  }), ["a.glb", "b c.png", "s.csv", "n.ogg", "n.vtt", "z.bin"]);
});

test("layers in tiles are kept with every tile of every level", () => {
  assert.deepEqual(tileLists({ layers: [{ images: [{ file: "a.png", tiles: { index: "tiles/a.json" } }, { file: "b.png" }] }], region_map: null }), ["tiles/a.json"]);
  assert.deepEqual(tileFiles("tiles/a.json", { ending: "webp", levels: [{ names: "00112233445566778899aabbccddeeff" }, { names: "0011223344556677" }] }), [
    "tiles/00/0011223344556677.webp", "tiles/88/8899aabbccddeeff.webp",
  ]);
});
