// @ts-check
/**
 * The margin below a picture: what it shows, a scale bar, colour patches, credit. It is laid out once and
 * then painted in bands, so that that of the largest picture needs no surface of its own size.
 */

import { unbroken } from "../i18n.js";

/**
 * @typedef {object} Patch
 * @property {readonly number[]} codes of sRGB
 * @property {string} name
 * @property {string} figures
 * @property {string} [remark]
 */

/**
 * @typedef {object} Content
 * @property {"ltr" | "rtl"} direction
 * @property {string} [title]
 * @property {string} [caption]
 * @property {{pixels: number, words: string}} [scale]
 * @property {{colours: Uint8Array, name: string, figures: string[]}[]} [ramps] what numbers are shown as: 256 RGB triples, and figures from end to end
 * @property {Patch[]} [patches]
 * @property {string} [numbers] what the figures below patches are
 * @property {Patch[]} [wedge]
 * @property {string[]} [credit]
 * @property {string} [licence] an address
 */

/** @typedef {CanvasRenderingContext2D | OffscreenCanvasRenderingContext2D} Drawing */

/** Not the space that does not break. */
const BETWEEN_WORDS = /[^\S\u00a0]+/;
const SERIF = '"Iowan Old Style", "Palatino Linotype", Palatino, "Noto Serif", "Noto Naskh Arabic", Georgia, serif';
const SANS = '"Gill Sans Nova", "Gill Sans", Optima, Candara, "Noto Sans", "Noto Sans Arabic", "Segoe UI", sans-serif';
/** Length of the strip of a scale of colours, in sizes of the text: a choice of ours. */
const LONGEST_RAMP = 22;
/** Neutral paper and ink. */
const [PAPER, INK, SOFT, HAIR] = ["rgb(244 244 244)", "rgb(26 26 26)", "rgb(86 86 86)", "rgb(150 150 150)"];

/**
 * Size of the text (px): by the height of the picture, but so that a line of a narrow one holds some words.
 * Choices of ours, as all shares of it below, which set the margin as a label is set: a title one and a half
 * sizes, figures three quarters, lines a fifth to two fifths apart. @param {number} width @param {number} height
 */
export const textSize = (width, height) => Math.max(9, Math.min(height / 44, width / 30));

/**
 * @param {Drawing} drawing to measure with
 * @param {Content} content @param {number} width @param {number} size of the text (px)
 */
