// @ts-check
/**
 * The lamps of a raking light, carried around the object on the picture: a lamp on the disc that a ring
 * bounds (its middle: from the eye, its rim: grazing), and a bead that draws the ring wider for a lamp
 * farther away. Of panes beside one another, which have one light, the first has them.
 */
import { html, svg } from "./dom.js";
import { dragged } from "./dragging.js";
import { clamp } from "./geometry.js";
import { distanceOfShare, fromDisc, onDisc, shareOfDistance } from "./lamps.js";
import { lengthInWords } from "./scale.js";

/** @typedef {import("./context.js").Context} Context */
/** @typedef {import("../types.d.ts").View} View */
/** @typedef {import("../types.d.ts").Lamp} Lamp */
/** @typedef {import("./panes.js").Pane} Pane */

/** Steps of the keyboard (degrees; share of the way to a far lamp): choices of ours, a quarter turn in 45 short or 9 long ones. */
const [STEP, LONG_STEP, WAY_STEP] = [2, 10, 0.05];
/** Ring of the nearest lamp, in shares of that of a far one: a choice of ours, wide enough that a lamp on it is not over the middle. */
const NEAREST_RING = 0.55;
/** Half of a target of 44 (WCAG 2.2, 2.5.5; CSS px). */
const HALF_PX = 22;
/** From the ring of a far lamp to the edge of the picture (CSS px): half of a target and its halo. */
const EDGE_PX = 26;
/** How far outside its ring a bead lies (CSS px): apart from a lamp on the rim. A choice of ours. */
const BEAD_PX = 34;
/** Smallest ring (CSS px), where the picture leaves hardly any room: a lamp on it stands clear of one in the middle. A choice of ours. */
const LEAST_PX = 60;
/** Nearer to 0 than this a lamp stands neither before nor behind, or has no direction on the disc: rounding alone is smaller. */
const [FLAT, CENTRAL] = [1e-6, 1e-3];

/** @param {View} view @param {boolean} second @returns {Lamp} */
export const lampOf = (view, second) => (second ? view.light.second : view.light);

/** @param {Context} ctx @param {boolean} second @param {Partial<Lamp>} change */
export function changeLamp(ctx, second, change) {
  const { light } = ctx.view();
  return ctx.change({ light: second ? { ...light, second: { ...light.second, ...change } } : { ...light, ...change } });
}

/** How far a lamp stands. @param {Context} ctx @param {number} metres 0: far */
export const distanceInWords = ({ t, language }, metres) => (metres === 0 ? t("light.far") : lengthInWords(Number(metres.toPrecision(2)), language));

/** Where a lamp stands, in words. @param {Context} ctx @param {Lamp} lamp */
function placeInWords(ctx, lamp) {
  const { t, language } = ctx;
  const number = (/** @type {number} */ value) => (Math.round(value) || 0).toLocaleString(language);
  return t("lamp.place", {
    azimuth: number(lamp.azimuth_deg), elevation: number(lamp.elevation_deg),
    distance: distanceInWords(ctx, lamp.distance_m),
  });
}

/** @param {() => Context | null} context @param {HTMLElement} stage */
export function lampRing(context, stage) {
  const lines = svg("g", {});
  /** Where the object is that they go around, in the picture. @type {{now: Pane}} */
  const field = { now: [0, 0, 0, 0] };
  const parts = [false, true].map((second) => one(context, stage, field, second));
  const picture = svg("svg", { class: "lamp-ring", "aria-hidden": "true", focusable: "false" }, lines);
  lines.append(...parts.map((part) => part.ring));
  return {
    elements: [picture, ...parts.flatMap((part) => [part.bead, part.lamp])],
    /** @param {View | null} view @param {Pane[]} panes */
    place(view, panes) {
      const lit = view?.light.mode === "raking";
      if (lit) field.now = panes[0] ?? [0, 0, stage.clientWidth, stage.clientHeight];
      picture.toggleAttribute("hidden", !lit);
      for (const part of parts) part.place(lit ? view : null);
    },
    /** @param {Context} ctx */
    name(ctx) {
      for (const part of parts) part.name(ctx);
    },
  };
}

