// @ts-check
/** Measurements and kept readings over the picture: lines that follow the camera, hidden parts dashed, and numbered tags. */
import { html, svg } from "../dom.js";
import { panesOf, roomsIn } from "../panes.js";
import { project } from "../projecting.js";
import { distance, parted, thinned } from "./lines.js";
import { notebookOf } from "./notebook.js";
import { shortest } from "./words.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../panes.js").Pane} Pane */
/** @typedef {import("./lines.js").Point} Point */
/** @typedef {import("./notebook.js").Measurement} Measurement */

/** Points of a line that are asked whether they are seen: each costs a ray. A choice of ours: a dash of a hand-wide line is then about a finger. */
const SAMPLES = 48;
/** The camera must have stood so long before it is asked anew what is hidden (ms): a choice of ours, longer than the gap between two events of a drag and shorter than anyone waits for. */
const REST_MS = 90;
/** What lies before a place by less than this share of its distance is the place itself: a choice of ours, above the rounding of a place in single precision and below what hides anything. */
const SAME = 0.002;
/** Over the surface and straight are one line where they differ by less: a choice of ours, a fifth of a per cent bows a line across the picture by some ten pixels at most. */
const STRAIGHT = 1.002;

/**
 * @typedef {object} Drawn
 * @property {{points: Point[], seen: boolean[], paths: SVGPathElement[]}[]} lines
 *   `paths`: for each pane the halo and the line of what is seen, and of what is hidden
 * @property {{point: Point, seen: boolean, element: HTMLElement | SVGElement}[]} tags
 */

/** @type {WeakMap<object, {refresh(ctx: Context): void}>} */
const overlays = new WeakMap();

/** Draws what the notebook holds from now on. @param {Context} ctx */
export function showNotebook(ctx) {
  const known = overlays.get(ctx.stage);
  if (known) return known.refresh(ctx);
  const made = overlay(ctx);
  overlays.set(ctx.stage, made);
}

