// @ts-check
/** Printing a page of the wall: with the object's name, the picture as it stands, and the date. */
import { html } from "./dom.js";
import { describePicture } from "./describe.js";
import { dateLocale, within } from "./i18n.js";

/** @typedef {import("./context.js").Context} Context */

/** Size of the picture on paper, in pixels: A4 between its margins at about 150 to the inch. */
const PICTURE = { width: 1040, height: 560 };

/**
 * @param {Context} ctx
 * @param {() => void} prepare what is on the page only for printing
 * @param {() => void} restore
 */
export async function printPage(ctx, prepare, restore) {
  const room = ctx.wall_content();
  const head = await heading(ctx);
  prepare();
  room.prepend(head);
  const done = () => {
    head.remove();
    restore();
  };
  window.addEventListener("afterprint", done, { once: true });
  window.print();
}

/** @param {Context} ctx */
async function heading(ctx) {
  const { t, text, language } = ctx;
  const { document } = ctx.dossier;
  const object = document.object ?? {};
  const today = new Intl.DateTimeFormat(dateLocale(language), { dateStyle: "long" }).format(new Date());
  const pixels = await ctx.pictured(null, PICTURE.width, PICTURE.height, new Uint32Array([0, 0, PICTURE.width, PICTURE.height])).catch(() => null);
  return html("header", { class: "print-head" },
    html("p", { class: "tombstone" }, [text(document.title), text(object.date), text(object.identifier)].filter(Boolean).map((part) => within(part, language)).join(" · ")),
    pixels && html("figure", {}, picture(pixels), html("figcaption", { class: "note", dir: "auto" }, describePicture(ctx))),
    html("p", { class: "note" }, [t("print.made", { date: today }), document.notice !== undefined && text(document.notice)].filter(Boolean).join(" · ")));
}

/** @param {Uint8Array} pixels RGBA */
function picture(pixels) {
  const canvas = html("canvas", { width: PICTURE.width, height: PICTURE.height, class: "print-picture" });
  canvas.getContext("2d")?.putImageData(new ImageData(new Uint8ClampedArray(pixels), PICTURE.width, PICTURE.height), 0, 0);
  return canvas;
}
