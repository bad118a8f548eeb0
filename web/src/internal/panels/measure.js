// @ts-check
/** Measuring on the object and comparing kept readings. */
import { later } from "./later.js";

/** @param {import("../context.js").Context} ctx */
export const measure = (ctx) => later(ctx, "measure", async () => (await import("../measuring/page.js")).measurePage);