/** @param {() => Context | null} context @param {HTMLElement} stage @param {{now: Pane}} field @param {boolean} second */
function one(context, stage, field, second) {
  const slider = (/** @type {string} */ name, /** @type {SVGElement} */ drawing) => html("button", { class: `lamp-grip ${name}`, type: "button", role: "slider", hidden: true }, drawing);
  const lamp = slider("lamp", drawLamp(second));
  const bead = slider("bead", drawBead());
  const ring = svg("g", { hidden: true }, svg("circle", { class: "halo" }), svg("circle", { class: "line" }));
  const behind = () => { const view = context()?.view(); return view ? onDisc(view.camera, lampOf(view, second))[2] < -FLAT : false; };
  const places = { stage, middle: () => middleOf(field.now) };
  carried(lamp, places, behind, (x, y, was_behind) => {
    const ctx = context();
    if (!ctx) return;
    const view = ctx.view();
    const radius = radiusOf(ctx, field.now, lampOf(view, second));
    changeLamp(ctx, second, fromDisc(view.camera, x / radius, -y / radius, was_behind));
  });
  carried(bead, places, () => false, (x, y) => {
    const ctx = context();
    if (ctx) stretch(ctx, second, shareOfRing(field.now, Math.hypot(x, y) - BEAD_PX));
  });
  lamp.addEventListener("keydown", (event) => keys(event, context(), second, false));
  bead.addEventListener("keydown", (event) => keys(event, context(), second, true));
  return {
    lamp, bead, ring,
    /** @param {View | null} view */
    place(view) {
      const ctx = context();
      const shown = view ? lampOf(view, second) : null;
      const on = Boolean(ctx && shown && shown.strength > 0);
      for (const part of [lamp, bead]) part.hidden = !on;
      ring.toggleAttribute("hidden", !on);
      if (!on || !ctx || !shown || !view) return;
      const radius = radiusOf(ctx, field.now, shown);
      const [left, top] = middleOf(field.now);
      const [x, y, z] = onDisc(view.camera, shown);
      lamp.style.transform = `translate(${left + x * radius}px, ${top - y * radius}px)`;
      lamp.toggleAttribute("data-behind", z < -FLAT);
      lamp.style.setProperty("--turn", `${Math.atan2(-y, x)}rad`);
      // Beyond the rim, where the lamp points to; a lamp in the middle has it to the right.
      const length = Math.hypot(x, y);
      const [dx, dy] = length > CENTRAL ? [x / length, -y / length] : [1, 0];
      const away = radius + BEAD_PX;
      const [x0, y0, width, height] = field.now;
      bead.style.transform = `translate(${clamp(left + dx * away, x0 + HALF_PX, x0 + width - HALF_PX)}px, ${clamp(top + dy * away, y0 + HALF_PX, y0 + height - HALF_PX)}px)`;
      for (const circle of ring.children) {
        circle.setAttribute("cx", String(left));
        circle.setAttribute("cy", String(top));
        circle.setAttribute("r", String(radius));
      }
      tell(ctx, shown);
    },
    /** @param {Context} ctx */
    name(ctx) {
      lamp.setAttribute("aria-label", ctx.t(second ? "lamp.grip.second" : "lamp.grip"));
      bead.setAttribute("aria-label", ctx.t(second ? "lamp.bead.second" : "lamp.bead"));
    },
  };

  /** @param {Context} ctx @param {Lamp} shown */
  function tell(ctx, shown) {
    const words = placeInWords(ctx, shown);
    if (lamp.getAttribute("aria-valuetext") === words) return;
    for (const part of [lamp, bead]) part.setAttribute("aria-valuetext", words);
    for (const [name, value] of [["now", Math.round(shown.azimuth_deg)], ["min", -180], ["max", 180]]) lamp.setAttribute(`aria-value${name}`, String(value));
    for (const [name, value] of [["now", Math.round(100 * shareOfDistance(shown.distance_m, ctx.handle.radius_m()))], ["min", 0], ["max", 100]]) bead.setAttribute(`aria-value${name}`, String(value));
  }
}

