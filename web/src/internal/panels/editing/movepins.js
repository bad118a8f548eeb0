// @ts-check
/** Pins moved by dragging them over the surface. By keyboard their form sets them elsewhere. */
import { edited } from "./choices.js";
import { labelOf } from "./labels.js";
import { sentenceOf } from "../../errors.js";

/** @typedef {import("../../context.js").Context} Context */

/** A press that moves less than this is a click (CSS px). */
const DRAG_PX = 5;

/** @param {Context} ctx @param {(words: string) => void} tell what was refused @returns {(id: string, button: HTMLButtonElement, event: PointerEvent) => void} */
export function movePins(ctx, tell) {
  return (id, button, down) => {
    if (down.button !== 0) return;
    const { pins, element } = ctx.stage;
    button.setPointerCapture(down.pointerId);
    const box = element.getBoundingClientRect();
    const start = /(-?[\d.]+)px, (-?[\d.]+)px/.exec(button.style.transform)?.slice(1).map(Number) ?? [0, 0];
    const at = (/** @type {PointerEvent} */ event) => /** @type {[number, number]} */ ([(start[0] ?? 0) + event.clientX - down.clientX, (start[1] ?? 0) + event.clientY - down.clientY]);
    let dragged = false;
    const move = (/** @type {PointerEvent} */ event) => {
      if (event.pointerId !== down.pointerId) return;
      dragged ||= Math.hypot(event.clientX - down.clientX, event.clientY - down.clientY) > DRAG_PX;
      if (!dragged) return;
      pins.held = id;
      const [x, y] = at(event);
      button.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
    };
    const finish = (/** @type {PointerEvent} */ event) => {
      if (event.pointerId !== down.pointerId) return;
      for (const kind of /** @type {const} */ (["pointerup", "pointercancel"])) button.removeEventListener(kind, finish);
      button.removeEventListener("pointermove", move);
      if (!dragged) return;
      // The click that follows is no click; of what was broken off none follows.
      if (event.type === "pointerup") button.addEventListener("click", (click) => click.stopImmediatePropagation(), { capture: true, once: true });
      const [x, y] = at(event);
      const inside = x >= 0 && y >= 0 && x <= box.width && y <= box.height;
      void (event.type === "pointerup" && inside ? set(ctx, id, x, y) : Promise.resolve())
        .catch((error) => tell(ctx.t("form.refused", { detail: sentenceOf(error) })))
        .finally(() => {
          pins.held = null;
          ctx.stage.refresh();
        });
    };
    button.addEventListener("pointermove", move);
    for (const kind of /** @type {const} */ (["pointerup", "pointercancel"])) button.addEventListener(kind, finish);
  };
}

/** @param {Context} ctx @param {string} id @param {number} x @param {number} y CSS px of the canvas */
async function set(ctx, id, x, y) {
  const probe = await ctx.handle.probe(x, y);
  const pins = edited(ctx).pins ?? [];
  const index = pins.findIndex((pin) => pin.id === id);
  // Let go beside the object it stays where it was.
  if (!probe || index < 0) return;
  await ctx.session?.apply([{ op: "set", path: `/pins/${index}/anchor`, value: { ...pins[index]?.anchor, ...probe.anchor } }], labelOf(ctx, "undo.move.pin", pins[index]?.title));
}
