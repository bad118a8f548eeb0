// @ts-check
/** One observation: technique, place, date, instrument, result and attachments. */
import { append, html } from "../dom.js";
import { dateLocale, within } from "../i18n.js";
import { icon } from "../icons.js";
import { attachmentPlace } from "../lookup.js";
import { curveOf } from "../csv.js";
import { plot } from "../plot.js";
import { lengthInWords, roundLength } from "../scale.js";
import { amend } from "./editing/amend.js";

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
    html("dl", {}, facts.filter(([, value]) => value !== "").map(([key, value]) => html("div", { class: key }, html("dt", {}, t(`evidence.${key}`)), html("dd", { dir: key === "operator" ? null : "auto" }, value)))),
    (item.attachments ?? []).map((attachment) => attached(ctx, attachment)),
    cautions.filter(Boolean).map((caution) => html("p", { class: "caution", dir: "auto" }, caution)),
    amend(ctx, "evidence", item.id),
  ]);
}

/** @param {Context} ctx @param {Attachment} attachment */
function attached(ctx, attachment) {
  const { t, text } = ctx;
  const { file } = attachment;
  const title = text(attachment.title) || file;
  const place = attachmentPlace(file);
  if (!place) return html("p", { class: "note" }, t("attachment.not_followed", { file }));
  const link = html("a", { target: "_blank", rel: "noopener noreferrer" }, icon("out"), html("span", { dir: "auto" }, title));
  const figure = html("figure", {}, html("figcaption", {}, link, attachment.caption !== undefined && html("span", { class: "note", dir: "auto" }, text(attachment.caption))));
  if (place === "web") link.href = file;
  else void bring(ctx, attachment, { figure, link, title });
  return figure;
}

/** Types by the end of the name, where the dossier says none. @type {Record<string, string>} */
const TYPES = { png: "image/png", jpg: "image/jpeg", jpeg: "image/jpeg", webp: "image/webp", svg: "image/svg+xml", csv: "text/csv", txt: "text/plain", pdf: "application/pdf" };

/** Puts the picture or the curve above the link. @param {Context} ctx @param {Attachment} attachment @param {{figure: HTMLElement, link: HTMLAnchorElement, title: string}} parts */
async function bring(ctx, { file, media_type, width_mm }, { figure, link, title }) {
  const { t, source, signal } = ctx;
  const type = media_type ?? TYPES[file.split(".").pop()?.toLowerCase() ?? ""] ?? "";
  const missing = () => html("p", { class: "note" }, t("attachment.missing", { file }));
  try {
    const { href, download } = await source.link(file, type);
    link.href = href;
    if (download) link.download = file.split("/").pop() ?? file;
    if (type.startsWith("image/")) {
      const image = html("img", { src: await source.picture(file, type), alt: title, loading: "lazy", decoding: "async" });
      image.addEventListener("error", () => image.replaceWith(missing()));
      figure.prepend(html("div", { class: "scaled" }, image, scaleOf(ctx, width_mm)));
    } else if (type === "text/csv") {
      const curve = curveOf(new TextDecoder().decode(await source.read(file, { signal })));
      if (curve) figure.prepend(plot(curve, ctx.language, t("attachment.plot", { title, count: curve.points.length })));
    }
  } catch {
    figure.prepend(missing());
  }
}

/** The longest bar under a picture, as a share of its width: a choice of ours. */
const BAR = 1 / 3;

/** A bar of a round length under a picture whose width is known. @param {Context} ctx @param {number | undefined} width_mm */
function scaleOf({ t, language }, width_mm) {
  if (!width_mm || !(width_mm > 0) || !Number.isFinite(width_mm)) return [];
  const metres = roundLength(width_mm * BAR / 1000);
  const length = lengthInWords(metres, language);
  const bar = html("span", { class: "bar" });
  bar.style.inlineSize = `${(100 * metres * 1000 / width_mm).toFixed(2)}%`;
  return [html("div", { class: "picture-scale", role: "img", dir: "ltr", "aria-label": t("attachment.scale", { length }) }, bar, html("span", { class: "note" }, length))];
}

/** @param {Context} ctx @param {string | null | undefined} id */
export function personInWords(ctx, id) {
  if (!id) return "";
  const person = ctx.dossier.people.get(id);
  return person ? [ctx.text(person.name), ctx.text(person.role)].filter(Boolean).map((part) => within(part, ctx.language)).join(", ") : id;
}

/** A date of ISO 8601 in words; anything else as it stands. @param {Context} ctx @param {string | null | undefined} date */
export function dateInWords(ctx, date) {
  if (!date || !/^\d{4}-\d{2}-\d{2}$/.test(date)) return date ?? "";
  const day = new Date(`${date}T00:00:00Z`);
  return Number.isNaN(day.getTime()) ? date : new Intl.DateTimeFormat(dateLocale(ctx.language), { dateStyle: "long", timeZone: "UTC" }).format(day);
}
