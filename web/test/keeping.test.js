import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { crc32, inflateSync } from "node:zlib";
import { PngWriter } from "../src/internal/keeping/png.js";
import { packetOf, textsOf } from "../src/internal/keeping/xmp.js";
import { drawInParts, metresPerPixel, sizeFor, LONGEST_PX } from "../src/internal/keeping/tiles.js";
import { pigmentsOf, srgbOf, WEDGE_L } from "../src/internal/keeping/patches.js";
import { layOut, linesOf } from "../src/internal/keeping/margin.js";
import { changesOf, frameOf } from "../src/internal/keeping/moving.js";
import { keptOf, moved, OwnViews } from "../src/internal/keeping/ownviews.js";
import { completed } from "../src/internal/panels/portfolio/views.js";
import { lookup } from "../src/internal/lookup.js";

/** Chunks of a PNG, each with its checksum looked at (ISO/IEC 15948, section 5.3), by Node's own CRC-32. */
function chunksOf(bytes) {
  assert.deepEqual([...bytes.subarray(0, 8)], [137, 80, 78, 71, 13, 10, 26, 10]);
  const chunks = [];
  for (let at = 8; at < bytes.length;) {
    const length = bytes.readUInt32BE(at);
    const type = bytes.toString("latin1", at + 4, at + 8);
    assert.equal(bytes.readUInt32BE(at + 8 + length), crc32(bytes.subarray(at + 4, at + 8 + length)), type);
    chunks.push({ type, data: bytes.subarray(at + 8, at + 8 + length) });
    at += length + 12;
  }
  return chunks;
}
/** Pixels of an RGB PNG, unfiltered by the formulas of section 9.2. */
function pixelsOf(chunks) {
  const header = chunks[0].data;
  const [width, height] = [header.readUInt32BE(0), header.readUInt32BE(4)];
  assert.deepEqual([...header.subarray(8)], [8, 2, 0, 0, 0]);
  const raw = inflateSync(Buffer.concat(chunks.filter(({ type }) => type === "IDAT").map(({ data }) => data)));
  const line = width * 3;
  assert.equal(raw.length, height * (line + 1));
  const out = Buffer.alloc(height * line);
  const filters = new Set();
  for (let y = 0; y < height; y += 1) {
    const filter = raw[y * (line + 1)];
    filters.add(filter);
    for (let x = 0; x < line; x += 1) {
      const left = x < 3 ? 0 : out[y * line + x - 3];
      const up = y === 0 ? 0 : out[(y - 1) * line + x];
      const add = { 0: 0, 1: left, 2: up }[filter];
      assert.notEqual(add, undefined, `filter ${filter}`);
      out[y * line + x] = raw[y * (line + 1) + 1 + x] + add;
    }
  }
  return { width, height, pixels: out, filters };
}
/** The texts of iTXt chunks by keyword (section 11.3.3.4). */
function textsIn(chunks) {
  return Object.fromEntries(chunks.filter(({ type }) => type === "iTXt").map(({ data }) => {
    const keyword_end = data.indexOf(0);
    assert.deepEqual([data[keyword_end + 1], data[keyword_end + 2]], [0, 0], "not packed");
    const language_end = data.indexOf(0, keyword_end + 3);
    const translated_end = data.indexOf(0, language_end + 1);
    return [data.toString("latin1", 0, keyword_end), { language: data.toString("latin1", keyword_end + 3, language_end), text: data.toString("utf8", translated_end + 1) }];
  }));
}

const ABOUT = {
  title: "Boss & <herons>", creator: "E. K.; Sallowmere Museum", description: "Als gefunden: „Blau“", rights: "Sallowmere Museum (invented)",
  licence: "https://creativecommons.org/publicdomain/zero/1.0/", source: "sallowmere-boss (revision 3)", language: "en", when: new Date("2025-03-14T15:09:26.535Z"),
};

