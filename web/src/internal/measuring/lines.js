// @ts-check
/** Lines of the surface on the screen: thinned, and parted into what is seen and what is hidden. No DOM here. */

/** @typedef {[number, number, number]} Point */

/** Points on the way, so many at most, evenly along it; corners of a coarse mesh stay where there is room. @param {Point[]} line @param {number} most @returns {Point[]} */
export function thinned(line, most) {
  if (line.length < 2) return line;
  const lengths = [0];
  for (let at = 1; at < line.length; at += 1) lengths.push((lengths[at - 1] ?? 0) + distance(/** @type {Point} */ (line[at - 1]), /** @type {Point} */ (line[at])));
  const whole = lengths.at(-1) ?? 0;
  const marks = new Set(Array.from({ length: most }, (_, index) => (index / (most - 1)) * whole));
  if (line.length + most <= 2 * most) for (const length of lengths) marks.add(length);
  const sorted = [...marks].sort((a, b) => a - b);
  let at = 0;
  return sorted.map((mark) => {
    while (at < line.length - 2 && (lengths[at + 1] ?? 0) < mark) at += 1;
    const [from, to] = [lengths[at] ?? 0, lengths[at + 1] ?? 0];
    const share = to > from ? Math.min(1, (mark - from) / (to - from)) : 0;
    const [a, b] = [/** @type {Point} */ (line[at]), /** @type {Point} */ (line[at + 1])];
    return [0, 1, 2].map((axis) => (a[axis] ?? 0) * (1 - share) + (b[axis] ?? 0) * share);
  }).map((point) => /** @type {Point} */ (point));
}

/** @param {ArrayLike<number>} a @param {ArrayLike<number>} b */
export function distance(a, b) {
  return Math.hypot((a[0] ?? 0) - (b[0] ?? 0), (a[1] ?? 0) - (b[1] ?? 0), (a[2] ?? 0) - (b[2] ?? 0));
}

/**
 * Path data of the seen and of the hidden pieces. A piece is seen where both its ends are; an end that is
 * behind the eye breaks the line.
 * @param {([number, number] | null)[]} places on the screen @param {boolean[]} seen one a place
 * @returns {{seen: string, hidden: string}}
 */
export function parted(places, seen) {
  const data = { seen: "", hidden: "" };
  /** What the last piece was drawn in. @type {"seen" | "hidden" | null} */
  let pen = null;
  for (let at = 1; at < places.length; at += 1) {
    const [from, to] = [places[at - 1], places[at]];
    if (!from || !to) {
      pen = null;
      continue;
    }
    const now = seen[at - 1] && seen[at] ? "seen" : "hidden";
    if (now !== pen) data[now] += `M${from[0].toFixed(1)} ${from[1].toFixed(1)}`;
    data[now] += `L${to[0].toFixed(1)} ${to[1].toFixed(1)}`;
    pen = now;
  }
  return data;
}