/** @param {Context} first */
function overlay(first) {
  let ctx = first;
  const { stage } = ctx;
  const notebook = notebookOf(ctx);
  const group = svg("g", { class: "measured" });
  const tags = html("div", { class: "measured-tags", "aria-hidden": "true" });
  stage.marks.before(group);
  stage.crosshair.element.before(tags);
  /** @type {Drawn} */
  let drawn = { lines: [], tags: [] };
  let last = "";
  let timer = 0;
  /** One for each pane, which clips what is drawn in it. @type {SVGSVGElement[]} */
  let frames = [];
  /** Where it is drawn. @param {Pane[]} [panes] */
  const layout = (panes = panesOf(ctx.handle, ctx.handle.view())) => roomsIn(panes, stage.size);
  let laid = "";
  /** Asks by rays what is seen. @param {Pane[]} rooms */
  const look = (rooms) => {
    if (ctx.signal.aborted) return;
    const [[left, top] = [0, 0]] = rooms;
    const projection = ctx.handle.projection();
    if (!projection) return;
    const sees = (/** @type {Point} */ point) => {
      const at = project(projection, point);
      if (!at) return false;
      const hit = ctx.handle.anchor_at(at[0] + left, at[1] + top);
      return !hit || distance(hit.position, projection.eye) > distance(point, projection.eye) * (1 - SAME);
    };
    for (const line of drawn.lines) line.seen = line.points.map(sees);
    for (const tag of drawn.tags) tag.seen = sees(tag.point);
    last = "";
    follow(rooms);
  };
  /** @param {Pane[]} rooms */
  const follow = (rooms) => {
    if (drawn.lines.length + drawn.tags.length === 0) return;
    const projection = ctx.handle.projection();
    if (!projection) return;
    if (String(rooms) !== laid) return void make(rooms);
    const [[left, top] = [0, 0]] = rooms;
    const now = `${left} ${top} ${Array.from(projection.view_projection).join(" ")} ${projection.width} ${projection.height}`;
    if (now === last) return;
    // Moved by the hand of the camera, not by a look around: what is hidden is asked once it rests.
    if (last !== "") {
      clearTimeout(timer);
      timer = window.setTimeout(() => look(layout()), REST_MS);
    }
    last = now;
    for (const { points, seen, paths } of drawn.lines) {
      const data = parted(points.map((point) => project(projection, point)), seen);
      paths.forEach((path, index) => path.setAttribute("d", index % 4 < 2 ? data.seen : data.hidden));
    }
    for (const { point, seen, element } of drawn.tags) {
      const at = project(projection, point);
      element.style.display = at ? "" : "none";
      element.classList.toggle("behind", !seen);
      // What is drawn lies in its pane; words stand in the first.
      const [x, y] = element instanceof SVGElement ? [0, 0] : [left, top];
      // Words end within their pane: beyond its middle they stand before their place.
      if (!(element instanceof SVGElement)) element.classList.toggle("before", at !== null && at[0] > projection.width / 2);
      if (at) element.style.transform = `translate(${(at[0] + x).toFixed(1)}px, ${(at[1] + y).toFixed(1)}px)`;
    }
  };
  /** @param {Point[]} points @param {{faint?: boolean, chosen?: boolean}} [how] */
  const line = (points, { faint = false, chosen = false } = {}) => {
    const paths = frames.flatMap((frame) => {
      const own = ["halo", "line", "halo hidden", "line hidden"].map((name) => svg("path", { class: `${name}${faint ? " faint" : ""}${chosen ? " chosen" : ""}` }));
      frame.append(...own);
      return own;
    });
    const thin = thinned(points, SAMPLES);
    drawn.lines.push({ points: thin, seen: thin.map(() => true), paths });
  };
  /** @param {Point} point */
  const dot = (point) => {
    for (const frame of frames) {
      const element = svg("g", {}, svg("path", { class: "spot halo", d: "M-6 0H6M0 -6V6" }), svg("path", { class: "spot", d: "M-5 0H5M0 -5V5" }));
      frame.append(element);
      drawn.tags.push({ point, seen: true, element });
    }
  };
  /** @param {Point} point @param {string} kind @param {string} number @param {string} [words] */
  const tag = (point, kind, number, words) => {
    const element = html("div", { class: `measured-tag ${kind}` }, html("span", {}, html("b", {}, number), words && html("span", { dir: "auto" }, words)));
    tags.append(element);
    drawn.tags.push({ point, seen: true, element });
  };
  /** @param {Pane[]} rooms */
  const make = (rooms) => {
    laid = String(rooms);
    frames = rooms.map(([x, y, width, height]) => svg("svg", { x, y, width, height }));
    group.replaceChildren(...frames);
    tags.replaceChildren();
    drawn = { lines: [], tags: [] };
    const digits = (/** @type {number} */ number) => number.toLocaleString(ctx.language);
    for (const one of notebook.measurements) {
      const chosen = one.number === notebook.chosen;
      for (const { points, faint } of linesOf(one)) line(points, { faint, chosen });
      for (const { position } of one.places) dot(position);
      tag(tagPlace(one), `measurement${chosen ? " chosen" : ""}`, digits(one.number), shortest(ctx, one));
    }
    const pending = notebook.pending.map(({ position }) => position);
    if (pending.length > 1) line(pending, { faint: true, chosen: true });
    pending.forEach(dot);
    for (const { number, probe } of notebook.readings) {
      const { position_m } = probe.anchor;
      if (!position_m) continue;
      dot(position_m);
      tag(position_m, "reading", digits(number));
    }
    look(rooms);
  };
  notebook.changed.add(() => make(layout()));
  stage.framed.add((panes) => follow(layout(panes)));
  ctx.signal.addEventListener("abort", () => clearTimeout(timer), { once: true });
  make(layout());
  return {
    /** @param {Context} next */
    refresh(next) {
      ctx = next;
      make(layout());
    },
  };
}

/** @param {Measurement} measurement @returns {{points: Point[], faint: boolean}[]} */
function linesOf({ kind, places, result }) {
  const straight = places.map(({ position }) => position);
  const line = result.line ?? null;
  if (kind === "loop" && line) return [{ points: [...line, ...line.slice(0, 1)], faint: false }];
  if (kind === "angle") return [{ points: straight, faint: false }];
  if (kind === "normals") return places.map(({ position, normal }) => ({ points: [position, ahead(position, normal, distance(straight[0] ?? position, straight[1] ?? position) / 4)], faint: false }));
  if (!line) return [{ points: straight, faint: true }];
  const differs = kind === "distance" && (result.surface_m ?? 0) > (result.straight_m ?? 0) * STRAIGHT;
  return [{ points: line, faint: false }, ...(differs ? [{ points: straight, faint: true }] : [])];
}

/** @param {Point} point @param {Point} way @param {number} length_m @returns {Point} */
function ahead([x, y, z], [u, v, w], length_m) {
  return [x + u * length_m, y + v * length_m, z + w * length_m];
}

/** Where the number stands: in the middle of a line, at the corner of an angle. @param {Measurement} measurement @returns {Point} */
function tagPlace({ kind, places, result }) {
  const at = places[kind === "angle" ? 1 : 0]?.position ?? [0, 0, 0];
  if ((kind === "distance" || kind === "profile") && result.line) return thinned(result.line, 3)[1] ?? at;
  return at;
}
