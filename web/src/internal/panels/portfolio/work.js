// @ts-check
/** Something that takes a while: how far it is, and a way to call it off. */
import { html } from "../../dom.js";
import { isAbort, sentenceOf } from "../../errors.js";

/** @param {import("../../context.js").Context} ctx */
export function workPart(ctx) {
  const { t } = ctx;
  const bar = html("progress", { max: 1, value: 0, "aria-label": t("keep.under_way") });
  const told = html("p", { class: "note", role: "status" });
  /** @type {AbortController | null} */
  let under_way = null;
  const stop = html("button", { class: "plain", type: "button", "data-keep": "stop", onclick: () => under_way?.abort() }, t("keep.stop"));
  const row = html("div", { class: "work", hidden: true }, bar, stop);
  const end = () => under_way?.abort();
  ctx.signal.addEventListener("abort", end, { once: true });
  return {
    element: html("div", {}, row, told),
    stop: end,
    /** @param {(signal: AbortSignal, progress: (share: number) => void) => Promise<string>} work gives what is said when it is done */
    async run(work) {
      if (under_way) return;
      const mine = new AbortController();
      under_way = mine;
      row.hidden = false;
      bar.value = 0;
      told.textContent = t("keep.under_way");
      try {
        told.textContent = await work(mine.signal, (share) => { bar.value = share; });
      } catch (error) {
        told.textContent = isAbort(error) ? t("keep.stopped") : sentenceOf(error);
      } finally {
        under_way = null;
        row.hidden = true;
      }
    },
  };
}
