// @ts-check
/** A picture as a file: the object drawn in tiles, its margin below, and what it says of itself. */
import { directionOf, labFigures } from "../i18n.js";
import { describePicture, sideInWords } from "../describe.js";
import { layersSeen, lookOf, shownIn } from "../looks.js";
import { bandScale, differenceScale } from "../panels/legend.js";
import { lengthInWords, roundLength } from "../scale.js";
import { drawInParts, metresPerPixel, TILE } from "./tiles.js";
import { PngWriter } from "./png.js";
import { textsOf } from "./xmp.js";
import { layOut, textSize } from "./margin.js";
import { pigmentsOf, srgbOf, WEDGE_L } from "./patches.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").View} View */
/** @typedef {{caption: boolean, scale: boolean, patches: boolean, wedge: boolean, credit: boolean}} Parts */

/** Longest scale bar, in shares of the picture's width: a choice of ours. */
const LONGEST_BAR = 0.25;

/** The viewer, kept until what it draws is there. @param {Context} ctx @returns {import("./tiles.js").Drawer} */
export function drawerOf(ctx) {
  return { snapshot_tile: ctx.pictured };
}

/** A tile that this device can hold: half of its largest texture, which leaves as much again for the triangles that reach beyond it. @param {Context} ctx */
export function tileFor(ctx) {
  const most = ctx.handle.backend().largest_texture_px / 2;
  return { width: Math.min(TILE.width, most), height: Math.min(TILE.height, most) };
}

/**
 * @param {Context} ctx
 * @param {{width: number, height: number, parts: Parts, signal?: AbortSignal, progress?: (share: number) => void}} options size of the object's part of the picture
 * @returns {Promise<Blob>} PNG
 */
export async function pictureOf(ctx, { width, height, parts, signal, progress }) {
  const view = ctx.view();
  const content = await contentOf(ctx, view, { width, height, parts });
  const rows = Math.min(TILE.height, height);
  const surface = new OffscreenCanvas(width, rows);
  const drawing = surface.getContext("2d", { willReadFrequently: true });
  if (!drawing) throw new Error("This browser gave no drawing surface for the margin. Leave the margin out, or make the picture smaller.");
  const margin = layOut(drawing, content, width, textSize(width, height));
  const below = Object.values(parts).some(Boolean) ? margin.height : 0;
  const writer = new PngWriter({ width, height: height + below, texts: textsOf(aboutOf(ctx, view, width, height)) });
  try {
    await drawInParts({
      handle: drawerOf(ctx), view, width, height, tile: tileFor(ctx), ...(signal && { signal }),
      band: async (band, y) => {
        await writer.write(band);
        progress?.((y + band.length / (4 * width)) / (height + below));
      },
    });
    for (let y = 0; y < below; y += rows) {
      signal?.throwIfAborted();
      const some = Math.min(rows, below - y);
      margin.paint(drawing, y, some);
      await writer.write(drawing.getImageData(0, 0, width, some).data);
    }
    return await writer.finish();
  } catch (error) {
    await writer.abandon();
    throw error;
  }
}

/** What the margin holds. @param {Context} ctx @param {View} view @param {{width: number, height: number, parts: Parts}} options @returns {Promise<import("./margin.js").Content>} */
async function contentOf(ctx, view, { width, height, parts }) {
  const { t, language, dossier } = ctx;
  const states = shownIn(view).filter((id) => dossier.states.has(id));
  const pigments = pigmentsOf(dossier, states).map(({ title, lab_d50 }) => ({ title, lab: /** @type {[number, number, number]} */ (lab_d50) }));
  const shown = pigments.map(({ lab }) => srgbOf(lab));
  const [per_pixel, longest] = [metresPerPixel(view, width, height), LONGEST_BAR * width];
  const metres = roundLength(longest * per_pixel);
  return {
    direction: directionOf(language),
    ...(parts.caption && { title: ctx.text(dossier.document.title) || t("untitled"), caption: captionOf(ctx) }),
    ...(parts.scale && { scale: { pixels: metres / per_pixel, words: lengthInWords(metres, language) }, ramps: rampsOf(ctx, view) }),
    ...(parts.patches && {
      numbers: `L*  a*  b*: ${t("readings.note")}`,
      patches: pigments.map(({ title, lab }, at) => ({
        name: ctx.text(title), codes: shown[at]?.codes ?? [0, 0, 0], figures: labFigures(lab, language).join("  "), remark: shown[at]?.cut ? t("keep.outside") : "",
      })),
    }),
    ...(parts.wedge && { wedge: WEDGE_L.map((l) => ({ name: "", codes: srgbOf([l, 0, 0]).codes, figures: `L* ${l.toLocaleString(language)}` })) }),
    ...(parts.credit && { credit: creditOf(ctx), licence: dossier.document.rights?.licence ?? "" }),
  };
}

/** What numbers are shown as: differences, or the bands that are seen. @param {Context} ctx @param {View} view @returns {NonNullable<import("./margin.js").Content["ramps"]>} */
function rampsOf(ctx, view) {
  const { handle, dossier } = ctx;
  if (view.compare === "difference") return [{ colours: handle.band_map("sequence"), name: "", figures: differenceScale(ctx, view.difference.full_scale).figures }];
  return layersSeen(ctx).flatMap((id) => {
    const layer = dossier.layers.get(id);
    const look = lookOf(view, id);
    return layer?.kind === "band" ? [{ colours: handle.band_map(look.map), name: ctx.text(layer.title), figures: bandScale(ctx, layer, look).figures }] : [];
  });
}

/** What is seen, in words, without the title. @param {Context} ctx */
export function captionOf(ctx) {
  const title = `${ctx.text(ctx.dossier.document.title)}.`;
  const whole = describePicture(ctx);
  return whole.startsWith(title) ? whole.slice(title.length).trim() : whole;
}

/** @param {Context} ctx */
function creditOf(ctx) {
  const { rights, object } = ctx.dossier.document;
  return [ctx.text(object?.identifier), ctx.text(rights?.credit)].filter(Boolean);
}

/** @param {Context} ctx @param {View} view @param {number} width @param {number} height @returns {import("./xmp.js").About} */
export function aboutOf(ctx, view, width, height) {
  const { t, dossier, language } = ctx;
  const { document } = dossier;
  const { rights } = document;
  const people = [...new Set(shownIn(view).flatMap((id) => dossier.states.get(id)?.proposed_by ?? []))].map((id) => ctx.text(dossier.people.get(id)?.name) || id);
  const scale = t("keep.scale_of", { length: lengthInWords(Number(metresPerPixel(view, width, height).toPrecision(3)), language) });
  return {
    title: `${ctx.text(document.title) || t("untitled")}: ${shownIn(view).map((id) => sideInWords(ctx, id).title).join(", ")}`,
    creator: [...people, ctx.text(rights?.credit)].filter(Boolean).join("; "),
    description: `${captionOf(ctx)} ${scale}`,
    rights: [ctx.text(rights?.credit), rights?.licence ?? ""].filter(Boolean).join(" "),
    licence: rights?.licence ?? "",
    source: `${document.id ?? ""} (revision ${document.revision ?? 0})`,
    language, when: new Date(),
  };
}
