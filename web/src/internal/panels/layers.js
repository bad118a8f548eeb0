// @ts-check
/** The layers that are seen, one by one: opacity, and of bands their ends, colours and lines. */
import { html, svg } from "../dom.js";
import { AS_IT_IS, layersSeen, lookOf, percentile, sorted, withLook } from "../looks.js";
import { percent } from "../i18n.js";
import { selectField, slider } from "./fields.js";
import { mapBar } from "./legend.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Layer} Layer */
/** @typedef {import("../../types.d.ts").View} View */

const MAPS = ["sequence", "grey", "diverging", "steps"];
const LINES = [0, 4, 8, 16, 32];
/** From, to and step of what is a share. @type {[number, number, number]} */
const SHARE = [0, 1, 0.01];
/** Ends that leave the outermost hundredths of the surface aside. Common practice, no source. */
const USUAL = [0.01, 0.99];
/** Opacity of a band when it is first laid over: both are seen. */
const LAID_OVER = 0.5;

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function layers(ctx) {
  const { t } = ctx;
  const over = selectField(t("layers.over"), [["", t("layers.over.none")], ...ctx.dossier.bands.map((band) => [band.id, ctx.text(band.title)])], {
    changed: (id) => {
      const chosen = id || null;
      const view = ctx.view();
      ctx.change({ over: chosen, ...(chosen && lookOf(view, chosen).opacity === 1 && withLook(view, chosen, { opacity: LAID_OVER })) });
    },
  });
  const room = html("div", {});
  /** @type {{update(view: View): void}[]} */
  let entries = [];
  /** @type {string | null} */
  let shown = null;
  return {
    element: html("article", { class: "settings layers" }, html("h2", { tabindex: -1 }, t("page.layers")), html("p", { class: "remark" }, t("layers.note")),
      ctx.dossier.bands.length > 0 && over.element, thrown(ctx), room),
    update(view) {
      over.show(view.over ?? "");
      const seen = layersSeen(ctx);
      if (seen.join("\n") !== shown) {
        shown = seen.join("\n");
        const made = seen.map((layer) => entry(ctx, /** @type {Layer} */ (ctx.dossier.layers.get(layer))));
        entries = made;
        room.replaceChildren(...made.map(({ element }) => element));
        if (made.length === 0) room.append(html("p", { class: "note" }, t("layers.none")));
      }
      for (const { update } of entries) update(view);
    },
  };
}

/** The photograph that lies over everything, while one does. @param {Context} ctx */
function thrown(ctx) {
  const { t, language, stage: { thrown: shot } } = ctx;
  if (!shot?.placed || !shot.picture) return null;
  const opacity = slider(t("layers.opacity"), SHARE, (value) => percent(value, language), (value) => {
    shot.show({ photo: true, opacity: value });
    opacity.show(value);
  }, "ltr");
  opacity.show(shot.shows.photo ? shot.shows.opacity : 0);
  return html("section", { class: "layer", "data-thrown": true }, html("h3", { dir: "auto" }, shot.picture.file), opacity.element,
    html("button", { class: "plain", type: "button", onclick: () => ctx.turnTo("photographs") }, t("page.photographs")));
}

/** @param {Context} ctx @param {Layer} layer */
function entry(ctx, layer) {
  const { t, language } = ctx;
  const change = (/** @type {Partial<import("../../types.d.ts").LayerLook>} */ part) => ctx.change(withLook(ctx.view(), layer.id, part));
  const opacity = slider(t("layers.opacity"), SHARE, (value) => percent(value, language), (value) => change({ opacity: value }), "ltr");
  const band = layer.kind === "band" ? bandPart(ctx, layer, change) : null;
  const again = html("button", { class: "plain", type: "button", onclick: () => change(AS_IT_IS) }, t("layers.as_it_is"));
  return {
    element: html("section", { class: "layer", "data-layer": layer.id }, html("h3", { dir: "auto" }, ctx.text(layer.title) || layer.id), opacity.element, band?.element, again),
    /** @param {View} view */
    update(view) {
      const look = lookOf(view, layer.id);
      opacity.show(look.opacity);
      band?.update(look);
      again.disabled = JSON.stringify(look) === JSON.stringify(AS_IT_IS);
    },
  };
}

