// @ts-check
/** Files laid beside the dossier with an observation. */
import { html, uniqueId } from "../../dom.js";
import { byteCount } from "../../i18n.js";
import { clearanceBox, withClearance } from "./clearance.js";
import { chip, faults, FormFault, labelled } from "./fields.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Attachment} Attachment */

/** @param {Context} ctx @param {Attachment[]} before @returns {{element: HTMLElement, read: () => Promise<Attachment[]>}} */
export function filesField(ctx, before) {
  const { t, text } = ctx;
  let kept = [...before];
  /** @type {{file: File, withheld: boolean}[]} */
  let fresh = [];
  const largest = ctx.session?.largest_file_bytes ?? Infinity;
  const input = html("input", { type: "file", multiple: true, id: uniqueId("files") });
  const chips = html("div", { class: "chips files" });
  const element = labelled(t("form.attachments"), input, t("form.attachments.note"));
  element.insertBefore(chips, input);
  const fault = faults(element, input);
  /** @param {string} text @param {string} name @param {object} entry @param {() => void} taken @param {(withheld: boolean) => void} changed */
  const line = (text, name, entry, taken, changed) => html("div", { class: "file-row" },
    chip(text, t("form.take_out", { name }), () => {
      taken();
      refresh();
    }), clearanceBox(ctx, entry, name, changed));
  const refresh = () => chips.replaceChildren(
    ...kept.map((one, index) => line(text(one.title) || one.file, one.file, one, () => { kept = kept.filter((_, other) => other !== index); }, (withheld) => { kept[index] = withClearance(one, withheld); })),
    ...fresh.map((one) => line(`${one.file.name}, ${byteCount(one.file.size, ctx.language)}`, one.file.name, one.withheld ? { public: false } : {},
      () => { fresh = fresh.filter((other) => other !== one); }, (withheld) => { one.withheld = withheld; })));
  input.addEventListener("change", () => {
    const all = [...(input.files ?? [])];
    const large = all.filter(({ size }) => size > largest);
    fault(large.length === 0 ? null : t("form.too_large", { names: large.map(({ name }) => name).join(", "), most: byteCount(largest, ctx.language) }));
    fresh.push(...all.filter(({ size }) => size <= largest).map((file) => ({ file, withheld: false })));
    input.value = "";
    refresh();
  });
  refresh();
  return {
    element,
    async read() {
      /** @type {Attachment[]} */
      const made = [];
      for (const { file, withheld } of fresh) {
        const path = await ctx.session?.attach(file);
        if (!path) throw new FormFault(t("form.not_attached", { name: file.name }), input);
        made.push({ file: path, ...(file.type && { media_type: file.type }), title: file.name, ...(withheld && { public: false }) });
      }
      kept.push(...made);
      fresh = [];
      return kept;
    },
  };
}
