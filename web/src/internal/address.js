// @ts-check
/**
 * A view as the part of a page address after `#`, and back. Written so that a
 * person can read and change it: `left=as-found&right=…&camera=0,0,0,20,10,1.2,35`.
 */

/** @typedef {import("../types.d.ts").View} View */

/** Tone maps of bands. */
const MAPS = ["sequence", "grey", "diverging", "steps"];
/** Numbers of a light as they are at first: of the first lamp, of the second, relief and what is hidden. */
const LIGHT_AT_FIRST = [-65, 20, 0, 0, 1, 65, 20, 0, 0, 0, 1, 0];

/** Six significant digits: a micrometre on an object of a metre. @param {number} value */
const short = (value) => String(Number(value.toPrecision(6)));

/** @param {Partial<View>} view */
export function addressOf(view) {
  /** @type {[string, string][]} */
  const parts = [];
  for (const name of /** @type {const} */ (["left", "right", "compare", "pin", "region", "language"])) {
    const value = view[name];
    if (typeof value === "string" && value !== "") parts.push([name, value]);
  }
  if (view.position !== undefined) parts.push(["position", short(view.position)]);
  if (view.angle_deg !== undefined) parts.push(["angle", short(view.angle_deg)]);
  if (view.surround_l !== undefined) parts.push(["surround", short(view.surround_l)]);
  if (view.camera) {
    const { target_m, azimuth_deg, elevation_deg, distance_m, fov_deg, aspect } = view.camera;
    parts.push(["camera", [...target_m, azimuth_deg, elevation_deg, distance_m, fov_deg, ...(aspect ? [aspect] : [])].map(short).join(",")]);
  }
  if (view.light) {
    const { mode, second, relief, occlusion } = view.light;
    const values = [view.light, second].flatMap((lamp) => [lamp.azimuth_deg, lamp.elevation_deg, lamp.distance_m, lamp.softness, lamp.strength]);
    const all = [...values, relief, occlusion];
    // What stands as it is at first need not be said.
    while (all.length > 2 && all.at(-1) === LIGHT_AT_FIRST[all.length - 1]) all.pop();
    parts.push(["light", [mode, ...all.map(short)].join(",")]);
  }
  if (view.section) parts.push(["section", [view.section.azimuth_deg, view.section.elevation_deg, view.section.position].map(short).join(",")]);
  if (view.difference && view.compare === "difference") parts.push(["difference", [...[view.difference.threshold, view.difference.full_scale].map(short), ...(view.difference.fitted ? ["fitted"] : [])].join(",")]);
  if (view.loupe && view.compare === "loupe") parts.push(["loupe", [view.loupe.x, view.loupe.y, view.loupe.radius, view.loupe.softness].map(short).join(",")]);
  if (view.changes_per_second !== undefined && view.compare === "blink") parts.push(["changes", short(view.changes_per_second)]);
  const { compare, count = 2, third, fourth, further, shares } = view;
  if (count > 2 && third && (compare === "swipe" || compare === "pair" || compare === "blend")) {
    parts.push(["third", third]);
    if (count > 3 && fourth) parts.push(["fourth", fourth]);
    if (compare === "swipe" && further) parts.push(["further", further.map(short).join(",")]);
    if (compare === "blend" && shares) parts.push(["shares", shares.map(short).join(",")]);
  }
  if (view.lamp) parts.push(["lamp", view.lamp.adapted ? view.lamp.id : `${view.lamp.id},not-adapted`]);
  if (view.overlay) parts.push(["overlay", view.overlay]);
  for (const [id, { opacity, ends, map, lines }] of Object.entries(view.layers ?? {})) parts.push(["layer", [id, ...[opacity, ...ends].map(short), map, short(lines)].join(",")]);
  if (view.over) parts.push(["over", view.over]);
  // Commas, and slashes in ids, may stand in a fragment as they are (RFC 3986, section 3.5).
  return parts.map(([name, value]) => `${name}=${encodeURIComponent(value).replace(/%2C/g, ",").replace(/%2F/g, "/")}`).join("&");
}

/**
 * What an address says of a view. What it does not say, or says in a way that
 * makes no sense, is left out; a pin or region it does not name is closed.
 * @param {string} hash with or without `#`
 * @returns {Partial<View> | null} null: the address names no view
 */
