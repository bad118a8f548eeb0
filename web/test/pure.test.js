import test from "node:test";
import assert from "node:assert/strict";
import { lengthInWords, roundLength } from "../src/internal/scale.js";
import { readFileSync, readdirSync } from "node:fs";
import { inShape, KeptWhole } from "../src/internal/whole.js";
import { addressOf, viewOf } from "../src/internal/address.js";
import { bestLanguage, INTERFACE_LANGUAGES, textIn, translator, unbroken } from "../src/internal/i18n.js";
import { columnTitle, curveOf, parseCsv } from "../src/internal/csv.js";
import { alongWall, directionName, pointOfDivider, positionAt, sideOfLeft } from "../src/internal/geometry.js";
import { attachmentPlace, pinMark } from "../src/internal/lookup.js";
import { withDivider } from "../src/internal/dividers.js";
import { sharesAt, withShare } from "../src/internal/panels/mixture.js";
import { countOf, percentile, shownIn } from "../src/internal/looks.js";
import { ticks } from "../src/internal/plot.js";

const VIEW = {
  left: "as-found", right: "band/uvl & more", compare: "swipe", count: 2, position: 0.25, angle_deg: -30,
  camera: { target_m: [0.01, -0.2, 3e-7], azimuth_deg: -12.5, elevation_deg: 40, distance_m: 0.9, fov_deg: 35 },
  light: {
    mode: "raking", azimuth_deg: 10, elevation_deg: 20, distance_m: 0.25, softness: 0.5, strength: 1.5,
    second: { azimuth_deg: -120, elevation_deg: -5, distance_m: 0, softness: 0, strength: 0.75 }, relief: 3, occlusion: 0.5,
  },
  section: { azimuth_deg: 90, elevation_deg: 0, position: -0.25 },
  layers: { "irr,1": { opacity: 0.5, ends: [0.75, 0.25], map: "steps", lines: 8 } }, over: "irr,1", surround_l: 62, pin: null, region: "lily+leaf=1", language: "pt-BR",
};

test("a name in another script stays together in a sentence that runs the other way", () => {
  assert.equal(translator({ by: "تسجيل {who}" }, {}, "ar")("by", { who: "R. D." }), "تسجيل \u2068R. D.\u2069");
  assert.equal(translator({ by: "تسجيل {who}" }, {}, "ar")("by", { who: "حجر" }), "تسجيل حجر");
  assert.equal(translator({ by: "by {who}" }, {}, "en")("by", { who: "R. D." }), "by R. D.");
  assert.equal(translator({ by: "by {who}" }, {}, "en")("by", { who: "حجر." }), "by \u2068حجر.\u2069");
});

test("initials are not parted, from one another or from the name after them; other words may be", () => {
  assert.equal(unbroken("Hypothesis of O. M., colour"), "Hypothesis of O.\u00a0M., colour");
  assert.equal(unbroken("by É. Ö. Reiher"), "by É.\u00a0Ö.\u00a0Reiher");
  for (const same of ["As found. Then", "c. 1340", "x. Y", "no. A", "Band 2. Blue", ""]) assert.equal(unbroken(same), same);
});

test("a saved view that was opened in a narrow picture fills a wider one again, and one that somebody moved stays", () => {
  const saved = { target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, distance_m: 2.5, fov_deg: 27, aspect: 1.6 };
  const whole = new KeptWhole();
  const { camera } = inShape({ camera: saved }, 0.5);
  // As a glide leaves it: by logarithms.
  const there = { ...camera, distance_m: Math.exp(Math.log(camera.distance_m)) };
  assert.equal(whole.next(there, 0.5, 0.4), null);
  assert.equal(whole.next(there, 1.6, 0.4), 2.5);
  // The pinhole: half the width at the target is the distance times the tangent, times the shape.
  const back = whole.next({ ...there, distance_m: 2.5 }, 0.5, 0.4);
  assert.ok(Math.abs(back * 0.5 - 2.5) < 1e-9, String(back));
  const moved = { ...there, distance_m: 3.1 };
  assert.equal(whole.next(moved, 0.5, 0.1), null);
  assert.equal(whole.next(moved, 1.6, 0.1), null);
});

