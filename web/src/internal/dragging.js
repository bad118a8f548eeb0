// @ts-check
/** Carrying something with mouse, pen or finger. */

/**
 * Follows the pointer that takes an element until it lets go.
 * @template {{}} T
 * @param {HTMLElement | SVGElement} element
 * @param {object} how
 * @param {(event: PointerEvent) => T | null} how.taken what is remembered of the press; null: nothing is taken
 * @param {(event: PointerEvent, held: T) => void} how.moved
 */
export function dragged(element, { taken, moved }) {
  /** @type {T | null} */
  let held = null;
  const listen = (/** @type {string} */ name, /** @type {(event: PointerEvent) => void} */ hear) => element.addEventListener(name, /** @type {EventListener} */ (hear));
  listen("pointerdown", (event) => {
    held = taken(event);
    if (held !== null) element.setPointerCapture(event.pointerId);
  });
  listen("pointermove", (event) => { if (held !== null) moved(event, held); });
  for (const end of ["pointerup", "pointercancel"]) listen(end, () => { held = null; });
}
