// @ts-check
/** A mark moved over the picture by the arrow keys, for setting places and drawing without a pointer. */
import { append, html, svg } from "./dom.js";
import { clamp } from "./geometry.js";

/** One press of an arrow key (CSS px); held down it grows to the larger. */
const STEP_PX = { first: 2, most: 14, shift: 24 };

export class Crosshair {
  #x = 0;
  #y = 0;
  #run = 0;

  /**
   * @param {object} options
   * @param {() => {width: number, height: number}} options.size
   * @param {(x: number, y: number) => void} options.moved
   * @param {(x: number, y: number, shift: boolean) => void} options.pressed by Enter
   * @param {() => void} options.back by Backspace
   * @param {() => void} options.escaped
   */
  constructor(options) {
    this.options = options;
    const drawing = svg("svg", { viewBox: "0 0 44 44", width: 44, height: 44, "aria-hidden": "true", focusable: "false" });
    for (const layer of ["halo", "line"]) append(drawing, [svg("path", { class: layer, d: "M22 3v13M22 28v13M3 22h13M28 22h13M22 22v.01", fill: "none" })]);
    this.element = html("div", { class: "crosshair", tabindex: 0, role: "application", hidden: true }, drawing);
    this.element.addEventListener("keydown", (event) => this.#key(event));
    this.element.addEventListener("focus", () => this.options.moved(this.#x, this.#y));
  }

  /** @param {string | null} label what Enter does; null takes the mark away @param {[number, number] | null} [from] CSS px */
  show(label, from = null) {
    const was = !this.element.hidden;
    this.element.hidden = label === null;
    if (label === null) return;
    this.element.setAttribute("aria-label", label);
    const { width, height } = this.options.size();
    if (from) this.#move(...from);
    else if (!was) this.#move(width / 2, height / 2);
  }

  focus() {
    this.element.focus();
  }

  /** @param {number} x @param {number} y */
  #move(x, y) {
    const { width, height } = this.options.size();
    this.#x = clamp(x, 0, width);
    this.#y = clamp(y, 0, height);
    this.element.style.transform = `translate(${this.#x}px, ${this.#y}px)`;
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (way) {
      this.#run = event.repeat ? this.#run + 1 : 0;
      const step = event.shiftKey ? STEP_PX.shift : Math.min(STEP_PX.most, STEP_PX.first + this.#run);
      this.#move(this.#x + Number(way[0]) * step, this.#y + Number(way[1]) * step);
      this.options.moved(this.#x, this.#y);
    } else if (event.key === "Enter") this.options.pressed(this.#x, this.#y, event.shiftKey);
    else if (event.key === "Backspace") this.options.back();
    else if (event.key === "Escape") this.options.escaped();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}
