// @ts-check
/**
 * The photograph on the page: moved, enlarged and turned, with its points on it. A short press sets a
 * point; a longer one shows the place enlarged and sets it on letting go. By keyboard a mark is moved.
 */
import { html } from "../dom.js";
import { clamp } from "../geometry.js";
import { headOf } from "./overlay.js";
import { arrowTimes, quartersOf, stored, turned } from "./seeing.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./shot.js").Shot} Shot */
/** @typedef {[number, number]} Point */

/** A pointer that has moved less rests (CSS px), and one that rests so long sets with the glass (ms): choices of ours. */
const REST_PX = 6;
const HOLD_MS = 280;
/** How near one can come: CSS px a pixel of the photograph. */
const NEAREST = 24;
/** The glass: how much it enlarges beyond the pane, its radius and how far above the finger it stands (CSS px). */
const GLASS = { times: 4, radius: 52, above: 84 };
/** One step of a key, in CSS px; with shift. */
const STEP = { key: 2, shift: 20 };
const INK = "#1a1a1a";
const PAPER = "#ffffff";
const FOUND = "#a0146e";

/** @param {Context} ctx @param {Shot} shot @param {(pixel: Point) => void} set with a point in pixels as stored */
export function photoPane(ctx, shot, set) {
  const { t } = ctx;
  const canvas = html("canvas", { class: "photo-canvas", tabindex: 0, role: "application", "aria-label": t("photographs.pane") });
  const said = html("p", { class: "note", role: "status" });
  /** Where the picture lies: CSS px of its middle on the pane, CSS px a pixel as stored. */
  const view = { x: 0, y: 0, scale: 1, quarters: 0, of: /** @type {unknown} */ (null) };
  /** The mark of the keyboard, in CSS px; null while nobody uses it. @type {Point | null} */
  let mark = null;
  /** The place under a pointer that sets with the glass. @type {Point | null} */
  let held = null;
  let asked = 0;

  const size = () => /** @type {Point} */ ([canvas.clientWidth, canvas.clientHeight]);
  const picture_size = () => /** @type {Point} */ ([shot.picture?.width_px ?? 1, shot.picture?.height_px ?? 1]);
  /** @returns {Point} of the picture as turned */
  const turned_size = () => { const [w, h] = picture_size(); return view.quarters % 2 === 0 ? [w, h] : [h, w]; };
  /** From pixels as stored to the pane. @param {Point} pixel @returns {Point} */
  const onPane = (pixel) => {
    const [x, y] = turned(pixel, picture_size(), view.quarters);
    const [w, h] = turned_size();
    return [view.x + (x - w / 2) * view.scale, view.y + (y - h / 2) * view.scale];
  };
  /** The other way. @param {Point} place @returns {Point} */
  const onPicture = ([x, y]) => {
    const [w, h] = turned_size();
    return stored([(x - view.x) / view.scale + w / 2, (y - view.y) / view.scale + h / 2], picture_size(), view.quarters);
  };
  const fitting = () => {
    const [w, h] = turned_size();
    const [width, height] = size();
    return Math.min(width / w, height / h) || 1;
  };
  /** At this scale it was whole when the pane had its last size. */
  let whole = 0;
  const fit = () => {
    const [width, height] = size();
    whole = fitting();
    Object.assign(view, { x: width / 2, y: height / 2, scale: whole });
    draw();
  };
  /** @param {number} times @param {Point} [about] CSS px */
  const zoom = (times, about = /** @type {Point} */ (size().map((one) => one / 2))) => {
    const scale = clamp(view.scale * times, fitting(), NEAREST);
    const by = scale / view.scale;
    Object.assign(view, { x: about[0] + (view.x - about[0]) * by, y: about[1] + (view.y - about[1]) * by, scale });
    keep();
  };
  /** The picture does not leave the pane. */
  const keep = () => {
    const [w, h] = turned_size();
    const [width, height] = size();
    const within = (/** @type {number} */ at, /** @type {number} */ room, /** @type {number} */ length) => (length <= room ? room / 2 : clamp(at, room - length / 2, length / 2));
    view.x = within(view.x, width, w * view.scale);
    view.y = within(view.y, height, h * view.scale);
    draw();
  };
  const draw = () => {
    if (asked) return;
    asked = requestAnimationFrame(() => {
      asked = 0;
      paint();
    });
  };
  /** @param {CanvasRenderingContext2D} context the picture, with the pane's corner at the origin */
  const paintPicture = (context) => {
    const { picture } = shot;
    if (!picture) return;
    const [w, h] = picture_size();
    context.save();
    context.translate(view.x, view.y);
    context.rotate((view.quarters * Math.PI) / 2);
    context.scale(view.scale, view.scale);
    context.imageSmoothingEnabled = view.scale * picture.shrunk < 3;
    context.imageSmoothingQuality = "high";
    context.drawImage(picture.image, -w / 2, -h / 2, picture.shown_width * picture.shrunk, picture.shown_height * picture.shrunk);
    context.restore();
  };
  /** @param {CanvasRenderingContext2D} context @param {Path2D} path @param {string} colour */
  const twice = (context, path, colour, width = 1.75) => {
    context.strokeStyle = PAPER;
    context.lineWidth = width + 2.5;
    context.stroke(path);
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.stroke(path);
  };
  /** @param {Point} at @param {number} arm */
  const crossAt = ([x, y], arm) => new Path2D(`M${x - arm} ${y}h${arm - 2}M${x + 2} ${y}h${arm - 2}M${x} ${y - arm}v${arm - 2}M${x} ${y + 2}v${arm - 2}`);
  const paint = () => {
    const context = canvas.getContext("2d");
    const [width, height] = size();
    if (!context || width === 0) return;
    const ratio = window.devicePixelRatio;
    const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (canvas.width !== w || canvas.height !== h) Object.assign(canvas, { width: w, height: h });
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.fillStyle = "#777";
    context.fillRect(0, 0, width, height);
    paintPicture(context);
    const { answer } = shot;
    const times = answer ? arrowTimes(answer) : 1;
    shot.pairs.forEach((pair, index) => {
      const chosen = pair.name === shot.chosen;
      const wrong = answer?.fit.pairs[index]?.wrong ?? false;
      const at = onPane(pair.pixel);
      const colour = chosen || wrong ? FOUND : INK;
      const foretold = answer?.foretold_px[index];
      if (answer && foretold && shot.shows.arrows) {
        // From where it is foretold towards where it was marked, as over the surface.
        const by = wrong ? 1 : times;
        const from = onPane(foretold);
        const tip = onPane([foretold[0] + (pair.pixel[0] - foretold[0]) * by, foretold[1] + (pair.pixel[1] - foretold[1]) * by]);
        twice(context, new Path2D(`M${from.join(" ")}L${tip.join(" ")}${headOf(from, tip)}`), wrong ? FOUND : INK, 1.25);
      }
      twice(context, crossAt(at, 7), colour);
      label(context, at, pair.name, colour);
    });
    if (shot.pending.pixel) twice(context, crossAt(onPane(shot.pending.pixel), 10), FOUND, 2);
    if (mark) twice(context, crossAt(mark, 16), INK, 2);
    if (held) glass(context, held);
  };
  /** @param {CanvasRenderingContext2D} context @param {Point} at @param {string} words @param {string} colour */
  const label = (context, [x, y], words, colour) => {
    context.font = "13px sans-serif";
    context.direction = "ltr";
    context.textAlign = "left";
    context.textBaseline = "middle";
    const width = context.measureText(words).width + 8;
    context.fillStyle = PAPER;
    context.strokeStyle = colour;
    context.lineWidth = 1;
    context.fillRect(x + 8, y - 22, width, 17);
    context.strokeRect(x + 8, y - 22, width, 17);
    context.fillStyle = colour;
    context.fillText(words, x + 12, y - 13);
  };
  /** The place enlarged, where the finger does not cover it. @param {CanvasRenderingContext2D} context @param {Point} at */
  const glass = (context, at) => {
    const [width] = size();
    const { radius, times, above } = GLASS;
    const x = clamp(at[0], radius, width - radius);
    const y = at[1] - above > radius ? at[1] - above : at[1] + above;
    context.save();
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = "#777";
    context.fill();
    context.clip();
    context.translate(x, y);
    context.scale(times, times);
    context.translate(-at[0], -at[1]);
    paintPicture(context);
    context.restore();
    const ring = new Path2D();
    ring.arc(x, y, radius, 0, 2 * Math.PI);
    twice(context, ring, INK);
    twice(context, crossAt([x, y], 16), FOUND, 1.5);
  };
  /** @param {Point} place CSS px */
  const setAt = (place) => {
    const pixel = onPicture(place);
    const [w, h] = picture_size();
    const inside = pixel[0] >= 0 && pixel[1] >= 0 && pixel[0] <= w && pixel[1] <= h;
    if (!shot.picture || !inside) {
      said.textContent = shot.picture ? t("photographs.beside") : "";
      return;
    }
    said.textContent = t("photographs.set", { x: pixel[0].toFixed(1), y: pixel[1].toFixed(1) });
    set(pixel);
  };

  /** Pointers that are down. @type {Map<number, Point>} */
  const down = new Map();
  let from = /** @type {Point} */ ([0, 0]);
  let moved = false;
  let timer = 0;
  /** @param {PointerEvent} event @returns {Point} */
  const placeOf = (event) => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const letGo = () => {
    clearTimeout(timer);
    timer = 0;
  };
  canvas.addEventListener("pointerdown", (event) => {
    if (!shot.picture) return;
    canvas.setPointerCapture(event.pointerId);
    const place = placeOf(event);
    down.set(event.pointerId, place);
    mark = null;
    letGo();
    if (down.size > 1) {
      held = null;
      moved = true;
      return draw();
    }
    from = place;
    moved = false;
    if (event.button !== 0) moved = true;
    else {
      timer = window.setTimeout(() => {
        if (moved) return;
        held = down.get(event.pointerId) ?? null;
        draw();
      }, HOLD_MS);
    }
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const place = placeOf(event);
    down.set(event.pointerId, place);
    if (down.size === 2) {
      const [other] = [...down].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
      if (!other) return;
      const apart = (/** @type {Point} */ one) => Math.hypot(one[0] - other[0], one[1] - other[1]) || 1;
      view.x += (place[0] - before[0]) / 2;
      view.y += (place[1] - before[1]) / 2;
      return zoom(apart(place) / apart(before), [(place[0] + other[0]) / 2, (place[1] + other[1]) / 2]);
    }
    if (held) {
      held = place;
      return draw();
    }
    if (!moved && Math.hypot(place[0] - from[0], place[1] - from[1]) < REST_PX) return;
    if (!moved) letGo();
    moved = true;
    view.x += place[0] - before[0];
    view.y += place[1] - before[1];
    keep();
  });
  const up = (/** @type {PointerEvent} */ event) => {
    const place = down.get(event.pointerId);
    down.delete(event.pointerId);
    letGo();
    if (!place || down.size > 0) return;
    const sets = held ?? (moved ? null : from);
    held = null;
    draw();
    if (sets && event.type === "pointerup") setAt(sets);
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    if (!shot.picture) return;
    event.preventDefault();
    const box = canvas.getBoundingClientRect();
    zoom(Math.exp(-event.deltaY * [0.002, 0.03, 0.6][event.deltaMode]), [event.clientX - box.left, event.clientY - box.top]);
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !shot.picture) return;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const [width, height] = size();
    if (way) {
      const step = event.shiftKey ? STEP.shift : STEP.key;
      const at = mark ?? (shot.pending.pixel ? onPane(shot.pending.pixel) : /** @type {Point} */ ([width / 2, height / 2]));
      let [x, y] = [at[0] + Number(way[0]) * step, at[1] + Number(way[1]) * step];
      // At the edge the picture goes on under the mark.
      const [dx, dy] = [x - clamp(x, 0, width), y - clamp(y, 0, height)];
      if (dx || dy) {
        view.x -= dx * 4;
        view.y -= dy * 4;
        [x, y] = [clamp(x, 0, width), clamp(y, 0, height)];
        keep();
      }
      mark = [x, y];
      draw();
    } else if (event.key === "Enter") {
      if (!mark) {
        mark = [width / 2, height / 2];
        draw();
      } else setAt(mark);
    } else if (event.key === "+" || event.key === "=") zoom(1.25, mark ?? undefined);
    else if (event.key === "-") zoom(0.8, mark ?? undefined);
    else if (event.key === "Backspace") shot.back(ctx);
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
  canvas.addEventListener("blur", () => {
    mark = null;
    draw();
  });
  const button = (/** @type {string} */ key, /** @type {() => void} */ press) => html("button", { class: "quiet", type: "button", onclick: press }, t(key));
  const controls = html("div", { class: "row-actions" }, button("photographs.nearer", () => zoom(1.6)), button("photographs.farther", () => zoom(1 / 1.6)),
    button("photographs.whole", fit), button("photographs.turn", () => { view.quarters = (view.quarters + 1) % 4; fit(); }));
  // What was shown whole stays so in a pane of another size.
  const observer = new ResizeObserver(() => {
    const was_whole = view.scale <= whole * 1.001;
    whole = fitting();
    if (was_whole || view.scale < whole) fit();
    else keep();
  });
  observer.observe(canvas);
  const refresh = () => {
    const shown = shot.picture?.image ?? null;
    if (shown !== view.of) {
      view.of = shown;
      view.quarters = quartersOf(shot.picture?.exif ?? 1);
      fit();
    }
    draw();
  };
  return {
    element: html("div", { class: "photo-pane" }, canvas, controls, said), refresh,
    /** Brings a point into sight. @param {Point} pixel */
    look(pixel) {
      const [x, y] = onPane(pixel);
      const [width, height] = size();
      if (x > 0 && y > 0 && x < width && y < height) return;
      view.x += width / 2 - x;
      view.y += height / 2 - y;
      keep();
    },
    leave() {
      observer.disconnect();
      letGo();
    },
  };
}
