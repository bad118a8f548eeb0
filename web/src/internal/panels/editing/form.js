// @ts-check
/** A form on the wall: its fields, keeping, taking out, and what is wrong with it. */
import { html } from "../../dom.js";
import { sentenceOf } from "../../errors.js";
import { icon } from "../../icons.js";
import { FormFault } from "./fields.js";
import { mentions, removed } from "./steps.js";
import { notEditing } from "../card.js";
import { pinForm } from "./pin.js";
import { evidenceForm } from "./evidence.js";
import { claimForm } from "./claim.js";
import { pigmentForm } from "./pigment.js";
import { personForm } from "./person.js";
import { regionForm } from "./region.js";
import { viewForm } from "./view.js";
import { appearanceForm } from "./appearance.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../context.js").Subject} Subject */
/** @typedef {import("./steps.js").ListName} ListName */
/** @typedef {import("./steps.js").Step} Step */

/**
 * @typedef {object} Form
 * @property {(Node | null | false | undefined)[]} fields
 * @property {() => {steps: Step[], label: string, then: Subject | string} | Promise<{steps: Step[], label: string, then: Subject | string}>} read
 *   what is to be kept, its name for undo, and what is shown then; throws FormFault
 * @property {() => void} [stop] when it is left
 * @property {string} [back] page to go back to once it is kept
 */

/** `stays`: it neither begins nor ends here. @type {Record<string, {list: ListName, stays?: boolean, make: (ctx: Context, id: string | null, given: Record<string, unknown>) => Form}>} */
const FORMS = {
  pin: { list: "pins", make: pinForm },
  evidence: { list: "evidence", make: evidenceForm },
  claim: { list: "claims", make: claimForm },
  pigment: { list: "palette", make: pigmentForm },
  person: { list: "people", make: personForm },
  region: { list: "regions", make: regionForm },
  view: { list: "views", make: viewForm },
  state: { list: "states", stays: true, make: appearanceForm("states") },
  layer: { list: "layers", stays: true, make: appearanceForm("layers") },
};

/** @param {Context} ctx @param {Extract<Subject, {kind: "form"}>} subject @returns {import("../../context.js").Panel} */
export function formPage(ctx, { form: kind, id, with: given = {} }) {
  const { t } = ctx;
  const entry = FORMS[kind];
  if (!ctx.session || !entry || (entry.stays && id === null)) return notEditing(ctx);
  const { back, ...values } = given;
  const made = { ...entry.make(ctx, id, values), ...(typeof back === "string" && { back }) };
  const element = html("article", { class: "card" },
    html("p", { class: "over" }, t(id === null ? "form.new" : "form.change")),
    html("h2", { tabindex: -1 }, t(`form.${kind}`)),
    frame(ctx, made, id === null || entry.stays ? null : (form) => takeOut(ctx, entry.list, kind, { id, back: made.back ?? "workbench" }, form)));
  return { element, leave: () => made.stop?.(), begun: () => element.querySelector("form")?.hasAttribute("data-begun") ?? false };
}

/**
 * The form itself. @param {Context} ctx @param {Form} made
 * @param {((form: HTMLElement) => Promise<unknown>) | null} remove @param {() => void} [cancel] in place of going back
 */
export function frame(ctx, made, remove, cancel) {
  const { t } = ctx;
  const wrong = html("p", { class: "fault summary", role: "alert" });
  const keep = html("button", { class: "action strong", type: "submit" }, t("form.keep"));
  const form = html("form", { class: "entry-form", novalidate: true }, made.fields.map((field) => field ?? null), wrong,
    html("div", { class: "row-actions" }, keep,
      html("button", { class: "quiet", type: "button", onclick: () => {
        form.removeAttribute("data-begun");
        if (cancel) cancel();
        else ctx.turnTo(made.back ?? "workbench");
      } }, t("form.cancel")),
      remove && html("button", { class: "quiet remove", type: "button", onclick: () => void attempt(() => remove(form)) }, icon("remove"), html("span", {}, t("form.remove")))));
  /** @param {() => unknown} work */
  const attempt = async (work) => {
    wrong.textContent = "";
    keep.disabled = true;
    try {
      await work();
    } catch (error) {
      wrong.textContent = faultInWords(ctx, error);
      if (error instanceof FormFault) error.control?.focus();
    } finally {
      keep.disabled = false;
    }
  };
  for (const kind of ["input", "change"]) form.addEventListener(kind, () => form.toggleAttribute("data-begun", true));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    void attempt(async () => {
      const { steps, label, then } = await made.read();
      await ctx.session?.apply(steps, label);
      form.removeAttribute("data-begun");
      if (made.back) ctx.turnTo(made.back);
      else if (typeof then !== "string") ctx.show(then);
      else if (then !== "") ctx.turnTo(then);
      else cancel?.();
    });
  });
  // As in every text of more than one line: Ctrl or Cmd with Enter keeps.
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) form.requestSubmit();
  });
  return form;
}

/** @param {Context} ctx @param {unknown} error */
function faultInWords(ctx, error) {
  if (error instanceof FormFault) return error.message;
  const findings = /** @type {{findings?: {message?: string}[]}} */ (error).findings ?? [];
  const detail = sentenceOf(error);
  // The sentence of a refused step is that of its first finding.
  const further = findings.flatMap(({ message }) => (message && !detail.includes(message) ? [message] : []));
  return ctx.t("form.refused", { detail: [detail, ...further].join(" ") });
}

/** @param {Context} ctx @param {ListName} list @param {string} kind @param {{id: string, back: string}} what @param {HTMLElement} form */
async function takeOut(ctx, list, kind, { id, back }, form) {
  const { session, t } = ctx;
  if (!session) return;
  const count = mentions(session.document, list, id);
  if (count > 0) throw new FormFault(t("form.still_named", { count }));
  await session.apply(removed(session.document, list, id), t(`undo.remove.${kind}`, { id }));
  form.removeAttribute("data-begun");
  ctx.turnTo(back);
}