test("a PNG written band by band: its rows, both filters, its texts and checksums come back by another reader", async () => {
  const [width, height] = [53, 301];
  // A ramp across above, which the row above tells; a ramp down with steps below, and noise.
  const colour = (x, y) => (y < 100 ? [x * 4, 255 - x * 4, x] : y < 200 ? [y % 256, (y * 7) % 256, (y * 29) % 256] : [(x * 7919 + y * 104729) % 251, (x * y) % 256, (x ^ y) & 255]);
  const writer = new PngWriter({ width, height, texts: textsOf(ABOUT) });
  for (let y = 0; y < height; y += 37) {
    const rows = Math.min(37, height - y);
    const band = new Uint8Array(width * rows * 4);
    for (let row = 0; row < rows; row += 1) for (let x = 0; x < width; x += 1) band.set([...colour(x, y + row), 255], (row * width + x) * 4);
    await writer.write(band);
  }
  const blob = await writer.finish();
  assert.equal(blob.type, "image/png");
  const chunks = chunksOf(Buffer.from(await blob.arrayBuffer()));
  const types = chunks.map(({ type }) => type);
  assert.deepEqual([types[0], types.at(-1)], ["IHDR", "IEND"]);
  assert.ok(types.indexOf("sRGB") < types.indexOf("IDAT"));
  assert.deepEqual([...chunks[types.indexOf("sRGB")].data], [1]);
  const found = pixelsOf(chunks);
  assert.deepEqual([...found.filters].sort(), [1, 2]);
  for (let y = 0; y < height; y += 1) for (let x = 0; x < width; x += 1) {
    const at = (y * width + x) * 3;
    assert.deepEqual([...found.pixels.subarray(at, at + 3)], colour(x, y), `${x}, ${y}`);
  }
  const texts = textsIn(chunks);
  assert.deepEqual(texts.Title, { language: "en", text: ABOUT.title });
  assert.equal(texts.Author.text, ABOUT.creator);
  assert.equal(texts.Description.text, ABOUT.description);
  assert.equal(texts.Copyright.text, ABOUT.rights);
  assert.equal(texts.Source.text, ABOUT.source);
  assert.equal(texts["Creation Time"].text, "2025-03-14T15:09:26Z");
  assert.equal(texts.Software.text, "Ganosis");
  assert.match(texts["XML:com.adobe.xmp"].text, /^<\?xpacket begin="\uFEFF"/);
});

test("a picture that lacks rows, or gets too many, is none", async () => {
  const writer = new PngWriter({ width: 2, height: 2 });
  await writer.write(new Uint8Array(8));
  await assert.rejects(writer.finish(), RangeError);
  await assert.rejects(writer.write(new Uint8Array(16)), RangeError);
  await assert.rejects(writer.write(new Uint8Array(7)), RangeError);
});

test("the XMP packet is well formed, and what has a meaning in XML is written out", () => {
  const packet = packetOf({ ...ABOUT, rights: "a\u0001b" });
  assert.match(packet, /<dc:title><rdf:Alt><rdf:li xml:lang="x-default">Boss &amp; &lt;herons&gt;<\/rdf:li>/);
  assert.match(packet, /<dc:rights><rdf:Alt><rdf:li xml:lang="x-default">ab<\/rdf:li>/);
  // Every element that opens closes, in order.
  const open = [];
  for (const [, closes, name, alone] of packet.matchAll(/<(\/?)([a-zA-Z]+:[a-zA-Z]+)[^>]*?(\/?)>/g)) {
    if (closes) assert.equal(open.pop(), name);
    else if (!alone) open.push(name);
  }
  assert.deepEqual(open, []);
});

test("tiles cover a picture once, in order, and are joined where they belong", async () => {
  const [width, height, tile] = [103, 71, { width: 32, height: 16 }];
  const code = (x, y) => [x, y, (x * y) % 256, 255];
  const seen = new Set();
  const handle = {
    async snapshot_tile(view, w, h, [x, y, columns, rows]) {
      assert.deepEqual([view, w, h], [{ left: "a" }, width, height]);
      const part = new Uint8Array(columns * rows * 4);
      for (let j = 0; j < rows; j += 1) for (let i = 0; i < columns; i += 1) {
        assert.ok(!seen.has(`${x + i} ${y + j}`));
        seen.add(`${x + i} ${y + j}`);
        part.set(code(x + i, y + j), (j * columns + i) * 4);
      }
      return part;
    },
  };
  let next = 0;
  await drawInParts({
    handle, view: { left: "a" }, width, height, tile,
    band: (rows, y) => {
      assert.equal(y, next);
      next += rows.length / 4 / width;
      for (let at = 0; at < rows.length / 4; at += 1) assert.deepEqual([...rows.subarray(at * 4, at * 4 + 4)], code(at % width, y + Math.floor(at / width)));
    },
  });
  assert.equal(next, height);
  assert.equal(seen.size, width * height);
  const stopped = AbortSignal.abort();
  await assert.rejects(drawInParts({ handle, view: null, width, height, tile, band: () => {}, signal: stopped }), { name: "AbortError" });
});