test("a saved view shows in a narrow picture what the middle square of its own showed", () => {
  const camera = { target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, distance_m: 2, fov_deg: 27 };
  // Half the width that a pinhole sees at its target.
  const half = ({ distance_m, fov_deg }, aspect) => distance_m * Math.tan((fov_deg * Math.PI) / 360) * aspect;
  for (const [made, now] of [[1.6, 0.46], [1, 0.75], [0.8, 0.4], [undefined, 0.5]]) {
    const { camera: here } = inShape({ camera: { ...camera, aspect: made } }, now);
    assert.ok(Math.abs(half(here, now) - half(camera, Math.min(made ?? 1, 1))) < 1e-12, `${made} in ${now}`);
  }
  for (const [made, now] of [[0.46, 0.46], [0.46, 1.6], [1.6, 1.2], [1.2, 1.6]]) assert.equal(inShape({ camera: { ...camera, aspect: made } }, now).camera.distance_m, 2);
  assert.deepEqual(inShape({ compare: "one" }, 0.5), { compare: "one" });
});

test("an address gives back the whole view", () => {
  assert.deepEqual(viewOf(`#${addressOf(VIEW)}`), VIEW);
});

test("an address gives back more than two states with what belongs to them", () => {
  for (const more of [
    { count: 3, third: "c", further: [0.5, 0.75] }, { count: 4, third: "c", fourth: "d", further: [0.5, 0.75] },
    { compare: "blend", count: 3, third: "c", shares: [0.5, 0.25, 0.25] }, { compare: "pair", count: 4, third: "c", fourth: "d" },
  ]) assert.deepEqual(viewOf(`#${addressOf({ ...VIEW, ...more })}`), { ...VIEW, ...more });
});

test("what is seen follows the comparison, whatever is left over of another", () => {
  const view = { ...VIEW, left: "a", right: "b", third: "a", fourth: "d", count: 4 };
  const wanted = { one: [1, "a"], swipe: [4, "a", "b", "d"], pair: [4, "a", "b", "d"], blend: [3, "a", "b"], loupe: [2, "a", "b"], blink: [2, "a", "b"], difference: [2, "a", "b"] };
  for (const [compare, [count, ...shown]] of Object.entries(wanted)) {
    assert.equal(countOf({ ...view, compare }), count, compare);
    assert.deepEqual(shownIn({ ...view, compare }), shown, compare);
  }
  assert.deepEqual(shownIn({ ...view, compare: "swipe", count: 2 }), ["a", "b"]);
});

test("a divider pushes those in its way, and shares stay a whole", () => {
  const view = { ...VIEW, count: 4, position: 0.2, further: [0.5, 0.7] };
  assert.deepEqual(withDivider(view, 0, 0.6), { position: 0.6, further: [0.6, 0.7] });
  assert.deepEqual(withDivider(view, 2, -1), { position: 0, further: [0, 0] });
  // Barycentric coordinates: corners are one state alone, the middle of an edge half of two.
  const near = (got, wanted) => got.forEach((share, index) => assert.ok(Math.abs(share - wanted[index]) < 1e-9, `${got} for ${wanted}`));
  near(sharesAt(8, 84), [1, 0, 0]);
  near(sharesAt(56, 84), [0.5, 0.5, 0]);
  near(sharesAt(56, -500), [0, 0, 1]);
  near(withShare([0.5, 0.25, 0.25], 0, 0.2), [0.2, 0.4, 0.4]);
  near(withShare([1, 0, 0], 0, 0.5), [0.5, 0.25, 0.25]);
});

