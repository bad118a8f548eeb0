// @ts-check
/** The text alternative: follows the view at once, and is spoken when the picture stands still. */
import { html } from "./dom.js";
import { describePicture } from "./describe.js";

/** A description is spoken once the picture has stood still so long. */
const SPEAK_AFTER_MS = 900;

export class Teller {
  #timer = 0;
  live = html("div", { class: "unseen", role: "status", "aria-live": "polite" });

  /** @param {import("./stage.js").Stage} stage */
  constructor(stage) {
    this.stage = stage;
  }

  /** @param {import("./context.js").Context} ctx */
  tell(ctx) {
    const words = describePicture(ctx);
    const { canvas } = this.stage;
    if (canvas.getAttribute("aria-label") === words) return;
    canvas.setAttribute("aria-label", words);
    canvas.setAttribute("aria-roledescription", ctx.t("picture"));
    clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => { this.live.textContent = words; }, SPEAK_AFTER_MS);
  }

  stop() {
    clearTimeout(this.#timer);
  }
}