test("sizes keep their shape and the longest side; a pixel's length follows from the camera", () => {
  assert.deepEqual(sizeFor(16384, 4 / 3), { width: 16384, height: 12288 });
  assert.deepEqual(sizeFor(1e9, 0.5), { width: 8192, height: LONGEST_PX });
  // A camera of 90 degrees at one metre sees two metres.
  const view = { camera: { distance_m: 1, fov_deg: 90 }, compare: "one", count: 2 };
  assert.ok(Math.abs(metresPerPixel(view, 1000, 500) - 2 / 500) < 1e-12);
  assert.ok(Math.abs(metresPerPixel({ ...view, compare: "pair", count: 4 }, 1000, 500) - 2 / 250) < 1e-12);
  assert.ok(Math.abs(metresPerPixel({ ...view, compare: "pair", count: 3 }, 500, 900) - 2 / 300) < 1e-12);
});

test("patches: code values against the worked conversions of CSS Color 4", () => {
  const [head, ...rows] = readFileSync(new URL("../../tests/reference/lab_to_display_examples.csv", import.meta.url), "utf8").split("\n").filter((line) => line && !line.startsWith("#")).map((line) => line.split(","));
  const at = (row, name) => row[head.indexOf(name)];
  let checked = 0;
  for (const row of rows) {
    const lab = ["L", "a", "b"].map((name) => Number(at(row, name)));
    const codes = at(row, "srgb8");
    if (!codes) continue;
    checked += 1;
    const found = srgbOf(lab);
    assert.equal(found.cut, false);
    codes.split(" ").forEach((code, i) => assert.ok(Math.abs(found.codes[i] - Number(code)) <= 1, `${lab}: ${found.codes}, wanted ${codes}`));
  }
  assert.ok(checked > 20, `${checked} rows`);
  assert.ok(srgbOf([60, 90, -80]).cut);
  for (const l of WEDGE_L) {
    const { codes, cut } = srgbOf([l, 0, 0]);
    assert.ok(!cut && codes.every((code) => code === codes[0]), `L* ${l} is neutral: ${codes}`);
  }
});

test("the pigments are those that claims name for what is shown", () => {
  const dossier = lookup({
    states: [{ id: "a" }, { id: "b" }], palette: [{ id: "azurite", lab_d50: [38, -3, -33] }, { id: "bole", lab_d50: [40, 30, 24] }, { id: "unmeasured" }, { id: "white", lab_d50: [95, 0, 3] }],
    claims: [{ id: "1", states: ["a"], pigment: "azurite" }, { id: "2", states: ["a", "b"], mixture: [{ pigment: "white" }, { pigment: "unmeasured" }], over: "bole" }, { id: "3", states: ["c"], pigment: "azurite" }],
  });
  assert.deepEqual(pigmentsOf(dossier, ["b"]).map(({ id }) => id), ["bole", "white"]);
  assert.deepEqual(pigmentsOf(dossier, ["a", "b"]).map(({ id }) => id), ["azurite", "bole", "white"]);
});

/** A surface on which every letter is half as wide as the text is high. */
const paper = () => ({
  font: "", fillStyle: "", drawn: [],
  measureText(text) { return { width: [...text].length * Number(/([\d.]+)px/.exec(this.font)[1]) / 2 }; },
  fillText(text, x, y) { this.drawn.push([text, x, y]); }, fillRect(...box) { this.drawn.push(box); }, setTransform() {}, translate() {},
});

test("the margin: nothing is wider than it, lines break between words, right to left is its mirror", () => {
  const drawing = paper();
  drawing.font = "10px x";
  assert.deepEqual(linesOf(drawing, "one two three", 40), ["one two", "three"]);
  assert.deepEqual(linesOf(drawing, "unbreakable", 20), ["unbr", "eaka", "ble"]);
  assert.deepEqual(linesOf(drawing, "seen by O. M. now", 50), ["seen by", "O.\u00a0M. now"]);
  const content = { title: "Title", caption: "a caption of some length ".repeat(9), scale: { pixels: 100, words: "5 cm" }, ramps: [{ colours: new Uint8Array(768), name: "", figures: ["0", "5", "10 ΔE00"] }], patches: Array.from({ length: 9 }, (_, i) => ({ codes: [i, 0, 0], name: "Azurite", figures: "38 -3 -33" })), wedge: [{ codes: [9, 9, 9], name: "", figures: "L* 10" }], credit: ["Museum"] };
  for (const width of [300, 800]) {
    const ltr = layOut(drawing, { ...content, direction: "ltr" }, width, 10);
    const rtl = layOut(drawing, { ...content, direction: "rtl" }, width, 10);
    assert.equal(ltr.height, rtl.height);
    assert.equal(ltr.swatches.length, 10);
    ltr.swatches.forEach(({ box }, i) => {
      assert.ok(box.x >= 0 && box.x + box.width <= width && box.y + box.height <= ltr.height);
      assert.ok(Math.abs(rtl.swatches[i].box.x - (width - box.x - box.width)) <= 1);
    });
    assert.equal(ltr.bar.width, 100);
    // The figures of a scale of colours rise from left to right in both, within the paper.
    for (const margin of [ltr, rtl]) {
      const on = paper();
      margin.paint(on, 0, margin.height);
      const at = ["0", "5", "10 ΔE00"].map((figure) => on.drawn.find(([text]) => text === figure)[1]);
      assert.ok(at[0] >= 0 && at[0] < at[1] && at[1] < at[2] && at[2] <= width, `${at}`);
    }
  }
});

