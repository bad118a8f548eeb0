// @ts-check
/** Over the picture: where the photograph was taken from, its points, and how far each is off. Follows the camera. */
import { html, svg } from "../dom.js";
import { panesOf, roomsIn } from "../panes.js";
import { project } from "../projecting.js";
import { along, arrowTimes } from "./seeing.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../panes.js").Pane} Pane */
/** @typedef {import("./shot.js").Shot} Shot */
/** @typedef {[number, number, number]} Point */

/** The picture of the frustum stands at this share of the distance to the points: a choice of ours. */
const PICTURE_AT = 0.3;
/** Shorter than that an arrow has no head (CSS px). */
const HEAD_PX = 4;

/**
 * @typedef {{class: string, points: (Point | null)[], arrow?: boolean}} Line
 * @typedef {{point: Point, words: string, chosen: boolean, wrong: boolean}} Tag
 */

/** @type {WeakMap<object, ReturnType<typeof overlay>>} */
const overlays = new WeakMap();

/** Draws what the shot holds, until it is hidden. @param {Context} ctx @param {Shot} shot @returns {{hide(): void}} */
export function showShot(ctx, shot) {
  const made = overlays.get(ctx.stage) ?? overlay(ctx, shot);
  overlays.set(ctx.stage, made);
  made.refresh(ctx);
  return made;
}

/** @param {Context} first @param {Shot} shot */
function overlay(first, shot) {
  let ctx = first;
  const { stage } = ctx;
  const group = svg("g", { class: "placed" });
  const tags = html("div", { class: "placed-tags", "aria-hidden": "true" });
  stage.marks.before(group);
  stage.crosshair.element.before(tags);
  /** @type {{lines: Line[], tags: Tag[]}} */
  let drawn = { lines: [], tags: [] };
  let last = "";
  let shown = false;
  /** Where it is drawn. @param {Pane[]} [panes] */
  const layout = (panes = panesOf(ctx.handle, ctx.handle.view())) => roomsIn(panes, stage.size);
  const make = () => {
    drawn = shown ? { lines: linesOf(shot), tags: tagsOf(shot) } : { lines: [], tags: [] };
    follow(layout(), true);
  };
  /** @param {Pane[]} rooms @param {boolean} [anew] something else is drawn */
  const follow = (rooms, anew = false) => {
    if (drawn.lines.length + drawn.tags.length === 0) {
      if (!anew) return;
      group.replaceChildren();
      tags.replaceChildren();
      return;
    }
    const projection = ctx.handle.projection();
    if (!projection) return;
    const now = `${rooms} ${Array.from(projection.view_projection).join(" ")}`;
    if (now === last && !anew) return;
    last = now;
    const place = (/** @type {Point | null} */ point) => point && project(projection, point);
    group.replaceChildren(...rooms.map(([x, y, width, height]) => svg("svg", { x, y, width, height }, drawn.lines.flatMap((line) => {
      const d = pathOf(line.points.map(place), Boolean(line.arrow));
      return d ? [svg("path", { class: `halo ${line.class}`, d }), svg("path", { class: `line ${line.class}`, d })] : [];
    }))));
    const [[left, top] = [0, 0]] = rooms;
    tags.replaceChildren(...drawn.tags.flatMap(({ point, words, chosen, wrong }) => {
      const at = place(point);
      if (!at) return [];
      const tag = html("div", { class: `measured-tag placed-tag${chosen ? " chosen" : ""}${wrong ? " wrong" : ""}` }, html("span", { dir: "auto" }, words));
      tag.style.transform = `translate(${(at[0] + left).toFixed(1)}px, ${(at[1] + top).toFixed(1)}px)`;
      return [tag];
    }));
  };
  shot.changed.add(make);
  stage.framed.add((panes) => follow(layout(panes)));
  return {
    /** @param {Context} next */
    refresh(next) {
      ctx = next;
      shown = true;
      make();
    },
    hide() {
      shown = false;
      make();
    },
  };
}