/** Reports where a pointer carries an element, from the middle of the ring. @param {HTMLElement} element @param {{stage: HTMLElement, middle: () => [number, number]}} places @param {() => boolean} taken what is remembered of the press @param {(x: number, y: number, held: boolean) => void} moved */
function carried(element, { stage, middle }, taken, moved) {
  dragged(element, {
    taken(event) {
      const box = element.getBoundingClientRect();
      // From the pointer to the middle of what it carries.
      return { x: box.left + box.width / 2 - event.clientX, y: box.top + box.height / 2 - event.clientY, held: taken() };
    },
    moved(event, { x, y, held }) {
      const box = stage.getBoundingClientRect();
      const [left, top] = middle();
      moved(event.clientX + x - box.left - left, event.clientY + y - box.top - top, held);
    },
  });
}

/** @param {Pane} field */
const widest = ([, , width, height]) => Math.max(LEAST_PX, Math.min(width, height) / 2 - EDGE_PX - BEAD_PX);

/** @param {Pane} field @returns {[number, number]} */
const middleOf = ([x, y, width, height]) => [x + width / 2, y + height / 2];

/** @param {Context} ctx @param {Pane} field @param {Lamp} lamp */
const radiusOf = (ctx, field, lamp) => widest(field) * (NEAREST_RING + (1 - NEAREST_RING) * shareOfDistance(lamp.distance_m, ctx.handle.radius_m()));

/** @param {Pane} field @param {number} radius (CSS px) */
const shareOfRing = (field, radius) => clamp((radius / widest(field) - NEAREST_RING) / (1 - NEAREST_RING), 0, 1);

/** @param {Context} ctx @param {boolean} second @param {number} share */
const stretch = (ctx, second, share) => changeLamp(ctx, second, { distance_m: distanceOfShare(share, ctx.handle.radius_m()) });

/** @param {KeyboardEvent} event @param {Context | null} ctx @param {boolean} second @param {boolean} bead */
function keys(event, ctx, second, bead) {
  if (!ctx || event.ctrlKey || event.metaKey || event.altKey) return;
  const lamp = lampOf(ctx.view(), second);
  const step = event.shiftKey ? LONG_STEP : STEP;
  const share = shareOfDistance(lamp.distance_m, ctx.handle.radius_m());
  const turn = (/** @type {number} */ by) => changeLamp(ctx, second, { azimuth_deg: ((lamp.azimuth_deg + by + 540) % 360) - 180 });
  const lift = (/** @type {number} */ by) => changeLamp(ctx, second, { elevation_deg: clamp(lamp.elevation_deg + by, -90, 90) });
  const farther = () => stretch(ctx, second, share + WAY_STEP);
  // From parallel light the first step is to the furthest lamp that has a distance.
  const nearer = () => stretch(ctx, second, Math.min(share, 1) - WAY_STEP);
  /** @type {Record<string, () => unknown>} */
  const acts = bead
    ? { ArrowRight: farther, ArrowUp: farther, PageUp: farther, ArrowLeft: nearer, ArrowDown: nearer, PageDown: nearer }
    : { ArrowLeft: () => turn(-step), ArrowRight: () => turn(step), ArrowUp: () => lift(step), ArrowDown: () => lift(-step), PageUp: farther, PageDown: nearer };
  const act = acts[event.key];
  if (!act) return;
  event.preventDefault();
  act();
}

/** A reflector lamp seen from the side, its mouth towards the object. @param {boolean} second has two rings on its neck */
function drawLamp(second) {
  return svg("svg", { viewBox: "-22 -22 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" },
    svg("g", { class: "turned" },
      svg("path", { class: "body", d: "M-11 -10 L3 -4.5 L3 4.5 L-11 10 Z" }),
      svg("path", { class: "body", d: "M3 -3 h6 v6 h-6 z" }),
      svg("path", { class: "lines", fill: "none", d: second ? "M5 -3v6M7 -3v6" : "M6 -3v6" })));
}

function drawBead() {
  return svg("svg", { viewBox: "-22 -22 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" },
    svg("circle", { class: "body", r: 6 }), svg("circle", { class: "dot", r: 1.75 }));
}
