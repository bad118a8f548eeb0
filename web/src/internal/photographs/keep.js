// @ts-check
/** What is kept: points and poses as files of the commands, and the pose in the dossier. */
import { isolated, sentenceOf } from "../errors.js";
import { html } from "../dom.js";
import { handOut } from "../handing.js";
import { CAUTION_OF } from "../panels/evidence.js";
import { selectField } from "../panels/fields.js";
import { added } from "../panels/editing/steps.js";
import { tripodOf } from "../tripod/tripod.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("./shot.js").Shot} Shot */

/** Techniques that are photographs of the whole. */
const TECHNIQUES = ["visible", "raking-light", "uvl", "uvr", "irr", "vil"];

/** @param {Context} ctx @param {Shot} shot */
export function keepPart(ctx, shot) {
  const { t } = ctx;
  const said = html("p", { class: "note", role: "status" });
  /** @param {() => Promise<string>} work gives what is said then */
  const during = async (work) => {
    try {
      said.textContent = await work();
    } catch (error) {
      said.textContent = t("photographs.failed", { detail: isolated(sentenceOf(error)) });
    }
  };
  const stem = () => (shot.picture?.file ?? "photograph").replace(/\.[^.]+$/, "");
  /** @param {string} key @param {string} what @param {() => Promise<string>} work */
  const button = (key, what, work) => html("button", { class: "action", type: "button", "data-save": what, onclick: () => void during(work) }, t(key));
  /** @param {string} name @param {string} type @param {string} text */
  const out = (name, type, text) => {
    handOut(new Blob([text], { type }), name);
    return "";
  };
  const points = button("photographs.save_points", "points", async () => out(`${stem()}.csv`, "text/csv", await pointsOf(ctx, shot)));
  const pose = button("photographs.save_pose", "poses", async () => out(`${stem()}-pose.json`, "application/json", await poseOf(ctx, shot)));
  const all = button("photographs.save_all", "all", async () => out("poses.json", "application/json", await allPoses(ctx, shot)));
  const technique = selectField(t("form.technique"), TECHNIQUES.map((word) => [word, t(`technique.${word}`)]), { as: "entry", changed: () => warn() });
  const caution = html("p", { class: "caution", hidden: true });
  const warn = () => {
    const word = CAUTION_OF[/** @type {keyof typeof CAUTION_OF} */ (technique.select.value)];
    caution.hidden = !word;
    caution.textContent = word ? t(`caution.${word}`) : "";
  };
  warn();
  const enter = button("photographs.enter", "dossier", () => entered(ctx, shot, technique.select.value));
  const entering = html("div", { hidden: true }, technique.element, caution, html("div", { class: "row-actions" }, enter));
  const note = html("p", { class: "note" });
  const element = html("section", { hidden: true }, html("h3", {}, t("photographs.keep")), html("div", { class: "row-actions" }, points, pose, all), html("p", { class: "note" }, t("photographs.keep.note")),
    entering, note, said);
  return {
    element,
    refresh() {
      points.hidden = shot.pairs.length === 0;
      pose.hidden = !shot.placed;
      all.hidden = shot.known.filter(({ placed }) => placed).length < 2;
      element.hidden = points.hidden && pose.hidden;
      const offered = Boolean(ctx.session) || ctx.editable;
      entering.hidden = !shot.placed || !offered;
      note.hidden = !shot.placed;
      note.textContent = t(offered ? "photographs.enter.note" : "photographs.enter.closed");
    },
  };
}

/** @param {Context} ctx @param {Shot} shot */
const pointsOf = async (ctx, shot) => (await tripodOf(ctx)).points(shot.pairs);

/** @param {Context} ctx @param {Shot} shot */
async function poseOf(ctx, { placed }) {
  if (!placed) throw new Error(ctx.t("photographs.lens_unknown"));
  return (await tripodOf(ctx)).poses(placed.posed, []);
}

/** One file with the poses of all that are placed. @param {Context} ctx @param {Shot} shot */
async function allPoses(ctx, shot) {
  const tripod = await tripodOf(ctx);
  /** @type {{photos: unknown[]}[]} */
  const files = [];
  for (const { placed } of shot.known) if (placed) files.push(JSON.parse(await tripod.poses(placed.posed, [])));
  return `${JSON.stringify({ ...files[0], photos: files.flatMap(({ photos }) => photos) }, null, 2)}\n`;
}

/**
 * Lays pose and points beside the dossier, as an observation: one step, which is saved or taken back like any other.
 * @param {Context} ctx @param {Shot} shot @param {string} technique @returns {Promise<string>} what came of it
 */
async function entered(ctx, shot, technique) {
  const { t, language } = ctx;
  const { picture, placed, pairs, agreed } = shot;
  if (!ctx.session) await ctx.edit(true);
  const { session } = ctx;
  if (!session || !picture || !placed) throw new Error(t("photographs.enter.closed"));
  const stem = picture.file.replace(/\.[^.]+$/, "");
  const laid = async (/** @type {string} */ name, /** @type {string} */ type, /** @type {string} */ text) =>
    ({ file: await session.attach(new File([text], name, { type })), media_type: type, title: name });
  const attachments = [await laid(`${stem}-pose.json`, "application/json", await poseOf(ctx, shot))];
  if (pairs.length > 0) attachments.push(await laid(`${stem}-points.csv`, "text/csv", await pointsOf(ctx, shot)));
  const figure = (/** @type {number} */ value, digits = 2) => value.toLocaleString(language, { minimumFractionDigits: digits, maximumFractionDigits: digits });
  const { fit } = placed.posed;
  const result = [
    t("photographs.entry.stand", { place: placed.frame.centre_m.map((one) => figure(one * 1000, 1)).join(" / ") }),
    fit && t("photographs.entry.points", { count: fit.pairs, px: figure(fit.rms_px), mm: figure(fit.rms_mm) }),
    agreed && t("photographs.entry.agreed", { layer: ctx.text(ctx.dossier.layers.get(agreed.layer)?.title) || agreed.layer, px: figure(agreed.agreement.standard_error_px) }),
  ].filter(Boolean).join(" ");
  const item = { id: session.freshId("evidence", technique), technique, title: picture.file, result, attachments };
  await session.apply(added(session.document, "evidence", item), t("undo.add.evidence", { name: picture.file }));
  return t(session.where === "server" ? "photographs.entered" : "photographs.entered.zip", { file: picture.file });
}
