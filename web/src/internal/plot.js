// @ts-check
/** A curve of two columns with its axes, as SVG. */
import { svg } from "./dom.js";
import { columnTitle } from "./csv.js";

const BOX = { width: 340, height: 200, left: 48, right: 10, top: 10, bottom: 42 };

/**
 * Round steps for an axis: 1, 2 or 5 times a power of ten.
 * @param {number} low @param {number} high @param {number} about how many ticks
 * @returns {number[]}
 */
export function ticks(low, high, about) {
  const span = high - low;
  if (!(span > 0)) return [low];
  const power = 10 ** Math.floor(Math.log10(span / about));
  const step = power * ([1, 2, 5, 10].find((factor) => span / (power * factor) <= about) ?? 10);
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, index) => Number(((first + index) * step).toPrecision(12)));
}

/** How many times larger heights are drawn than lengths; null where there is no height. @param {[number, number][]} points */
export function ratio(points) {
  const [x_span, y_span] = [0, 1].map((axis) => Math.max(...points.map((point) => point[axis] ?? 0)) - Math.min(...(axis === 1 ? [0] : []), ...points.map((point) => point[axis] ?? 0)));
  if (!x_span || !y_span) return null;
  return ((BOX.height - BOX.top - BOX.bottom) / y_span) / ((BOX.width - BOX.left - BOX.right) / x_span);
}

/**
 * @param {{x_title: string, y_title: string, points: [number, number][]}} curve
 * @param {string} language @param {string} description text alternative
 */
export function plot(curve, language, description) {
  const xs = curve.points.map((point) => point[0]);
  const ys = curve.points.map((point) => point[1]);
  const [x_low, x_high] = [Math.min(...xs), Math.max(...xs)];
  const [y_low, y_high] = [Math.min(0, ...ys), Math.max(...ys)];
  /** @param {number} x */
  const across = (x) => BOX.left + ((x - x_low) / (x_high - x_low || 1)) * (BOX.width - BOX.left - BOX.right);
  /** @param {number} y */
  const down = (y) => BOX.height - BOX.bottom - ((y - y_low) / (y_high - y_low || 1)) * (BOX.height - BOX.top - BOX.bottom);
  const floor = BOX.height - BOX.bottom;
  const compact = new Intl.NumberFormat(language, { notation: "compact", maximumSignificantDigits: 3 });
  const whole = new Intl.NumberFormat(language, { maximumSignificantDigits: 4, useGrouping: false });
  const line = curve.points.map(([x, y], index) => `${index ? "L" : "M"}${across(x).toFixed(1)} ${down(y).toFixed(1)}`).join("");
  return svg("svg", { class: "plot", viewBox: `0 0 ${BOX.width} ${BOX.height}`, role: "img", "aria-label": description, direction: "ltr" },
    ticks(y_low, y_high, 4).map((y) => svg("g", {},
      svg("line", { class: "grid", x1: BOX.left, x2: BOX.width - BOX.right, y1: down(y), y2: down(y) }),
      svg("text", { x: BOX.left - 6, y: down(y) + 4, "text-anchor": "end" }, compact.format(y)))),
    ticks(x_low, x_high, 6).map((x) => svg("g", {},
      svg("line", { class: "tick", x1: across(x), x2: across(x), y1: floor, y2: floor + 4 }),
      svg("text", { x: across(x), y: floor + 17, "text-anchor": "middle" }, whole.format(x)))),
    svg("path", { class: "axis", d: `M${BOX.left} ${BOX.top}V${floor}H${BOX.width - BOX.right}` }),
    svg("path", { class: "curve", d: line }),
    svg("text", { x: (BOX.left + BOX.width - BOX.right) / 2, y: BOX.height - 6, "text-anchor": "middle" }, columnTitle(curve.x_title)),
    svg("text", { x: 0, y: 0, "text-anchor": "middle", transform: `translate(11 ${(BOX.top + floor) / 2}) rotate(-90)` }, columnTitle(curve.y_title)));
}
