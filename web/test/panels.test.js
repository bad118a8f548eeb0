import test from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { Heights } from "../src/internal/longlist.js";
import { crowd, JOIN_PX, leadsOf, PART_PX } from "../src/internal/crowd.js";
import { cameraTowards } from "../src/internal/going.js";
import { project, ring } from "../src/internal/projecting.js";
import { added, changed, mentions, merged, removed, today } from "../src/internal/panels/editing/steps.js";
import { symbolsIn } from "../src/internal/panels/editing/elements.js";
import { lastOf, lastPerson, likelyTechnique, rememberPerson } from "../src/internal/panels/editing/remember.js";
import { likelyCertainty, likelyPigments, likelyStates } from "../src/internal/panels/editing/suggest.js";
import { textOf } from "../src/internal/panels/editing/texts.js";

/** Numbers from a seed: Park and Miller, Communications of the ACM 31(10), 1988. */
function numbers(seed) {
  let state = seed;
  return () => { state = (state * 48271) % 2147483647; return state / 2147483647; };
}

test("heights of rows: where each begins and which lies at a height, against a plain sum", () => {
  const next = numbers(7);
  const count = 1500;
  const heights = new Heights(count, () => 50);
  const plain = Array.from({ length: count }, () => 50);
  for (let change = 0; change < 700; change += 1) {
    const index = Math.floor(next() * count);
    plain[index] = 10 + next() * 200;
    heights.set(index, plain[index]);
  }
  let top = 0;
  for (let index = 0; index < count; index += 1) {
    assert.ok(Math.abs(heights.top(index) - top) < 1e-6, `row ${index}`);
    assert.equal(heights.at(top + plain[index] / 2), index);
    top += plain[index];
  }
  assert.ok(Math.abs(heights.total - top) < 1e-6);
  assert.equal(heights.at(top + 1000), count - 1);
  assert.equal(heights.at(-5), 0);
});

const scattered = (count, seed, width = 1400, height = 700) => {
  const next = numbers(seed);
  return Array.from({ length: count }, (_, index) => ({ id: `p${index}`, x: next() * width, y: next() * height, shown: next() > 0.2 }));
};

test("two thousand pins: every shown pin stands in one group, no two marks overlap, and none is far from its own", () => {
  const pins = scattered(2000, 11);
  const groups = crowd(pins, new Map());
  const shown = pins.filter((pin) => pin.shown);
  assert.deepEqual(groups.flatMap(({ members }) => members).sort(), shown.map(({ id }) => id).sort());
  const by_id = new Map(pins.map((pin) => [pin.id, pin]));
  for (const [index, group] of groups.entries()) {
    for (const other of groups.slice(index + 1)) assert.ok(Math.hypot(group.x - other.x, group.y - other.y) >= JOIN_PX);
    for (const id of group.members) assert.ok(Math.hypot(by_id.get(id).x - group.x, by_id.get(id).y - group.y) < JOIN_PX);
  }
  assert.ok(groups.length < 700, `${groups.length} marks`);
});

test("pins that tremble keep their groups: a pin is let in nearer than it is let go", () => {
  const at = (distance) => [{ id: "a", x: 100, y: 100, shown: true }, { id: "b", x: 100 + distance, y: 100, shown: true }];
  const between = (JOIN_PX + PART_PX) / 2;
  const together = leadsOf(crowd(at(JOIN_PX - 1), new Map()));
  const apart = leadsOf(crowd(at(PART_PX + 1), new Map()));
  assert.equal(crowd(at(between), together).length, 1);
  assert.equal(crowd(at(between), apart).length, 2);
  assert.equal(crowd(at(PART_PX + 1), together).length, 2);
  // Of three, the middle one keeps to the group that it stands in, though another comes nearer.
  const three = (x) => [{ id: "a", x: 0, y: 0, shown: true }, { id: "b", x: 70, y: 0, shown: true }, { id: "c", x, y: 0, shown: true }];
  assert.equal(leadsOf(crowd(three(36), leadsOf(crowd(three(34), new Map())))).get("c"), "a");
  const pins = scattered(2000, 5);
  const before = leadsOf(crowd(pins, new Map()));
  const next = numbers(3);
  const moved = pins.map((pin) => ({ ...pin, x: pin.x + next() - 0.5, y: pin.y + next() - 0.5 }));
  const after = leadsOf(crowd(moved, before));
  const changed_lead = [...before].filter(([id, lead]) => after.get(id) !== lead).length;
  assert.ok(changed_lead / before.size < 0.02, `${changed_lead} of ${before.size} changed their group by half a pixel`);
});

