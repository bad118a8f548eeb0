// @ts-check
/** What elements and bands are consistent with: a hint beside the analysis, never a verdict. */
import { html } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @param {import("../../types.d.ts").Evidence} item */
export function hintPart(ctx, item) {
  if (!item.elements?.length) return null;
  const { t } = ctx;
  const body = html("div", {});
  const element = html("details", { class: "hints" }, html("summary", {}, t("hint.title")), body);
  const fill = async () => {
    if (body.childElementCount > 0) return;
    body.replaceChildren(html("p", { class: "note", role: "status" }, t("hint.running")));
    try {
      const hint = await (await ctx.desk()).hints(item.id);
      body.replaceChildren(...(hint ? inWords(ctx, hint) : [html("p", { class: "note" }, t("hint.none"))]));
    } catch (error) {
      body.replaceChildren(html("p", { class: "note" }, t("audit.failed", { detail: isolated(sentenceOf(error)) })));
    }
  };
  element.addEventListener("toggle", () => { if (element.open) void fill(); });
  // While somebody edits, the desk is there already.
  element.open = ctx.session !== null;
  return element;
}

/** @param {Context} ctx @param {import("../../types.d.ts").Hint} hint */
function inWords(ctx, hint) {
  const { t } = ctx;
  const list = (/** @type {string} */ key, /** @type {import("../../types.d.ts").HintCandidate[]} */ candidates) => (candidates.length === 0 ? [] : [
    html("h4", {}, t(key)),
    html("ul", { class: "plain" }, candidates.map(({ name, why, source }) => html("li", { lang: "en", dir: "auto" }, html("strong", {}, name), ` · ${why}`, html("span", { class: "note" }, ` [${source}]`))))]);
  return [
    ...list("hint.consistent", hint.consistent_with), ...list("hint.against", hint.excluded),
    ...hint.remarks.map((remark) => html("p", { class: "remark", lang: "en", dir: "auto" }, remark)),
  ];
}