export function viewOf(hash) {
  const parameters = new URLSearchParams(hash.replace(/^#/, "").replace(/\+/g, "%2B"));
  /** @type {Partial<View>} */
  const view = {};
  for (const name of /** @type {const} */ (["left", "right", "compare", "language"])) {
    const value = parameters.get(name);
    if (value) view[name] = value;
  }
  const position = number(parameters.get("position"));
  if (position !== null && position >= 0 && position <= 1) view.position = position;
  const angle_deg = number(parameters.get("angle"));
  if (angle_deg !== null) view.angle_deg = angle_deg;
  const surround_l = number(parameters.get("surround"));
  if (surround_l !== null && surround_l >= 0 && surround_l <= 100) view.surround_l = surround_l;
  const camera = cameraOf(parameters.get("camera"));
  if (camera) view.camera = camera;
  const light = lightOf(parameters.get("light"));
  if (light) view.light = light;
  const [across, above, place] = (parameters.get("section") ?? "").split(",").map(number);
  if (typeof across === "number" && typeof above === "number" && typeof place === "number") view.section = { azimuth_deg: across, elevation_deg: above, position: place };
  else if (view.left) view.section = null;
  const [least, most, fitted] = (parameters.get("difference") ?? "").split(",");
  const [threshold, full_scale] = [least, most].map((text) => number(text ?? null));
  if (typeof threshold === "number" && typeof full_scale === "number") view.difference = { threshold, full_scale, fitted: fitted === "fitted" };
  const [x, y, radius, softness] = (parameters.get("loupe") ?? "").split(",").map(number);
  if (typeof x === "number" && typeof y === "number" && typeof radius === "number" && typeof softness === "number") view.loupe = { x, y, radius, softness };
  const changes = number(parameters.get("changes"));
  if (changes !== null) view.changes_per_second = changes;
  const [third, fourth] = [parameters.get("third"), parameters.get("fourth")];
  if (third) Object.assign(view, { third, ...(fourth && { fourth }), count: fourth ? 4 : 3 });
  else if (view.compare) view.count = 2;
  const further = (parameters.get("further") ?? "").split(",").map(number);
  if (further.length === 2 && !further.includes(null)) view.further = /** @type {[number, number]} */ (further);
  const shares = (parameters.get("shares") ?? "").split(",").map(number);
  if (shares.length === 3 && !shares.includes(null)) view.shares = /** @type {[number, number, number]} */ (shares);
  const [lamp, adaptation] = (parameters.get("lamp") ?? "").split(",");
  if (lamp) view.lamp = { id: lamp, adapted: adaptation !== "not-adapted" };
  const overlay = parameters.get("overlay");
  if (overlay === "certainty" || overlay === "technique" || overlay === "age" || overlay === "review") view.overlay = overlay;
  const looks = parameters.getAll("layer").flatMap(lookOf);
  if (looks.length > 0) view.layers = Object.fromEntries(looks);
  else if (view.left) view.layers = {};
  if (parameters.has("over")) view.over = parameters.get("over");
  else if (view.left) view.over = null;
  const names = parameters.has("pin") || parameters.has("region");
  if (Object.keys(view).length === 0 && !names) return null;
  view.pin = parameters.get("pin") || null;
  view.region = parameters.get("region") || null;
  return view;
}

/** @param {string | null} text */
function number(text) {
  if (text === null || text.trim() === "") return null;
  const value = Number(text);
  return Number.isFinite(value) ? value : null;
}

/** A layer's id and how it is shown; ids may have commas. @param {string} text @returns {[string, import("../types.d.ts").LayerLook][]} */
function lookOf(text) {
  const parts = text.split(",");
  const [opacity, low, high, map = "", lines] = parts.splice(-5);
  const numbers = [opacity, low, high, lines].map((part) => number(part ?? null));
  if (numbers.includes(null) || !MAPS.includes(map)) return [];
  const [a, b, c, d] = /** @type {[number, number, number, number]} */ (numbers);
  return [[parts.join(","), { opacity: a, ends: [b, c], map: /** @type {import("../types.d.ts").LayerLook["map"]} */ (map), lines: d }]];
}

/** @param {string | null} text @returns {View["camera"] | null} */
function cameraOf(text) {
  const values = (text ?? "").split(",").map(number);
  if (values.length < 7 || values.length > 8 || values.includes(null)) return null;
  const [x, y, z, azimuth_deg, elevation_deg, distance_m, fov_deg, aspect] = /** @type {number[]} */ (values);
  if (!(Number(distance_m) > 0) || !(Number(fov_deg) > 0 && Number(fov_deg) < 180)) return null;
  return {
    target_m: [Number(x), Number(y), Number(z)], azimuth_deg: Number(azimuth_deg),
    elevation_deg: Number(elevation_deg), distance_m: Number(distance_m), fov_deg: Number(fov_deg),
    ...(Number(aspect) > 0 && { aspect: Number(aspect) }),
  };
}

/** @param {string | null} text @returns {View["light"] | null} */
function lightOf(text) {
  const [mode, ...rest] = (text ?? "").split(",");
  if (mode !== "as-measured" && mode !== "raking" && mode !== "daylight") return null;
  const told = rest.map(number);
  if (told.length < 2 || told.includes(null)) return null;
  const all = LIGHT_AT_FIRST.map((usual, index) => told[index] ?? usual);
  const lamp = (/** @type {number} */ from) => {
    const [azimuth_deg = 0, elevation_deg = 0, distance_m = 0, softness = 0, strength = 0] = all.slice(from, from + 5);
    return { azimuth_deg, elevation_deg, distance_m, softness, strength };
  };
  const [relief = 1, occlusion = 0] = all.slice(10);
  return { mode, ...lamp(0), second: lamp(5), relief, occlusion };
}