test("the address of a saved view that names parts only is that of a whole view", () => {
  const lamp = { azimuth_deg: 0, elevation_deg: 20, distance_m: 0, softness: 0, strength: 1 };
  const now = { left: "a", camera: { target_m: [1, 2, 3], azimuth_deg: 5 }, light: { mode: "as-measured", ...lamp, second: { ...lamp, strength: 0 }, relief: 1 }, layers: { x: { opacity: 0.5 } }, section: null };
  const whole = completed(now, { light: { mode: "raking", azimuth_deg: -60 }, camera: { target_m: [0, 0, 0] }, section: { position: 0.1 } });
  assert.deepEqual(whole, { left: "a", camera: { target_m: [0, 0, 0], azimuth_deg: 5 }, light: { ...now.light, mode: "raking", azimuth_deg: -60 }, layers: now.layers, section: { position: 0.1 } });
  assert.deepEqual(completed(now, { layers: {} }).layers, {});
});

test("frames: a turn goes once around, to and fro begins and ends at the first state", () => {
  const view = { camera: { azimuth_deg: 170, elevation_deg: 5 }, compare: "one", position: 0.4, count: 3 };
  const turn = Array.from({ length: 8 }, (_, i) => frameOf(view, "turn", i, 8).camera.azimuth_deg);
  assert.deepEqual(turn, [170, -145, -100, -55, -10, 35, 80, 125]);
  const blend = Array.from({ length: 4 }, (_, i) => frameOf(view, "blend", i, 4));
  assert.deepEqual(blend.map(({ position }) => Math.round(position * 1e9) / 1e9), [0, 0.5, 1, 0.5]);
  assert.ok(blend.every(({ compare, count }) => compare === "blend" && count === 2));
  // Twelve frames to and fro at 25 a second are 4.2 changes a second.
  assert.deepEqual(changesOf("blend", 12, 25).too_fast, true);
  assert.deepEqual(changesOf("blend", 17, 25).too_fast, false);
  assert.deepEqual(changesOf("turn", 12, 25).too_fast, false);
});

test("own views are kept for their dossier, and come back from a file only for it", () => {
  const kept = new Map();
  const storage = () => ({ getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => void kept.set(key, value) });
  const views = new OwnViews("boss", storage);
  for (const title of ["one", "two", "three"]) views.add({ title, text: "", view: keptOf({ left: title, camera: { distance_m: 1 }, language: "de" }, 1.6) });
  views.move("own-3", -1);
  views.change("own-1", { title: "first" });
  views.remove("own-2");
  const again = new OwnViews("boss", storage);
  assert.deepEqual(again.list.map(({ title, view }) => [title, view]), [["first", "one"], ["three", "three"]].map(([title, left]) => [title, { left, camera: { distance_m: 1, aspect: 1.6 } }]));
  assert.deepEqual(new OwnViews("other", storage).list, []);
  const there = new OwnViews("boss", () => ({ getItem: () => null, setItem: () => { throw new Error("full"); } }));
  assert.equal(there.fromFile(again.toFile()), 2);
  assert.equal(there.kept, false);
  assert.equal(new Set(there.list.map(({ id }) => id)).size, 2);
  assert.throws(() => new OwnViews("other", storage).fromFile(again.toFile()), /another dossier: boss/);
  assert.throws(() => there.fromFile("{"), /no file of views/);
  assert.throws(() => there.fromFile("[]"), /no file of views/);
  const odd = new OwnViews("odd", () => ({ getItem: () => '[{"view":3},null,{"view":{"left":"a"},"title":5}]', setItem() {} }));
  assert.deepEqual(odd.list, [{ id: "own-1", title: "", text: "", view: { left: "a" } }]);
  assert.deepEqual(moved([1, 2, 3], 0, -1), [1, 2, 3]);
});