test("the usual ends leave a hundredth of the surface on either side", () => {
  const even = Array.from({ length: 128 }, () => 1 / 128);
  assert.ok(Math.abs(percentile(even, 0.01) - 0.01) < 1e-9 && Math.abs(percentile(even, 0.99) - 0.99) < 1e-9);
  assert.equal(percentile([0, 1, 0, 0], 0.5), 0.375);
});

test("an address that names nothing is no view", () => {
  for (const hash of ["", "#", "#section-2", "#camera=1,2,3&position=7&surround=x&light=dim,0,0"]) assert.equal(viewOf(hash), null, hash);
});

test("a camera with a distance that cannot be is left out", () => {
  assert.equal(viewOf("#left=a&camera=0,0,0,0,0,-1,35")?.camera, undefined);
  assert.equal(viewOf("#left=a&camera=0,0,0,0,0,1,NaN")?.camera, undefined);
});

// Unicode CLDR plural rules: Arabic has six forms, chosen for 0, 1, 2, 3 to 10, 11 to 99, 100.
test("Arabic takes the six plural forms of CLDR", () => {
  const forms = { zero: "zero", one: "one", two: "two", few: "few", many: "many", other: "other" };
  const t = translator({ n: forms }, {}, "ar");
  assert.deepEqual([0, 1, 2, 3, 10, 11, 99, 100].map((count) => t("n", { count })),
    ["zero", "one", "two", "few", "few", "many", "many", "other"]);
});

test("a message that a language lacks is taken from the fallback, else its key is shown", () => {
  const t = translator({ a: "eins {name}" }, { a: "one", b: "two" }, "de");
  assert.equal(t("a", { name: "<b>" }), "eins <b>");
  assert.equal(t("b"), "two");
  assert.equal(t("c"), "c");
});

test("every language has every message, with the plural forms that CLDR gives it", () => {
  const read = (language) => JSON.parse(readFileSync(new URL(`../messages/${language}.json`, import.meta.url), "utf8"));
  const english = read("en");
  const there = readdirSync(new URL("../messages/", import.meta.url)).map((name) => name.replace(/\.json$/, ""));
  assert.deepEqual(there.sort(), INTERFACE_LANGUAGES.toSorted(), "a file of messages for every language that can be chosen");
  for (const language of there) {
    const messages = read(language);
    assert.deepEqual(Object.keys(messages).sort(), Object.keys(english).sort(), language);
    for (const [key, message] of Object.entries(messages)) {
      const names = (text) => [...new Set([...text.matchAll(/\{(\w+)\}/g)].map((found) => found[1]))].sort();
      if (typeof message === "string") assert.deepEqual(names(message), names(english[key]), `${language} ${key}`);
      else assert.deepEqual(Object.keys(message).sort(), new Intl.PluralRules(language).resolvedOptions().pluralCategories.toSorted(), `${language} ${key}`);
    }
  }
});

// RFC 4647, section 3.4: lookup falls from the special tag to the general one.
test("a language is looked up from the special to the general", () => {
  assert.equal(bestLanguage(["de-CH", "fr"], ["en", "de"]), "de");
  assert.equal(bestLanguage(["fr"], ["en", "de"]), "en");
  assert.deepEqual(textIn({ de: "Stein", en: "stone" }, ["es", "en"]), { value: "stone", language: "en" });
  assert.equal(textIn("stone", ["de"]).value, "stone");
});

// RFC 4180, section 2: rules 5 to 7 on quoted fields.
test("quoted fields hold commas, line breaks and doubled quotes", () => {
  assert.deepEqual(parseCsv('"aaa","b\r\nbb","c""c,"\r\nzzz,yyy,xxx'), [["aaa", "b\r\nbb", 'c"c,'], ["zzz", "yyy", "xxx"]]);
});

test("two columns of numbers become a curve in order", () => {
  assert.deepEqual(curveOf("# made in spring\nwavelength_nm,reflectance\n500,0.2\n400,0.1\nbad,row\n"),
    { x_title: "wavelength_nm", y_title: "reflectance", points: [[400, 0.1], [500, 0.2]] });
  assert.equal(curveOf("only,words\n1,2"), null);
  assert.equal(columnTitle("wavelength_nm"), "wavelength (nm)");
});

