// @ts-check
/** The way to a place that a finding or a parting names: camera and card. */

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("./context.js").Subject} Subject */
/** @typedef {import("../types.d.ts").Anchor} Anchor */
/** @typedef {import("../types.d.ts").Camera} Camera */
/** @typedef {import("../types.d.ts").Place} Place */

/** Steeper than this the picture would turn about itself. */
const STEEPEST_DEG = 80;
/** A place is looked at from this share of the distance that shows the whole object. */
const NEAR = 0.5;

/** @param {readonly number[]} a @param {readonly number[]} b */
const dot = (a, b) => (a[0] ?? 0) * (b[0] ?? 0) + (a[1] ?? 0) * (b[1] ?? 0) + (a[2] ?? 0) * (b[2] ?? 0);

/** @param {readonly number[]} a @param {readonly number[]} b @returns {[number, number, number]} */
const cross = ([ax = 0, ay = 0, az = 0], [bx = 0, by = 0, bz = 0]) => [ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx];

/**
 * A camera that looks at a place squarely; where its normal is not known, from
 * where it looks now.
 * @param {Camera} now @param {Anchor | null | undefined} anchor
 * @param {{up: readonly number[], front: readonly number[]}} orientation
 * @param {number} whole_m distance that shows the whole object
 * @returns {Camera | null} null: the place is not known in space
 */
export function cameraTowards(now, anchor, { up, front }, whole_m) {
  const target = anchor?.position_m;
  if (!target) return null;
  const camera = { ...now, target_m: target, distance_m: Math.min(now.distance_m, whole_m * NEAR) };
  const { normal } = anchor;
  if (!normal) return camera;
  const degrees = 180 / Math.PI;
  const elevation = Math.asin(Math.min(1, Math.max(-1, dot(normal, up)))) * degrees;
  const azimuth = Math.atan2(dot(normal, cross(up, front)), dot(normal, front)) * degrees;
  camera.elevation_deg = Math.min(STEEPEST_DEG, Math.max(-STEEPEST_DEG, elevation));
  // Straight from above or below every azimuth is right: the present one stays.
  if (Math.abs(elevation) < STEEPEST_DEG) camera.azimuth_deg = azimuth;
  return camera;
}

/** What a place names, the most telling first. @param {Context} ctx @param {Place} place @returns {Subject | null} */
export function subjectAt({ dossier }, place) {
  if (place.evidence !== undefined && dossier.evidence.has(place.evidence)) return { kind: "evidence", id: place.evidence };
  if (place.claim !== undefined && dossier.claims.has(place.claim)) return { kind: "claim", id: place.claim };
  if (place.region !== undefined && dossier.regions.has(place.region)) return { kind: "region", id: place.region, probe: null };
  if (place.pigment !== undefined && dossier.pigments.has(place.pigment)) return { kind: "pigment", id: place.pigment };
  return null;
}

/** An anchor that something of the place has, when it brings none itself. @param {Context} ctx @param {Place} place @returns {Anchor | null} */
function anchorOf({ dossier }, place) {
  if (place.anchor) return place.anchor;
  const item = place.evidence === undefined ? undefined : dossier.evidence.get(place.evidence);
  if (item?.anchor) return item.anchor;
  const claim = place.claim === undefined ? undefined : dossier.claims.get(place.claim);
  const region = place.region ?? item?.region ?? claim?.regions?.[0];
  const there = region === undefined || region === null ? [] : dossier.evidenceAt(region);
  return there.find(({ anchor }) => anchor?.position_m)?.anchor ?? null;
}

/** @param {Context} ctx @param {Anchor | null | undefined} anchor @returns {Camera | null} */
export function cameraAt(ctx, anchor) {
  const { up = [0, 1, 0], front = [0, 0, 1] } = ctx.dossier.document.object?.orientation ?? {};
  const now = ctx.view().camera;
  return cameraTowards(now, anchor, { up, front }, ctx.first_camera()?.distance_m ?? now.distance_m);
}

/** The camera glides there and the card opens. @param {Context} ctx @param {Place} place @returns {boolean} false: there is nowhere to go */
export function goTo(ctx, place) {
  const camera = cameraAt(ctx, anchorOf(ctx, place));
  const subject = subjectAt(ctx, place);
  if (subject) ctx.show(subject, camera);
  else if (camera) ctx.glide({ camera });
  if (place.state !== undefined && ctx.dossier.states.has(place.state)) {
    const { left, right } = ctx.view();
    if (left !== place.state && right !== place.state) ctx.change({ right: place.state });
  }
  return Boolean(subject ?? camera ?? place.state);
}
