// @ts-check
/** The teacher's sheet. */
import { later } from "./later.js";

/** @param {import("../context.js").Context} ctx */
export const lessonPage = (ctx) => later(ctx, "lesson", async () => (await import("../colouring/lesson.js")).lesson);
