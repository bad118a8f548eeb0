// @ts-check
/** Two states that take turns: never more than three changes a second, and not before it was asked for where motion is unwelcome. */
import { html } from "../dom.js";
import { decimal } from "../i18n.js";

/** @typedef {import("../context.js").Context} Context */

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function blinkPart(ctx) {
  const { t } = ctx;
  const rate = html("input", { type: "range", min: 0.25, max: 3, step: 0.25, dir: "ltr", "aria-label": t("blink.rate") });
  const told = html("output", {});
  const run = html("button", { type: "button", class: "plain", "data-blink": "run" });
  const other = html("button", { type: "button", class: "plain", "data-blink": "other" }, t("blink.other"));
  const caution = html("p", { class: "note" }, t("caution.flicker"));
  let right = false;
  let timer = 0;
  let per_second = 1;
  const still = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
  const turn = () => {
    right = !right;
    ctx.handle.set_blink(right);
    // The picture is drawn anew as after any intent, without a change of the view.
    ctx.stage.intent();
  };
  const stop = () => {
    clearInterval(timer);
    timer = 0;
  };
  const start = () => {
    stop();
    timer = window.setInterval(() => { if (!document.hidden) turn(); }, 1000 / per_second);
  };
  const show = () => {
    run.textContent = t(timer === 0 ? "blink.start" : "blink.stop");
    other.hidden = timer !== 0;
  };
  run.addEventListener("click", () => {
    if (timer === 0) start();
    else stop();
    show();
  });
  other.addEventListener("click", turn);
  rate.addEventListener("input", () => ctx.change({ changes_per_second: Number(rate.value) }));
  let first = true;
  return {
    element: html("div", { class: "blink" },
      html("div", { class: "range" }, html("span", { class: "name", "aria-hidden": "true", dir: "auto" }, t("blink.rate")), rate, told),
      html("div", { class: "acts" }, run, other), caution),
    update(view) {
      const changed = view.changes_per_second !== per_second;
      per_second = view.changes_per_second;
      rate.value = String(per_second);
      told.textContent = t("blink.per_second", { rate: decimal(per_second, ctx.language, 1) });
      if (first && !still) start();
      else if (changed && timer !== 0) start();
      first = false;
      show();
    },
    leave: stop,
  };
}
