// @ts-check
/** The portfolio: what is kept of a sitting. Views to come back to, pictures, pictures that move. */
import { html } from "../dom.js";
import { viewsPart } from "./portfolio/views.js";
import { picturePart } from "./portfolio/picture.js";
import { movingPart } from "./portfolio/moving.js";

/** @param {import("../context.js").Context} ctx @returns {import("../context.js").Panel} */
export function portfolio(ctx) {
  const parts = [viewsPart(ctx), picturePart(ctx), movingPart(ctx)];
  return {
    element: html("article", { class: "portfolio settings" }, html("h2", { tabindex: -1 }, ctx.t("page.portfolio")), parts.map(({ element }) => element)),
    update: (view) => { for (const part of parts) part.update?.(view); },
    leave: () => { for (const part of parts) part.leave?.(); },
    // What is being written, and what is being made, goes on when the document changes.
    keeps: true,
    changed: () => { for (const part of parts) part.changed?.(); },
  };
}
