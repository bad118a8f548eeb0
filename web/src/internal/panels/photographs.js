// @ts-check
/** Placing a photograph before the surface. */
import { later } from "./later.js";

/** @param {import("../context.js").Context} ctx */
export const photographs = (ctx) => later(ctx, "photographs", async () => (await import("../photographs/page.js")).photographsPage);
