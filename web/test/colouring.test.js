import test from "node:test";
import assert from "node:assert/strict";
import { fullScale, OWN, paintedDocument, REGIONS, sheetsOf, shownDocument, takenDocument } from "../src/internal/colouring/document.js";
import { coloured } from "../src/internal/colouring/takehome.js";

const dossier = {
  format: "ganosis-dossier/1", id: "boss", surface: { file: "s.glb", sheets: [{ id: "crown", material: "m" }, { id: "flank/1" }] },
  layers: [{ id: "l", kind: "colour", images: [{ sheet: "crown", file: "l.png", width_px: 4096, height_px: 2048 }, { sheet: "crown", file: "small.png", width_px: 64, height_px: 64 }] }],
  states: [{ id: "found", kind: "as-found", layers: ["l"], parts: ["stump"] }], region_map: { images: [{ sheet: "crown", file: "r.png" }] },
  palette: [{ id: "azurite" }, { id: "ochre" }], unknown: 1,
};

test("the child's sheets have the form of the largest image, and a size that is quick", () => {
  assert.deepEqual(sheetsOf(dossier), [
    { sheet: "crown", file: "colouring/crown.png", width_px: 1024, height_px: 512 }, { sheet: "flank/1", file: "colouring/flank%2F1.png", width_px: 1024, height_px: 1024 },
  ]);
});

test("one more state stands beside those of the dossier, which stays as it was", () => {
  const before = structuredClone(dossier);
  const shown = shownDocument(dossier, sheetsOf(dossier));
  assert.deepEqual(dossier, before);
  assert.deepEqual(shown.states.map(({ id }) => id), ["found", OWN]);
  assert.deepEqual([shown.states[1].layers, shown.states[1].parts, shown.unknown], [[OWN], ["stump"], 1]);
  assert.equal(shown.layers.at(-1).images.length, 2);
});

test("what is painted on has colours for regions, and the regions as a band", () => {
  const painted = paintedDocument(dossier, sheetsOf(dossier), 255);
  assert.deepEqual(painted.regions.map(({ id, number }) => [id, number]), [["azurite", 1], ["ochre", 2]]);
  assert.equal(painted.region_map, undefined);
  const band = painted.layers.find(({ id }) => id === REGIONS);
  assert.deepEqual([band.range, band.images[0].file], [[0, 255], "r.png"]);
  assert.equal(paintedDocument({ ...dossier, region_map: null }, [], 255).layers.length, 1);
  assert.equal(fullScale(Uint8Array.from({ length: 30 }, (_, at) => (at === 24 ? 16 : 0))), 65535);
});

test("what is taken home has the child's colours and the credit, and nothing of what was found", () => {
  const words = { language: "de", title: "Der Stein", own: "Meine Farben", by: "Ausgemalt von Ada", credit: "Museum" };
  const taken = takenDocument({ ...dossier, rights: { licence: "CC0-1.0" }, object: { orientation: { up: [0, 0, 1] }, identifier: "1" }, claims: [{}], pins: [{}] }, sheetsOf(dossier), words);
  assert.deepEqual(Object.keys(taken).sort(), ["description", "format", "id", "languages", "layers", "object", "rights", "states", "surface", "title"]);
  assert.deepEqual([taken.id, taken.rights, taken.object], ["boss-coloured", { licence: "CC0-1.0", credit: "Museum" }, { orientation: { up: [0, 0, 1] } }]);
  assert.deepEqual(taken.states, [{ id: OWN, kind: "hypothetical", title: "Meine Farben", layers: [OWN], parts: ["stump"] }]);
  assert.deepEqual(taken.layers.map(({ id, images }) => [id, images.length]), [[OWN, 2]]);
});

test("what is no single file is refused with a sentence", () => {
  assert.throws(() => coloured(new Uint8Array(40), new Map(), {}), /no \.glb/);
});
