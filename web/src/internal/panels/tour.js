// @ts-check
/** The tour through the saved views. */
import { later } from "./later.js";

/** @param {import("../context.js").Context} ctx */
export const tour = (ctx) => later(ctx, "tour", async () => (await import("../tour/page.js")).tourPage);
