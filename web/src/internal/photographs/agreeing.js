// @ts-check
/** Bringing the pose into agreement with a layer that lies on the surface, for bands in which points are hard to see. */
import { html } from "../dom.js";
import { shownIn } from "../looks.js";
import { selectField } from "../panels/fields.js";
import { isThere } from "./seeing.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./shot.js").Shot} Shot */

/** Units of what draping knows of each texel, in which nothing of the object is seen. */
const OF_THE_RUN = new Set(["code", "photographs", "number", "µm"]);

/** Whether a layer says how another was draped: it is no picture of the object. @param {import("../../public/types.d.ts").Layer} layer */
const isOfTheRun = ({ unit, origin }) => OF_THE_RUN.has(unit ?? "") && origin?.command === "ganosis drape";

/** @param {Context} ctx @param {Shot} shot */
export function agreeing(ctx, shot) {
  const { t, language } = ctx;
  const layers = () => [...ctx.dossier.layers.values()].filter((layer) => (layer.images?.length ?? 0) > 0 && !isOfTheRun(layer));
  const caution = html("p", { class: "caution", hidden: true });
  const tell = () => {
    const words = ctx.text(ctx.dossier.layers.get(choice.select.value)?.caution);
    caution.hidden = words === "";
    caution.textContent = words;
  };
  const choice = selectField(t("photographs.by.layer"), layers().map(({ id, title }) => [id, ctx.text(title) || id]), { as: "entry", changed: tell });
  const go = html("button", { class: "action", type: "button", "data-agree": true, onclick: () => {
    const layer = ctx.dossier.layers.get(choice.select.value);
    if (layer) void shot.agree(ctx, layer, hiddenNodes(ctx));
  } }, t("photographs.by.go"));
  const back = html("button", { class: "quiet", type: "button", onclick: () => void shot.solve(ctx) }, t("photographs.by.back"));
  const said = html("p", { role: "status", class: "agreed" });
  const element = html("section", { hidden: true }, html("h3", {}, t("photographs.by")), html("p", { class: "note" }, t("photographs.by.note")), choice.element, caution,
    html("div", { class: "row-actions" }, go, back), said);
  tell();
  return {
    element,
    refresh() {
      const { agreed, placed, busy, trouble } = shot;
      element.hidden = !placed || layers().length === 0;
      go.disabled = busy;
      back.hidden = !agreed || shot.pairs.length < shot.needed;
      const px = (/** @type {number} */ value) => value.toLocaleString(language, { minimumFractionDigits: 2, maximumFractionDigits: 2 });
      if (busy) said.textContent = t("photographs.by.working");
      else if (agreed) {
        const { shift_px: [dx, dy], moved_rms_px, rms_px, standard_error_px, agreeing, squares } = agreed.agreement;
        said.textContent = t("photographs.by.done", {
          layer: ctx.text(ctx.dossier.layers.get(agreed.layer)?.title) || agreed.layer, moved: px(moved_rms_px), dx: px(dx), dy: px(dy), rms: px(rms_px), error: px(standard_error_px),
          agreeing: agreeing.toLocaleString(language), squares: squares.toLocaleString(language),
        });
      } else said.textContent = trouble ? t("photographs.by.refused", { detail: trouble }) : "";
    },
  };
}

/** Nodes of parts that are not in what is shown. @param {Context} ctx @returns {string[]} */
function hiddenNodes({ dossier, view }) {
  const shown = shownIn(view()).filter((id) => dossier.states.has(id));
  const nodes = (dossier.document.surface?.parts ?? []).flatMap(({ node }) => (node === undefined ? [] : [node]));
  return nodes.filter((node) => !isThere([node], dossier.document, shown));
}