test("the open pin stands alone, whatever is near", () => {
  const pins = ["a", "b", "c"].map((id) => ({ id, x: 10, y: 10, shown: true }));
  assert.deepEqual(crowd(pins, new Map(), "b").map(({ members }) => members), [["b"], ["a", "c"]]);
});

test("a camera towards a place looks along its normal, also where up and front are other axes", () => {
  const now = { target_m: [0, 0, 0], azimuth_deg: 5, elevation_deg: 5, distance_m: 2, fov_deg: 30 };
  for (const [up, front, right] of [[[0, 1, 0], [0, 0, 1], [1, 0, 0]], [[0, 0, 1], [0, -1, 0], [1, 0, 0]]]) {
    for (const [azimuth, elevation] of [[0, 0], [40, 20], [-120, -35], [170, 60]]) {
      const [a, e] = [azimuth, elevation].map((value) => (value * Math.PI) / 180);
      // Direction of the eye by the definition of azimuth and elevation.
      const normal = [0, 1, 2].map((axis) => (right[axis] * Math.sin(a) + front[axis] * Math.cos(a)) * Math.cos(e) + up[axis] * Math.sin(e));
      const camera = cameraTowards(now, { sheet: "s", uv: [0, 0], position_m: [1, 2, 3], normal }, { up, front }, 1);
      assert.ok(Math.abs(camera.azimuth_deg - azimuth) < 1e-9 && Math.abs(camera.elevation_deg - elevation) < 1e-9);
      assert.deepEqual([camera.target_m, camera.distance_m], [[1, 2, 3], 0.5]);
    }
  }
  assert.equal(cameraTowards(now, { sheet: "s", uv: [0, 0] }, { up: [0, 1, 0], front: [0, 0, 1] }, 1), null);
});

test("a ring lies in the plane that touches the surface, at its radius; its picture is where a pinhole has it", () => {
  const normal = [0.36, 0.48, 0.8];
  for (const point of ring([1, 2, 3], normal, 0.005, 24)) {
    const from = point.map((value, axis) => value - [1, 2, 3][axis]);
    assert.ok(Math.abs(Math.hypot(...from) - 0.005) < 1e-12);
    assert.ok(Math.abs(from.reduce((sum, value, axis) => sum + value * normal[axis], 0)) < 1e-12);
  }
  // An eye at z = 2 that looks along -z, 90 degrees high and wide: x' = x / depth.
  const projection = { view_projection: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, -1, -1, 0, 0, 2, 2], eye: [0, 0, 2], width: 200, height: 100 };
  assert.deepEqual(project(projection, [0, 0, 0]), [100, 50]);
  assert.deepEqual(project(projection, [1, 0.5, 0]), [150, 37.5]);
  assert.equal(project(projection, [0, 0, 3]), null);
});

const DOSSIER = {
  people: [{ id: "ek", name: "E. K." }, { id: "om", name: "O. M." }],
  states: [{ id: "found", kind: "as-found", title: "" }, { id: "one", kind: "evidence-based", title: "" }, { id: "two", kind: "hypothetical", title: "" }],
  regions: [{ id: "leaf", number: 1, title: "Leaf" }, { id: "bill", number: 2, title: "Bill" }],
  palette: [{ id: "azurite", title: "Azurite" }, { id: "azurite-pale", title: "Azurite in lead white" }, { id: "verdigris", title: { en: "Verdigris in oil" } }, { id: "vermilion", title: "Vermilion" }],
  evidence: [
    { id: "x1", technique: "xrf", title: "", region: "leaf", operator: "ek", instrument: "first" },
    { id: "x2", technique: "xrf", title: "", region: "leaf", operator: "om", instrument: "second" }, { id: "u1", technique: "uvl", title: "", region: "bill" },
  ],
  claims: [{ id: "c1", regions: ["leaf", "bill"], certainty: "measured", evidence: ["x1", "x2"], author: "om", pigment: "azurite", over: "vermilion" }],
  pins: [{ id: "p1", title: "", evidence: ["x1"], claims: ["c1"] }],
  views: [{ id: "v1", title: "", view: { pin: "p1", region: "leaf" } }],
};

/** Does steps: JSON Pointers of RFC 6901, with `set`, `insert` (also at `-`, the end of a list) and `remove`. Written anew, beside what does them for the page. */
function applied(document, steps) {
  const copy = structuredClone(document);
  for (const { op, path, value } of steps) {
    const keys = path.slice(1).split("/");
    const last = keys.pop();
    const holder = keys.reduce((at, key) => at[key], copy);
    if (op === "set") holder[last] = value;
    else if (op === "insert") holder.splice(last === "-" ? holder.length : Number(last), 0, value);
    else if (Array.isArray(holder)) holder.splice(Number(last), 1);
    else delete holder[last];
  }
  return copy;
}

