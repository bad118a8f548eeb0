// @ts-check
/** A finding that is let stand, with the reason that is kept. */
import { html } from "../../dom.js";
import { edited } from "./choices.js";
import { frame } from "./form.js";
import { labelOf } from "./labels.js";
import { personField } from "./people.js";
import { added, merged, today } from "./steps.js";
import { textsField } from "./texts.js";

/** @typedef {import("../../context.js").Context} Context */

/** @param {Context} ctx @param {import("../../../types.d.ts").Finding} finding @param {() => void} close */
export function setAsideForm(ctx, { rule, about }, close) {
  const { t } = ctx;
  const reason = textsField(ctx, { label: t("audit.reason"), lines: 2, required: true });
  const by = personField(ctx, t("review.by"), "reviewer", null, true);
  return html("div", { class: "inline-form" }, frame(ctx, {
    fields: [reason.element, by.element],
    read() {
      const value = merged({ rule, about }, { by: by.read(), date: today(), reason: reason.read() });
      return { steps: added(edited(ctx), "set_aside", value), label: labelOf(ctx, "undo.set_aside", about), then: "" };
    },
  }, null, close));
}

/** @param {Context} ctx @param {number} index in `set_aside` */
export async function takeBack(ctx, index) {
  await ctx.session?.apply([{ op: "remove", path: `/set_aside/${index}` }], ctx.t("undo.take_back"));
}
