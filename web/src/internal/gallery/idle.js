// @ts-check
/** Notices when nobody touches the tablet any more. No DOM here but events. */

/** So long before it starts again, whoever reads slowly is asked (s). WCAG 2.2, 2.2.1, asks for 20 at least. */
export const WARN_S = 20;
/** Shorter nobody could read a text (s). */
export const LEAST_S = 40;
const EVENTS = ["pointerdown", "pointermove", "wheel", "keydown", "input"];

export class Idle {
  #last = 0;
  #timer = 0;
  /** @type {(() => void) | null} */
  #heard = null;

  /**
   * @param {object} options
   * @param {EventTarget} options.target
   * @param {number} options.seconds
   * @param {(left_s: number | null) => void} options.warn null: somebody is there again
   * @param {() => void} options.over
   * @param {() => number} [options.now] ms
   */
  constructor(options) {
    this.options = { now: () => performance.now(), ...options, seconds: Math.max(LEAST_S, options.seconds) };
  }

  start() {
    this.stop();
    const { target, now } = this.options;
    this.#last = now();
    let warned = false;
    this.#heard = () => {
      this.#last = now();
      if (warned) this.options.warn(null);
      warned = false;
    };
    for (const event of EVENTS) target.addEventListener(event, this.#heard, { capture: true, passive: true });
    this.#timer = setInterval(() => {
      if (!this.#heard) return;
      const left_s = Math.ceil(this.options.seconds - (now() - this.#last) / 1000);
      if (left_s <= 0) {
        this.stop();
        this.options.warn(null);
        this.options.over();
      } else if (left_s <= WARN_S) {
        warned = true;
        this.options.warn(left_s);
      }
    }, 1000);
  }

  stop() {
    clearInterval(this.#timer);
    if (this.#heard) for (const event of EVENTS) this.options.target.removeEventListener(event, this.#heard, { capture: true });
    this.#heard = null;
  }
}
