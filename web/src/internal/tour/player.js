// @ts-check
/**
 * The walk through a dossier's saved views: where it is, whether it goes on by itself, and how fast. A
 * stop lasts as long as its narration, or as long as its text takes to read. No DOM here.
 */

/** To look before reading (ms), and what is read in a second: slow readers of captions in museums. Choices of ours. */
const [LOOK_MS, CHARACTERS_A_SECOND] = [4000, 12];
/** A stop without any text (ms). */
const LEAST_MS = 6000;
export const SPEEDS = [0.5, 0.75, 1, 1.25, 1.5, 2];

/** How long a text stands at speed 1 (ms). @param {string} text */
export const readingTime = (text) => Math.max(LEAST_MS, LOOK_MS + ([...text].length / CHARACTERS_A_SECOND) * 1000);

/**
 * @typedef {object} Voice narration of one stop
 * @property {() => void} play
 * @property {() => void} pause
 * @property {(speed: number) => void} speed
 * @property {() => void} close
 * @property {Promise<void>} ended settles when all is said, or cannot be said
 */

export class Player {
  at = 0;
  playing = false;
  speed = 1;
  #timer = 0;
  /** Of the present stop, in time at speed 1 (ms). */
  #left = 0;
  #since = 0;
  /** @type {Voice | null} */
  #voice = null;
  /** Tells what was begun before from what counts now. */
  #turn = 0;

  /**
   * @param {object} options
   * @param {() => number} options.count of stops
   * @param {(at: number) => void} options.visit shows a stop
   * @param {(at: number) => string} options.text that is read there
   * @param {(at: number) => Promise<Voice | null>} [options.voice] that is heard there
   * @param {() => void} options.changed
   * @param {() => boolean} [options.round] whether it begins again after the last
   */
  constructor(options) {
    this.options = options;
  }

  /** @param {number} at */
  go(at) {
    const count = this.options.count();
    if (count === 0) return;
    this.at = Math.min(count - 1, Math.max(0, at));
    this.#leave();
    this.options.visit(this.at);
    this.#left = readingTime(this.options.text(this.at));
    if (this.playing) this.#run();
    this.options.changed();
  }

  next() { this.go(this.at + 1); }
  back() { this.go(this.at - 1); }
  get last() { return this.at >= this.options.count() - 1; }

  play() {
    if (this.playing || this.options.count() === 0) return;
    this.playing = true;
    // Once it is at its end, it begins anew.
    if (this.#left <= 0) this.go(this.last && !this.options.round?.() ? 0 : this.at);
    else this.#run();
    this.options.changed();
  }

  pause() {
    if (!this.playing) return;
    this.playing = false;
    this.#stop();
    this.#voice?.pause();
    this.options.changed();
  }

  /** @param {number} speed */
  setSpeed(speed) {
    const runs = this.#timer !== 0;
    this.#stop();
    this.speed = speed;
    this.#voice?.speed(speed);
    if (runs) this.#wait(this.#turn);
    this.options.changed();
  }

  close() {
    this.playing = false;
    this.#leave();
  }

  #leave() {
    this.#turn += 1;
    this.#stop();
    this.#voice?.close();
    this.#voice = null;
  }

  /** Goes on with the present stop. */
  async #run() {
    const turn = this.#turn;
    const first = this.#voice === null;
    this.#voice ??= await this.options.voice?.(this.at).catch(() => null) ?? null;
    if (turn !== this.#turn) return this.#voice?.close();
    if (!this.playing) return;
    if (!this.#voice) return this.#wait(turn);
    this.#voice.speed(this.speed);
    this.#voice.play();
    if (!first) return;
    await this.#voice.ended;
    if (turn === this.#turn && this.playing) this.#over();
  }

  /** @param {number} turn */
  #wait(turn) {
    this.#stop();
    this.#since = Date.now();
    this.#timer = setTimeout(() => {
      this.#timer = 0;
      if (turn === this.#turn && this.playing) this.#over();
    }, this.#left / this.speed);
  }

  #stop() {
    if (this.#timer === 0) return;
    clearTimeout(this.#timer);
    this.#timer = 0;
    this.#left -= (Date.now() - this.#since) * this.speed;
  }

  #over() {
    this.#left = 0;
    if (!this.last) this.next();
    else if (this.options.round?.()) this.go(0);
    else {
      this.playing = false;
      this.options.changed();
    }
  }
}
