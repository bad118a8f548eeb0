// @ts-check
/** The tools that draw regions on the surface. Sizes in mm on the object, never on the screen. */
import { svg } from "../../dom.js";
import { project, ring } from "../../projecting.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../hand.js").Tool} Tool */
/** @typedef {NonNullable<ReturnType<import("../../../types.d.ts").ViewerHandle["anchor_at"]>>} SurfacePoint */
/** @typedef {import("../../desk/types.d.ts").Over} Over */

/**
 * @typedef {object} Desired what the page has chosen
 * @property {() => number} number of the region; 0 takes away
 * @property {() => Over} over
 * @property {() => number} radius_mm
 * @property {(tool: string) => string} label names the step for undo
 * @property {(point: SurfacePoint, x: number, y: number) => void} fill
 * @property {(work: Promise<unknown>) => void} watch tells when something was refused
 */

/** Points nearer together than this share of the radius add nothing. */
const SPACING = 0.25;
/** Sides of the ring that shows the brush. */
const RING = 40;

/** The mark of a tool, light under dark, so that it reads on every paint. @param {Context} ctx */
function outline(ctx) {
  const paths = ["halo", "line"].map((layer) => svg("path", { class: layer, fill: "none" }));
  ctx.stage.sketch.replaceChildren(...paths);
  return {
    /** @param {([number, number] | null)[]} points @param {boolean} closed */
    draw(points, closed) {
      const d = points.map((point, index) => (point ? `${index === 0 ? "M" : "L"}${point[0].toFixed(1)} ${point[1].toFixed(1)}` : "")).join("");
      for (const path of paths) path.setAttribute("d", d && closed ? `${d}Z` : d);
    },
  };
}

/** Paints along the way of the pointer. @param {Context} ctx @param {Desired} desired @returns {Tool & {follow(): void}} */
export function brush(ctx, desired) {
  const mark = outline(ctx);
  /** Runs of points without a gap, to be sent; one that `continues` belongs to the step of the one before. @type {{points: SurfacePoint[], continues: boolean}[]} */
  let waiting = [];
  /** The run among them that goes on. @type {{points: SurfacePoint[], continues: boolean} | null} */
  let open = null;
  /** Where the run that goes on has come to, whether or not it is sent. @type {SurfacePoint | null} */
  let last = null;
  /** @type {SurfacePoint | null} */
  let pressed = null;
  /** @type {[number, number] | null} */
  let hovered = null;
  let continues = false;
  let busy = false;
  const send = async () => {
    if (busy || waiting.length === 0) return;
    busy = true;
    try {
      for (let run = waiting.shift(); run; run = waiting.shift()) {
        if (run === open) open = null;
        const points = run.points.map(({ position, normal }) => ({ position, normal }));
        await ctx.session?.draw("stroke", { points, radius_mm: desired.radius_mm(), number: desired.number(), over: desired.over(), continues: run.continues, label: desired.label("brush") });
      }
    } catch (error) {
      waiting = [];
      [open, last, continues] = [null, null, false];
      desired.watch(Promise.reject(error));
    } finally {
      busy = false;
    }
  };
  /** @param {number} x @param {number} y */
  const add = (x, y) => {
    const point = ctx.handle.anchor_at(x, y);
    if (!point) {
      // Off the object the stroke has a gap: the next point begins a run of its own.
      [open, last] = [null, null];
      return;
    }
    if (last && Math.hypot(...point.position.map((value, axis) => value - (last?.position[axis] ?? 0))) < desired.radius_mm() * 1e-3 * SPACING) return;
    if (open) open.points.push(point);
    else {
      // What goes on from points already sent begins at the last of them, so that no gap is left.
      open = { points: last ? [last, point] : [point], continues };
      continues = true;
      waiting.push(open);
    }
    last = point;
  };
  const show = () => {
    const point = hovered && ctx.handle.anchor_at(...hovered);
    if (!point) return mark.draw([], true);
    const projection = ctx.handle.projection();
    mark.draw(ring(point.position, point.normal, desired.radius_mm() * 1e-3, RING).map((corner) => project(projection, corner)), true);
  };
  return {
    begin(x, y) {
      [open, last, continues] = [null, null, false];
      add(x, y);
      void send();
    },
    extend(points) {
      for (const [x, y] of points) add(x, y);
      void send();
    },
    end() { void send(); },
    hover(x, y) {
      hovered = [x, y];
      show();
    },
    leave() {
      hovered = null;
      mark.draw([], true);
    },
    press(x, y, shift) {
      const point = ctx.handle.anchor_at(x, y);
      if (!point) return;
      waiting.push({ points: shift && pressed ? between(pressed, point, desired.radius_mm() * 1e-3 * SPACING * 2) : [point], continues: false });
      pressed = point;
      void send();
    },
    follow: show,
  };
}

