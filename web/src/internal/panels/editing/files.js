// @ts-check
/** Files laid beside the dossier with an observation. */
import { html, uniqueId } from "../../dom.js";
import { byteCount } from "../../i18n.js";
import { chip, faults, FormFault, labelled } from "./fields.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Attachment} Attachment */

/** @param {Context} ctx @param {Attachment[]} before @returns {{element: HTMLElement, read: () => Promise<Attachment[]>}} */
export function filesField(ctx, before) {
  const { t, text } = ctx;
  let kept = [...before];
  /** @type {File[]} */
  let fresh = [];
  const largest = ctx.session?.largest_file_bytes ?? Infinity;
  const input = html("input", { type: "file", multiple: true, id: uniqueId("files") });
  const chips = html("span", { class: "chips" });
  const element = labelled(t("form.attachments"), input, t("form.attachments.note"));
  element.insertBefore(chips, input);
  const fault = faults(element, input);
  const refresh = () => chips.replaceChildren(
    ...kept.map((one) => chip(text(one.title) || one.file, t("form.take_out", { name: one.file }), () => {
      kept = kept.filter((other) => other !== one);
      refresh();
    })),
    ...fresh.map((file) => chip(`${file.name}, ${byteCount(file.size, ctx.language)}`, t("form.take_out", { name: file.name }), () => {
      fresh = fresh.filter((other) => other !== file);
      refresh();
    })));
  input.addEventListener("change", () => {
    const all = [...(input.files ?? [])];
    const large = all.filter(({ size }) => size > largest);
    fault(large.length === 0 ? null : t("form.too_large", { names: large.map(({ name }) => name).join(", "), most: byteCount(largest, ctx.language) }));
    fresh.push(...all.filter(({ size }) => size <= largest));
    input.value = "";
    refresh();
  });
  refresh();
  return {
    element,
    async read() {
      /** @type {Attachment[]} */
      const made = [];
      for (const file of fresh) {
        const path = await ctx.session?.attach(file);
        if (!path) throw new FormFault(t("form.not_attached", { name: file.name }), input);
        made.push({ file: path, ...(file.type && { media_type: file.type }), title: file.name });
      }
      kept.push(...made);
      fresh = [];
      return kept;
    },
  };
}