export function layOut(drawing, content, width, size) {
  const pad = Math.round(size * 1.6);
  const inner = Math.max(1, width - 2 * pad);
  const rtl = content.direction === "rtl";
  /** From the side where reading begins, to the left edge of something `wide`. @param {number} from @param {number} wide */
  const place = (from, wide) => (rtl ? width - from - wide : from);
  /** @type {((on: Drawing) => void)[]} */
  const marks = [];
  let y = pad;
  /** @param {string} text @param {string} font @param {number} step @param {{wide?: number, from?: number, top?: number, ink?: string, direction?: "ltr" | "rtl"}} [more] figures and addresses run from left to right in every language @returns {number} where it ends */
  const write = (text, font, step, { wide = inner, from = pad, top = y, ink = INK, direction = content.direction } = {}) => {
    drawing.font = font;
    let at = top;
    for (const line of linesOf(drawing, text, wide)) {
      // Where the foot of letters stands in their line, so that what hangs below has room.
      const baseline = at + step * 0.78;
      marks.push((on) => {
        on.font = font;
        on.fillStyle = ink;
        on.direction = direction;
        on.textAlign = rtl ? "right" : "left";
        on.fillText(line, rtl ? width - from : from, baseline);
      });
      at += step;
    }
    return at;
  };
  const box = (/** @type {number} */ from, /** @type {number} */ top, /** @type {number} */ wide, /** @type {number} */ tall, /** @type {string} */ ink) => {
    const [x, at, w, h] = [place(from, wide), top, wide, tall].map(Math.round);
    marks.push((on) => {
      on.fillStyle = ink;
      on.fillRect(Number(x), Number(at), Number(w), Number(h));
    });
    return { x: Number(x), y: Number(at), width: Number(w), height: Number(h) };
  };
  /** @type {{box: {x: number, y: number, width: number, height: number}}[]} */
  const swatches = [];
  if (content.title) y = write(content.title, `${size * 1.5}px ${SERIF}`, size * 1.9);
  if (content.caption) y = write(content.caption, `${size}px ${SANS}`, size * 1.45) + size * 0.5;
  /** @type {{x: number, y: number, width: number, height: number} | null} */
  let bar = null;
  if (content.scale) {
    const { pixels, words } = content.scale;
    const thick = Math.max(2, size * 0.22);
    y += size * 0.4;
    bar = box(pad, y, pixels, thick, INK);
    for (const end of [0, pixels - thick / 2]) box(pad + end, y - size * 0.35, thick / 2, size * 0.35, INK);
    y = write(words, `${size * 0.9}px ${SANS}`, size * 1.3, { top: y + thick + size * 0.15 }) + size * 0.4;
  }
  for (const { colours, name, figures } of content.ramps ?? []) {
    const wide = Math.min(inner, size * LONGEST_RAMP);
    y += size * 0.4;
    if (name) y = write(name, `${size * 0.85}px ${SANS}`, size * 1.1) + size * 0.2;
    const steps = colours.length / 3;
    const [x, top, tall] = [place(pad, wide), y, size].map(Math.round);
    // Numbers run from left to right in every language.
    marks.push((on) => {
      for (let at = 0; at < steps; at += 1) {
        const [from, to] = [at, at + 1].map((edge) => Math.round(Number(x) + (wide * edge) / steps));
        on.fillStyle = `rgb(${colours.slice(3 * at, 3 * at + 3).join(" ")})`;
        on.fillRect(Number(from), Number(top), Number(to) - Number(from), Number(tall));
      }
    });
    y += size * 1.15;
    const font = `${size * 0.75}px ${SANS}`;
    const baseline = y + size * 0.78;
    marks.push((on) => {
      on.font = font;
      on.fillStyle = SOFT;
      on.direction = "ltr";
      figures.forEach((figure, at) => {
        on.textAlign = at === 0 ? "left" : at === figures.length - 1 ? "right" : "center";
        on.fillText(figure, Number(x) + (wide * at) / Math.max(1, figures.length - 1), baseline);
      });
    });
    y += size * 1.5;
  }
  for (const row of [content.patches ?? [], content.wedge ?? []]) {
    if (row.length === 0) continue;
    const wedge = row === content.wedge;
    const cell = size * (wedge ? 3.4 : 7.2);
    const columns = Math.max(1, Math.floor(inner / cell));
    y += size * 0.4;
    if (!wedge && content.numbers) y = write(content.numbers, `${size * 0.75}px ${SANS}`, size, { ink: SOFT }) + size * 0.35;
    const line = Math.max(1, Math.round(size * 0.06));
    const rim = (/** @type {number} */ from, /** @type {number} */ wide) => box(from - line, y - line, wide + 2 * line, size * 2 + 2 * line, HAIR);
    for (let first = 0; first < row.length; first += columns) {
      let bottom = y;
      // One rim around the steps that touch, so that the lightest is seen on paper.
      if (wedge) rim(pad, cell * Math.min(columns, row.length - first));
      row.slice(first, first + columns).forEach((patch, column) => {
        const from = pad + column * cell;
        // Steps of grey touch one another; pigments stand apart.
        const wide = wedge ? cell : cell - size * 0.6;
        if (!wedge) rim(from, wide);
        swatches.push({ box: box(from, y, wide, size * 2, `rgb(${patch.codes.join(" ")})`) });
        const under = { from, wide: cell - size * 0.6, ink: SOFT };
        let end = y + size * 2.2;
        if (patch.name) end = write(patch.name, `${size * 0.85}px ${SANS}`, size * 1.1, { ...under, top: end, ink: INK });
        end = write(patch.figures, `${size * 0.75}px ${SANS}`, size, { ...under, top: end, direction: "ltr" });
        if (patch.remark) end = write(patch.remark, `${size * 0.75}px ${SANS}`, size, { ...under, top: end });
        bottom = Math.max(bottom, end);
      });
      y = bottom + size * 0.5;
    }
  }
  for (const line of content.credit ?? []) y = write(line, `${size * 0.85}px ${SANS}`, size * 1.2, { ink: SOFT });
  if (content.licence) y = write(content.licence, `${size * 0.85}px ${SANS}`, size * 1.2, { ink: SOFT, direction: "ltr" });
  const height = Math.ceil(y + pad * 0.8);
  return {
    height, swatches, bar,
    /** Rows `from` to `from + rows`, on a surface as wide as the margin. @param {Drawing} on @param {number} from @param {number} rows */
    paint(on, from, rows) {
      on.setTransform(1, 0, 0, 1, 0, 0);
      on.fillStyle = PAPER;
      on.fillRect(0, 0, width, rows);
      on.translate(0, -from);
      for (const mark of marks) mark(on);
    },
  };
}

/** A text in lines no wider than that; a word that is wider is broken. @param {Drawing} drawing with the font set @param {string} text @param {number} wide @returns {string[]} */
export function linesOf(drawing, text, wide) {
  /** @type {string[]} */
  const lines = [];
  let line = "";
  const fits = (/** @type {string} */ some) => drawing.measureText(some).width <= wide;
  for (const word of unbroken(text).split(BETWEEN_WORDS).filter(Boolean)) {
    const longer = line ? `${line} ${word}` : word;
    if (fits(longer)) {
      line = longer;
      continue;
    }
    if (line) lines.push(line);
    line = "";
    for (const sign of word) {
      if (line && !fits(line + sign)) {
        lines.push(line);
        line = "";
      }
      line += sign;
    }
  }
  if (line) lines.push(line);
  return lines;
}