/** @param {Shot} shot @returns {Line[]} */
function linesOf(shot) {
  const { placed, answer, shows, pairs, pending } = shot;
  /** @type {Line[]} */
  const lines = [];
  const cross = (/** @type {Point} */ place) => lines.push({ class: "spot", points: [place] });
  if (placed && shows.frustum) {
    const { frame } = placed;
    const { centre_m } = frame;
    const depth = PICTURE_AT * depthOf(shot);
    const border = frame.border.map((ray) => along(centre_m, ray, depth));
    const first = border.slice(0, 1);
    lines.push({ class: "frustum", points: [...border, ...first] });
    for (const [index, corner] of border.entries()) if (index % 8 === 0) lines.push({ class: "frustum", points: [centre_m, corner] });
    // From the middle of its upper edge a peg tells which way up it was.
    const [from, to] = [border[4], border[20]];
    if (from && to) lines.push({ class: "frustum", points: [from, along(from, /** @type {Point} */ (from.map((one, axis) => one - (to[axis] ?? 0))), 0.15)] });
  }
  if (answer && shows.arrows) {
    const times = arrowTimes(answer);
    answer.fit.pairs.forEach(({ name, wrong }, index) => {
      const place = pairs[index]?.surface_m;
      const sighted = answer.sighted_m[index];
      if (!place || !sighted) return;
      const tip = along(place, /** @type {Point} */ (sighted.map((one, axis) => one - (place[axis] ?? 0))), wrong ? 1 : times);
      lines.push({ class: `arrow${wrong ? " wrong" : ""}${name === shot.chosen ? " chosen" : ""}`, points: [place, tip], arrow: true });
    });
  }
  for (const { surface_m } of pairs) cross(surface_m);
  if (pending.place) cross(pending.place);
  return lines;
}

/** How far before the camera its points lie; without points the middle of what it was turned to is taken for it. @param {Shot} shot */
function depthOf({ placed, pairs }) {
  if (!placed) return 0;
  const [a, b, c] = placed.posed.pose.rotation[2] ?? [0, 0, 1];
  const depths = pairs.map(({ surface_m: [x, y, z] }) => a * x + b * y + c * z + placed.posed.pose.translation_m[2]);
  const own = placed.posed.pose.translation_m[2];
  return depths.length > 0 ? depths.reduce((sum, one) => sum + one, 0) / depths.length : Math.max(own, 0.1);
}

/** @param {Shot} shot @returns {Tag[]} */
function tagsOf({ pairs, chosen, answer }) {
  return pairs.map(({ name, surface_m }, index) => ({ point: surface_m, words: name, chosen: name === chosen, wrong: Boolean(answer?.fit.pairs[index]?.wrong) }));
}

/** A line, an arrow, or for one place a cross. @param {([number, number] | null)[]} places @param {boolean} arrow */
function pathOf(places, arrow) {
  const [first] = places;
  if (places.length === 1) return first ? `M${first[0] - 5} ${first[1]}h10M${first[0]} ${first[1] - 5}v10` : "";
  let data = "";
  let pen = false;
  for (const place of places) {
    if (place) data += `${pen ? "L" : "M"}${place[0].toFixed(1)} ${place[1].toFixed(1)}`;
    pen = place !== null;
  }
  const last = places.at(-1);
  if (arrow && first && last) data += headOf(first, last);
  return data;
}

/** @param {[number, number]} from @param {[number, number]} to */
export function headOf([x, y], [u, v]) {
  const length = Math.hypot(u - x, v - y);
  if (length < HEAD_PX) return "";
  const [dx, dy] = [(u - x) / length, (v - y) / length];
  const size = Math.min(7, length / 2);
  const point = (/** @type {number} */ side) => `${(u - size * (dx + side * dy * 0.6)).toFixed(1)} ${(v - size * (dy - side * dx * 0.6)).toFixed(1)}`;
  return `M${point(1)}L${u.toFixed(1)} ${v.toFixed(1)}L${point(-1)}`;
}
