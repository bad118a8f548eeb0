// @ts-check
/** One observation: technique, place, date, instrument, result and attachments. */
import { append, html } from "../dom.js";
import { icon } from "../icons.js";
import { attachmentAddress } from "../lookup.js";
import { curveOf } from "../csv.js";
import { plot } from "../plot.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").Evidence} Evidence */
/** @typedef {import("../../types.d.ts").Attachment} Attachment */

/** Which usual caution goes with a technique or band. @type {Record<string, string>} */
export const CAUTION_OF = { xrf: "x_ray", "sem-edx": "x_ray", uvl: "ultraviolet", uvr: "ultraviolet" };

/** @param {Context} ctx @param {Evidence} item @param {boolean} open */
export function evidenceEntry(ctx, item, open) {
  const body = html("div", { class: "body" });
  const element = html("details", { class: "evidence", "data-evidence": item.id },
    html("summary", {}, html("span", { class: "technique" }, ctx.t(`technique.${item.technique}`)),
      html("span", { class: "name", dir: "auto" }, ctx.text(item.title))),
    body);
  // Filled when first opened, so that attachments nobody looks at are not fetched.
  element.addEventListener("toggle", () => {
    if (element.open && body.childElementCount === 0) fill(ctx, item, body);
  });
  element.open = open;
  return element;
}

/** @param {Context} ctx @param {Evidence} item @param {HTMLElement} body */
function fill(ctx, item, body) {
  const { t, text, dossier } = ctx;
  const region = item.region ? dossier.regions.get(item.region) : undefined;
  const sheet = dossier.document.surface?.sheets?.find(({ id }) => id === item.anchor?.sheet);
  const place = [region && text(region.title), item.anchor && (sheet?.title !== undefined ? text(sheet.title) : item.anchor.sheet)].filter(Boolean).join(", ");
  const list = new Intl.ListFormat(ctx.language);
  const identified = (item.identified ?? []).map((id) => { const entry = dossier.pigments.get(id); return entry ? text(entry.title) : id; });
  /** @type {[string, string][]} */
  const facts = [
    ["result", text(item.result)],
    ["elements", item.elements?.length ? list.format(item.elements) : ""],
    ["identified", identified.length ? t("evidence.consistent", { pigments: list.format(identified) }) : ""],
    ["place", place], ["date", dateInWords(ctx, item.date)],
    ["instrument", text(item.instrument)], ["settings", text(item.settings)],
    ["operator", personInWords(ctx, item.operator)],
  ];
  const cautions = [text(item.caution), item.technique in CAUTION_OF && item.caution === undefined ? t(`caution.${CAUTION_OF[item.technique]}`) : ""];
  append(body, [
    html("dl", {}, facts.filter(([, value]) => value !== "").map(([key, value]) => html("div", { class: key }, html("dt", {}, t(`evidence.${key}`)), html("dd", { dir: "auto" }, value)))),
    (item.attachments ?? []).map((attachment) => attached(ctx, attachment)),
    cautions.filter(Boolean).map((caution) => html("p", { class: "caution", dir: "auto" }, caution)),
  ]);
}

/** @param {Context} ctx @param {Attachment} attachment */
function attached(ctx, attachment) {
  const { t, text } = ctx;
  const title = text(attachment.title) || attachment.file;
  const address = attachmentAddress(attachment.file, ctx.folder);
  if (!address) return html("p", { class: "note" }, t("attachment.not_followed", { file: attachment.file }));
  const link = html("a", { href: address, target: "_blank", rel: "noopener noreferrer" }, icon("out"), html("span", { dir: "auto" }, title));
  const figure = html("figure", {}, html("figcaption", {}, link, attachment.caption !== undefined && html("span", { class: "note", dir: "auto" }, text(attachment.caption))));
  const type = attachment.media_type ?? "";
  if (/^image\//.test(type) || /\.(png|jpe?g|webp|svg)$/i.test(attachment.file)) {
    const image = html("img", { src: address, alt: title, loading: "lazy", decoding: "async" });
    image.addEventListener("error", () => image.replaceWith(html("p", { class: "note" }, t("attachment.missing", { file: attachment.file }))));
    figure.prepend(image);
  } else if (type === "text/csv" || /\.csv$/i.test(attachment.file)) void addPlot(ctx, address, title, attachment.file, figure);
  return figure;
}

/** @param {Context} ctx @param {string} address @param {string} title @param {string} file @param {HTMLElement} figure */
async function addPlot(ctx, address, title, file, figure) {
  try {
    const response = await fetch(address);
    if (!response.ok) throw new Error(String(response.status));
    const curve = curveOf(await response.text());
    if (curve) figure.prepend(plot(curve, ctx.language, ctx.t("attachment.plot", { title, count: curve.points.length })));
  } catch {
    figure.prepend(html("p", { class: "note" }, ctx.t("attachment.missing", { file })));
  }
}

/** @param {Context} ctx @param {string | undefined} id */
export function personInWords(ctx, id) {
  if (!id) return "";
  const person = ctx.dossier.people.get(id);
  return person ? [person.name, ctx.text(person.role)].filter(Boolean).join(", ") : id;
}

/** A date of ISO 8601 in words; anything else as it stands. @param {Context} ctx @param {string | undefined} date */
export function dateInWords(ctx, date) {
  if (!date || !/^\d{4}-\d{2}-\d{2}$/.test(date)) return date ?? "";
  const day = new Date(`${date}T00:00:00Z`);
  return Number.isNaN(day.getTime()) ? date : new Intl.DateTimeFormat(ctx.language === "en" ? "en-GB" : ctx.language, { dateStyle: "long", timeZone: "UTC" }).format(day);
}
