// @ts-check
/** The photographs that are being placed, one of them in hand. */
import { html } from "../dom.js";
import { icon } from "../icons.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./shot.js").Shot} Shot */

/** @param {Context} ctx @param {Shot} shot @param {(index: number) => void} choose @param {(index: number) => void} drop */
export function tray(ctx, shot, choose, drop) {
  const { t, language } = ctx;
  const heading = html("h3", { tabindex: -1 }, t("photographs.tray"));
  const rows = html("ul", { class: "tray" });
  const element = html("section", { hidden: true }, heading, rows);
  let last = "";
  return {
    element,
    refresh() {
      element.hidden = shot.taken.length < 2;
      const known = shot.known;
      const lines = shot.taken.map(({ source }, index) => ({ file: source.name, state: stateOf(ctx, known[index]), chosen: index === shot.at }));
      const now = JSON.stringify([language, lines]);
      if (now === last) return;
      last = now;
      const root = /** @type {ShadowRoot | Document} */ (rows.getRootNode());
      const at = [...rows.querySelectorAll("button")].indexOf(/** @type {HTMLButtonElement} */ (root.activeElement));
      rows.replaceChildren(...lines.map(({ file, state, chosen }, index) => html("li", { "data-taken": index },
        html("button", { class: "row", type: "button", "aria-pressed": String(chosen), onclick: () => choose(index) },
          html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, file), html("span", { class: "note" }, state))),
        html("button", { class: "quiet", type: "button", "aria-label": t("photographs.drop", { file }), onclick: () => drop(index) }, icon("remove")))));
      if (at >= 0) (rows.querySelectorAll("button")[at] ?? heading).focus();
    },
  };
}

/** How far a photograph has come, in words. @param {Context} ctx @param {import("./shot.js").Known | undefined} known */
function stateOf({ t, language }, known) {
  const { placed, agreed, pairs = [] } = known ?? {};
  const px = (/** @type {number} */ value) => value.toLocaleString(language, { minimumFractionDigits: 2, maximumFractionDigits: 2 });
  const fit = placed?.posed.fit;
  if (agreed) return t("photographs.state.agreed", { px: px(agreed.agreement.rms_px) });
  if (placed && fit) return t("photographs.state.placed", { px: px(fit.rms_px), count: fit.pairs });
  if (placed) return t("photographs.state.read");
  return t("photographs.state.points", { count: pairs.length });
}
