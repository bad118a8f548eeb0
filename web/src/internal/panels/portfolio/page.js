// @ts-check
/** What the portfolio holds: views to come back to, pictures, pictures that move. */
import { html } from "../../dom.js";
import { viewsPart } from "./views.js";
import { picturePart } from "./picture.js";
import { movingPart } from "./moving.js";

/** @param {import("../../context.js").Context} ctx @returns {import("../../context.js").Panel} */
export function portfolioPage(ctx) {
  const { thrown } = ctx.stage;
  const over = thrown?.placed && thrown.shows.photo && thrown.shows.opacity > 0 ? html("p", { class: "remark" }, ctx.t("keep.without_photograph", { file: thrown.picture?.file ?? "" })) : null;
  const parts = [viewsPart(ctx), picturePart(ctx), movingPart(ctx)];
  return {
    element: html("div", {}, over, parts.map(({ element }) => element)),
    update: (view) => { for (const part of parts) part.update?.(view); },
    leave: () => { for (const part of parts) part.leave?.(); },
    changed: () => { for (const part of parts) part.changed?.(); },
  };
}
