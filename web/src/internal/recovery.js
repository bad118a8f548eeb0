// @ts-check
/** A device or context that went: a new one, with the same view. */
import { prepareWebgl } from "./backend.js";

/** How long a lost WebGL context is given to come back by itself. */
const CONTEXT_PATIENCE_MS = 4000;
/** A device that goes so soon after it has come (ms), so often in a row, is not asked for again. Choices of ours. */
const [SOON_MS, MOST_IN_A_ROW] = [1000, 5];

/** @typedef {"lost" | "context-lost" | "context-restored"} Cause */

export class Recovery {
  #waiting = 0;
  /** When it came last (ms), and how often in a row it went soon after. @type {number | null} */
  #came = null;
  #soon = 0;

  /**
   * @param {object} options
   * @param {import("./stage.js").Stage} options.stage
   * @param {import("../types.d.ts").ViewerHandle} options.handle
   * @param {import("./backend.js").BackendName} options.backend
   * @param {AbortSignal} options.signal
   * @param {(work: Promise<void>) => Promise<void>} options.during keeps the handle until the work is done
   * @param {() => void} options.restored
   * @param {(error: unknown) => void} options.failed
   */
  constructor(options) {
    this.options = options;
    // The frame that it asks for says that the device is gone.
    options.handle.when_lost(() => options.stage.intent());
    options.signal.addEventListener("abort", () => clearTimeout(this.#waiting));
  }

  /** @param {Cause} cause */
  lost(cause) {
    const { stage, backend, signal, failed } = this.options;
    if (signal.aborted) return;
    if (this.#came !== null && cause !== "context-restored") {
      this.#soon = performance.now() - this.#came < SOON_MS ? this.#soon + 1 : 0;
      this.#came = null;
    }
    if (this.#soon >= MOST_IN_A_ROW) return failed(new Error("The graphics device goes as soon as it has come."));
    stage.pause(true);
    clearTimeout(this.#waiting);
    if (cause === "context-lost" || (cause === "lost" && backend === "webgl2")) {
      // The browser gives a lost context back by itself, or never.
      this.#waiting = window.setTimeout(() => void this.#restore(true), CONTEXT_PATIENCE_MS);
    } else void this.#restore(false);
  }

  /** @param {boolean} replace whether the canvas has been given up @returns {Promise<void>} */
  async #restore(replace) {
    const { stage, backend, handle, signal, during, restored, failed } = this.options;
    try {
      if (replace) {
        stage.freshCanvas();
        if (backend === "webgl2") prepareWebgl(stage.canvas);
      }
      await during(handle.restore(stage.canvas));
    } catch (error) {
      if (signal.aborted) return;
      return replace ? failed(error) : this.#restore(true);
    }
    if (signal.aborted) return;
    this.#came = performance.now();
    stage.pause(false);
    restored();
  }
}
