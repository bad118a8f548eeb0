// @ts-check
/** The portfolio: what is kept of a sitting. */
import { later } from "./later.js";

/** @param {import("../context.js").Context} ctx */
export const portfolio = (ctx) => later(ctx, "portfolio", async () => (await import("./portfolio/page.js")).portfolioPage);