/** @param {Context} ctx @param {Layer} layer @param {(part: Partial<import("../../types.d.ts").LayerLook>) => void} change */
function bandPart(ctx, layer, change) {
  const { t, language } = ctx;
  const now = () => lookOf(ctx.view(), layer.id);
  const [from, to] = layer.range ?? [0, 1];
  const inUnits = (/** @type {number} */ share) => `${(from + share * (to - from)).toLocaleString(language, { maximumSignificantDigits: 3 })} ${layer.unit ?? ""}`.trim();
  /** Puts the lower or the upper end; they do not pass one another. @param {0 | 1} which @param {number} value */
  const put = (which, value) => {
    const [low, high] = sorted(now());
    const ends = which === 0 ? [Math.min(value, high), high] : [low, Math.max(value, low)];
    change({ ends: /** @type {[number, number]} */ (inverted(now()) ? ends.toReversed() : ends) });
  };
  const low = slider(t("layers.low"), SHARE, inUnits, (value) => put(0, value), "ltr");
  const high = slider(t("layers.high"), SHARE, inUnits, (value) => put(1, value), "ltr");
  const bars = histogram(ctx, layer);
  const usual = html("button", {
    class: "plain", type: "button",
    onclick: () => {
      const classes = ctx.handle.histogram(layer.id);
      const ends = USUAL.map((share) => percentile(classes, share));
      if (classes.length > 0) change({ ends: /** @type {[number, number]} */ (inverted(now()) ? ends.toReversed() : ends) });
    },
  }, t("layers.usual"));
  const invert = html("input", { type: "checkbox", onchange: () => change({ ends: /** @type {[number, number]} */ (now().ends.toReversed()) }) });
  const map = selectField(t("layers.map"), MAPS.map((name) => [name, t(`layers.map.${name}`)]), { changed: (value) => change({ map: /** @type {import("../../types.d.ts").LayerLook["map"]} */ (value) }) });
  const lines = selectField(t("layers.lines"), LINES.map((count) => [String(count), count === 0 ? t("layers.lines.none") : t("layers.lines.count", { count: count - 1 })]), { changed: (value) => change({ lines: Number(value) }) });
  const bar = html("div", { class: "bar" });
  let coloured = "";
  return {
    element: html("div", {}, bars.element, bar, low.element, high.element, html("div", { class: "acts" }, usual),
      html("label", { class: "option" }, invert, html("span", {}, t("layers.invert"))), map.element, lines.element),
    /** @param {import("../../types.d.ts").LayerLook} look */
    update(look) {
      const [lower, upper] = sorted(look);
      low.show(lower);
      high.show(upper);
      invert.checked = inverted(look);
      map.show(look.map);
      lines.show(String(look.lines));
      bars.update(lower, upper);
      bar.style.paddingInline = `${lower * 100}% ${(1 - upper) * 100}%`;
      bar.classList.toggle("turned", inverted(look));
      if (look.map === coloured) return;
      coloured = look.map;
      bar.replaceChildren(mapBar(ctx.handle.band_map(look.map)));
    },
  };
}

/** @param {import("../../types.d.ts").LayerLook} look */
const inverted = ({ ends: [a, b] }) => a > b;

const BOX = { width: 256, height: 56 };

/** How much of the surface has which value, with the ends. @param {Context} ctx @param {Layer} layer */
function histogram(ctx, layer) {
  const area = svg("path", { class: "amount" });
  const ends = [svg("path", { class: "end" }), svg("path", { class: "end" })];
  const drawing = svg("svg", { class: "histogram", viewBox: `0 0 ${BOX.width} ${BOX.height}`, preserveAspectRatio: "none", role: "img", "aria-label": ctx.t("layers.histogram"), direction: "ltr" }, area, ends);
  let here = false;
  return {
    element: drawing,
    /** @param {number} low @param {number} high */
    update(low, high) {
      ends.forEach((end, index) => end.setAttribute("d", `M${(index === 0 ? low : high) * BOX.width} 0V${BOX.height}`));
      if (here) return;
      const classes = [...ctx.handle.histogram(layer.id)];
      here = classes.length > 0;
      drawing.toggleAttribute("hidden", !here);
      const most = Math.max(...classes);
      // By the square root, so that what is rare is seen beside what is common.
      const up = (/** @type {number} */ share) => (BOX.height * (1 - Math.sqrt(share / most))).toFixed(2);
      const step = BOX.width / classes.length;
      if (here) area.setAttribute("d", `M0 ${BOX.height}${classes.map((share, index) => `V${up(share)}H${((index + 1) * step).toFixed(2)}`).join("")}V${BOX.height}Z`);
    },
  };
}
