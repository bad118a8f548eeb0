import test from "node:test";
import assert from "node:assert/strict";
import { distance, parted, thinned } from "../src/internal/measuring/lines.js";
import { Notebook } from "../src/internal/measuring/notebook.js";
import { angle, area, asCsv, asText, length, profileCsv, results } from "../src/internal/measuring/words.js";
import { parseCsv } from "../src/internal/csv.js";
import { ratio } from "../src/internal/plot.js";

const words = { t: (key, values) => key + (values ? JSON.stringify(values) : ""), language: "en" };
const plain = (text) => text.replaceAll("\u00a0", " ").replaceAll("\u202f", " ");

test("lengths, areas and angles take the unit that leaves few digits", () => {
  assert.deepEqual([1.23456, 0.4201234, -0.0012, 0].map((metres) => plain(length(metres, "en"))), ["1.235 m", "420.1 mm", "−1.2 mm", "0 µm"]);
  assert.deepEqual([1.5, 0.0123456, 2.5e-5].map((m2) => plain(area(m2, "en"))), ["1.5 m²", "123.5 cm²", "25 mm²"]);
  assert.equal(angle(90.04, "en"), "90.0°");
  assert.match(plain(length(0.5, "de")), /^500 mm$/);
});

test("a thinned line keeps its ends, its length and the corners of a coarse mesh", () => {
  const square = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 0]];
  const thin = thinned(square, 48);
  for (const corner of square) assert.ok(thin.some((point) => distance(point, corner) < 1e-9), String(corner));
  // A half circle of 2,000 pieces: π r, less 1/6 (step/2)² of it.
  const arc = Array.from({ length: 2001 }, (_, n) => [Math.cos(n * Math.PI / 2000), Math.sin(n * Math.PI / 2000), 0]);
  const few = thinned(arc, 48);
  assert.equal(few.length, 48);
  const whole = few.slice(1).reduce((sum, point, at) => sum + distance(few[at], point), 0);
  assert.ok(Math.abs(whole / Math.PI - 1) < 5e-4, `${whole}`);
  assert.ok(distance(few[0], arc[0]) < 1e-9 && distance(few.at(-1), arc.at(-1)) < 1e-9);
});

test("a line is parted into what is seen and what is hidden, and breaks behind the eye", () => {
  const places = [[0, 0], [1, 0], [2, 0], [3, 0], null, [5, 0], [6, 0]];
  const { seen, hidden } = parted(places, [true, true, false, false, true, true, true]);
  assert.equal(seen, "M0.0 0.0L1.0 0.0M5.0 0.0L6.0 0.0");
  assert.equal(hidden, "M1.0 0.0L2.0 0.0L3.0 0.0");
});

test("what is copied can be read again", () => {
  const notebook = new Notebook();
  const places = [{ position: [0.1, 0.2, 0], normal: [0, 0, 1] }, { position: [-0.1, 0.2, 0.05], normal: [0, 0, 1] }];
  notebook.add("distance", places, { straight_m: 0.206155, surface_m: null, triangles: 12 });
  notebook.add("loop", places, { perimeter_m: 1, area_m2: 0.0123, triangles: 12 });
  const [head, first, second] = parseCsv(asCsv(notebook.measurements));
  const field = (row, name) => row[head.indexOf(name)];
  assert.equal(field(first, "straight_mm"), "206.155");
  assert.equal(field(first, "surface_mm"), "");
  assert.equal(field(first, "places_mm"), "100 200 0; -100 200 50");
  assert.equal(field(second, "area_mm2"), "12300");
  assert.deepEqual(parseCsv(profileCsv([[0, 0], [0.001, -0.0005]])), [["along_mm", "height_mm"], ["0", "0"], ["1", "-0.5"]]);
  assert.match(asText(words, notebook.measurements), /^1\. measure\.distance: .*measure\.apart\n2\. measure\.loop: measure\.area 123 cm²/);
  assert.deepEqual(results(words, notebook.measurements[0]).map(([name]) => name), ["measure.straight", "measure.over"]);
});

test("a notebook numbers on, keeps a place once, and tells of every change", () => {
  const notebook = new Notebook();
  let told = 0;
  notebook.changed.add(() => { told += 1; });
  const probe = (u) => ({ sheet: "front", uv: [u, 0.5] });
  assert.equal(notebook.keep(probe(0.1)).number, 1);
  assert.equal(notebook.keep(probe(0.2)).number, 2);
  assert.equal(notebook.keep(probe(0.1)).number, 1);
  notebook.forget(1);
  assert.equal(notebook.keep(probe(0.1)).number, 3);
  assert.equal(told, 4);
  notebook.add("angle", [], { angle_deg: 1, triangles: 1 });
  notebook.remove(1);
  assert.equal(notebook.chosen, null);
  assert.equal(notebook.add("angle", [], { angle_deg: 1, triangles: 1 }).number, 1);
});

test("how much larger heights are drawn than lengths", () => {
  // As high as long: the plot is 148 by 282.
  assert.ok(Math.abs(ratio([[0, 0], [10, 10]]) - 148 / 282) < 1e-9);
  assert.equal(ratio([[0, 0], [10, 0]]), null);
});