test("what is taken out is named nowhere any more, and nothing else changes", () => {
  for (const [list, id] of [["evidence", "x1"], ["claims", "c1"], ["pins", "p1"], ["regions", "leaf"]]) {
    const after = applied(DOSSIER, removed(DOSSIER, list, id));
    assert.ok(!JSON.stringify(after).includes(`"${id}"`), `${id} is still named`);
    assert.equal(after[list].length, DOSSIER[list].length - 1);
  }
  assert.deepEqual(removed(DOSSIER, "pins", "none"), []);
});

test("people and pigments that are named are counted, wherever they stand", () => {
  assert.equal(mentions(DOSSIER, "people", "om"), 2);
  assert.equal(mentions(DOSSIER, "palette", "azurite"), 1);
  assert.equal(mentions(DOSSIER, "palette", "vermilion"), 1);
  assert.equal(mentions(DOSSIER, "palette", "azurite-pale"), 0);
});

test("entries are added where a list is and where none is; fields that nobody asked for stay", () => {
  assert.deepEqual(applied({}, added({}, "pins", { id: "n" })).pins, [{ id: "n" }]);
  assert.deepEqual(applied(DOSSIER, added(DOSSIER, "pins", { id: "n" })).pins.map(({ id }) => id), ["p1", "n"]);
  assert.equal(applied(DOSSIER, changed(DOSSIER, "claims", "c1", { id: "c1", certainty: "observed" })).claims[0].certainty, "observed");
  assert.deepEqual(merged({ id: "a", own: 1, argument: "x", regions: ["r"] }, { argument: "", regions: [], date: "2026-01-02", lab: undefined }), { id: "a", own: 1, date: "2026-01-02" });
  assert.equal(today(new Date(2026, 0, 5, 23, 59)), "2026-01-05");
});

test("symbols of elements are read in any writing and checked", () => {
  assert.deepEqual(symbolsIn("cu, PB sn; xx Cu 7"), { known: ["Cu", "Pb", "Sn"], unknown: ["xx", "7"] });
  assert.deepEqual(symbolsIn("CO No").known, ["Co", "No"]);
});

test("the next form begins with whoever and whatever was last", () => {
  const sitting = {};
  assert.equal(lastPerson(sitting, DOSSIER, "operator"), "om");
  rememberPerson(sitting, "operator", "ek");
  assert.equal(lastPerson(sitting, DOSSIER, "operator"), "ek");
  assert.equal(lastPerson(sitting, DOSSIER, "reviewer"), "ek", "who has signed in this sitting");
  assert.equal(lastPerson({}, { people: [] }, "author"), "");
  assert.equal(lastOf(DOSSIER, "xrf")?.instrument, "second");
  assert.equal(likelyTechnique({}, DOSSIER), "xrf");
});

test("a claim begins as its observations suggest", () => {
  const of = (...techniques) => likelyCertainty(techniques.map((technique) => ({ id: "", title: "", technique })));
  assert.deepEqual([of("uvl", "xrf"), of("uvl"), of("document"), of()], ["measured", "observed", "comparative", "conjectural"]);
  assert.deepEqual(likelyStates(DOSSIER, { left: "found", right: "two" }), ["two"]);
  assert.deepEqual(likelyStates(DOSSIER, { left: "found", right: "irr" }), ["one"]);
  const hint = { sentence: "", excluded: [], remarks: [], consistent_with: [{ pigment: "azurite", name: "azurite", later: false }, { pigment: "verdigris", name: "verdigris", later: false }, { pigment: "vermilion", name: "vermilion", later: true }] };
  assert.deepEqual(likelyPigments(DOSSIER, hint), ["azurite", "azurite-pale", "verdigris"]);
  assert.deepEqual(likelyPigments(DOSSIER, null), []);
});

test("a text keeps its shape: a plain string where it needs no tag, else by language", () => {
  assert.equal(textOf([{ tag: null, value: " a " }]), "a");
  assert.deepEqual(textOf([{ tag: "en", value: "a" }, { tag: "de", value: " " }]), { en: "a" });
  assert.equal(textOf([{ tag: "en", value: "" }]), undefined);
});

test("what an observation makes of a claim is what the audit's table of techniques says of it", () => {
  const word = { analysis: "measured", observation: "observed", context: "comparative" };
  const rows = readFileSync(new URL("../../crates/audit/data/techniques.csv", import.meta.url), "utf8").split("\n").filter((line) => line && !line.startsWith("#")).slice(1);
  assert.ok(rows.length >= 16);
  for (const row of rows) {
    const [technique, kind] = row.split(",");
    assert.equal(likelyCertainty([{ id: "e", technique, title: "" }]), word[kind], technique);
  }
});