/** Points on the straight way from one to the other. @param {SurfacePoint} from @param {SurfacePoint} to @param {number} step_m @returns {SurfacePoint[]} */
function between(from, to, step_m) {
  const length = Math.hypot(...to.position.map((value, axis) => value - (from.position[axis] ?? 0)));
  const count = Math.min(500, Math.max(1, Math.ceil(length / step_m)));
  return Array.from({ length: count }, (_, index) => {
    const share = (index + 1) / count;
    const mix = (/** @type {number[]} */ a, /** @type {number[]} */ b) => /** @type {[number, number, number]} */ ([0, 1, 2].map((axis) => (a[axis] ?? 0) * (1 - share) + (b[axis] ?? 0) * share));
    return { ...to, position: mix(from.position, to.position), normal: mix(from.normal, to.normal) };
  });
}

/** Corners nearer than this to the first close the line (CSS px). */
const CLOSE_PX = 8;

/** Encloses what faces the eye. By keyboard Enter sets a corner, Shift and Enter closes. @param {Context} ctx @param {Desired} desired @returns {Tool} */
export function lasso(ctx, desired) {
  const mark = outline(ctx);
  /** @type {[number, number][]} */
  let line = [];
  let corners = false;
  const close = () => {
    const polygon = line;
    line = [];
    corners = false;
    mark.draw([], true);
    if (polygon.length < 3) return;
    const work = ctx.session?.draw("lasso", { polygon, projection: ctx.handle.projection(), number: desired.number(), over: desired.over(), label: desired.label("lasso") });
    if (work) desired.watch(work);
  };
  return {
    begin(x, y) {
      corners = false;
      line = [[x, y]];
    },
    extend(points) {
      for (const [x, y] of points) {
        const [last_x, last_y] = line.at(-1) ?? [Infinity, Infinity];
        if (Math.hypot(x - last_x, y - last_y) >= 2) line.push([x, y]);
      }
      mark.draw(line, false);
    },
    end: close,
    hover(x, y) {
      if (corners && line.length > 0) mark.draw([...line, [x, y]], false);
    },
    leave() {},
    press(x, y, shift) {
      const [first_x, first_y] = line[0] ?? [Infinity, Infinity];
      if (corners && line.length > 2 && (shift || Math.hypot(x - first_x, y - first_y) < CLOSE_PX)) return close();
      corners = true;
      line.push([x, y]);
      mark.draw(line, false);
    },
    back() {
      line.pop();
      mark.draw(line, false);
    },
  };
}

/** Fills from where it is pressed. @param {Context} ctx @param {Desired} desired @returns {Tool} */
export function filling(ctx, desired) {
  ctx.stage.sketch.replaceChildren();
  const fill = (/** @type {number} */ x, /** @type {number} */ y) => {
    const point = ctx.handle.anchor_at(x, y);
    if (point) desired.fill(point, x, y);
  };
  return { begin: fill, extend() {}, end() {}, hover() {}, leave() {}, press: fill };
}
