// @ts-check
/** What the portfolio holds: views to come back to, pictures, pictures that move. */
import { html } from "../../dom.js";
import { viewsPart } from "./views.js";
import { picturePart } from "./picture.js";
import { movingPart } from "./moving.js";

/** @param {import("../../context.js").Context} ctx @returns {import("../../context.js").Panel} */
export function portfolioPage(ctx) {
  const parts = [viewsPart(ctx), picturePart(ctx), movingPart(ctx)];
  return {
    element: html("div", {}, parts.map(({ element }) => element)),
    update: (view) => { for (const part of parts) part.update?.(view); },
    leave: () => { for (const part of parts) part.leave?.(); },
    changed: () => { for (const part of parts) part.changed?.(); },
  };
}