// The formula of the format: t = p·n / (|w cos a| + |h sin a|) + 0.5, worked by hand.
test("the divider's position at chosen points", () => {
  const size = { width: 400, height: 200 };
  assert.equal(positionAt(0, 50, size, 0), 0);
  assert.equal(positionAt(300, 10, size, 0), 0.75);
  assert.ok(Math.abs(positionAt(10, 50, size, 90) - 0.25) < 1e-12);
  assert.ok(Math.abs(positionAt(400, 200, size, 45) - 1) < 1e-12);
  assert.equal(positionAt(1, 1, { width: 0, height: 0 }, 0), 0.5);
});

test("the point of the divider lies at its position, at any angle", () => {
  const size = { width: 731, height: 412 };
  for (let angle = -180; angle <= 180; angle += 15) {
    for (const position of [0, 0.3, 1]) {
      const { x, y } = pointOfDivider(position, size, angle);
      assert.ok(Math.abs(positionAt(x, y, size, angle) - position) < 1e-9, `${angle} ${position}`);
    }
  }
});

test("sides and directions are named as they are seen", () => {
  assert.deepEqual([0, 90, 180, -90, 44, 46].map(sideOfLeft), ["left", "above", "right", "below", "left", "above"]);
  assert.deepEqual([0, 90, 180, -90, 360, 20].map(directionName), ["front", "right", "back", "left", "front", "front"]);
});

test("pins are lettered past z", () => {
  const alphabet = "abcdefghijklmnopqrstuvwxyz";
  assert.deepEqual([0, 25, 26, 701, 702].map((index) => pinMark(index, alphabet, "en")), ["a", "z", "aa", "zz", "aaa"]);
  assert.equal(pinMark(1, "", "en"), "2");
});

test("only web addresses and paths beside the dossier are followed", () => {
  assert.equal(attachmentPlace("evidence/a.csv"), "beside");
  assert.equal(attachmentPlace("https://example.org/a.csv"), "web");
  for (const path of ["javascript:alert(1)", "data:text/html,x", "file:///etc/passwd", "//example.org/a", "/etc/passwd", ""]) assert.equal(attachmentPlace(path), null, path);
});

test("axis ticks are round and within the range", () => {
  assert.deepEqual(ticks(380, 730, 6), [400, 500, 600, 700]);
  assert.deepEqual(ticks(0, 1, 4), [0, 0.5, 1]);
});

test("a scale bar has a round length and says it in a fitting unit", () => {
  for (const [most, wanted] of [[1, 1], [1.9, 1], [2, 2], [4.99, 2], [5, 5], [0.0123, 0.01], [0.5, 0.5], [999, 500]]) {
    assert.ok(Math.abs(roundLength(most) / wanted - 1) < 1e-9, `${most}: ${roundLength(most)}`);
  }
  assert.match(lengthInWords(0.05, "en"), /^50\s?mm$/);
  assert.match(lengthInWords(2, "en"), /^2\s?m$/);
  assert.equal(lengthInWords(0.0005, "en"), "500 µm");
});

test("along the wall: from the side that is nearer, then from the other; what lies has the ground below", () => {
  for (const [now, wanted] of [[0, -78], [-20, -78], [30, 78], [180, 78], [78, -78], [-78, 78]]) {
    assert.deepEqual(alongWall({ azimuth_deg: now, elevation_deg: 0 }, 0), { azimuth_deg: wanted, elevation_deg: 0 });
  }
  assert.deepEqual(alongWall({ azimuth_deg: 30, elevation_deg: 89.5 }, 89.5), { azimuth_deg: 30, elevation_deg: 12 });
  assert.deepEqual(alongWall({ azimuth_deg: 30, elevation_deg: 12 }, 89.5), { azimuth_deg: -150, elevation_deg: 12 });
});
