// @ts-check
/** The tour on the wall: one stop after the other, by hand or by itself, with its words always in writing. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { textIn } from "../i18n.js";
import { SPEEDS } from "./player.js";
import { cuesOf, recordingOf, voiceOf } from "./narration.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").SavedView} SavedView */

/** The view of a stop, without what stood open before. @param {Context} ctx @param {SavedView} stop */
export function viewOfStop(ctx, stop) {
  return { pin: null, region: null, overlay: null, over: null, ...stop.view, language: ctx.view().language };
}

/** A text with what must be said about its language: "" when it is in the one asked for. @param {Context} ctx @param {import("../../types.d.ts").Text | undefined} text */
export function spoken(ctx, text) {
  const { value, language } = textIn(text, ctx.languages);
  const asked = ctx.view().language;
  const other = language !== null && language.split("-")[0] !== asked.split("-")[0];
  const name = other ? new Intl.DisplayNames([ctx.language], { type: "language" }).of(String(language)) ?? String(language) : "";
  return { value, language, note: other ? ctx.t("walk.only_in", { language: name }) : "" };
}

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function tourPage(ctx) {
  const { t } = ctx;
  const stops = () => ctx.dossier.document.views ?? [];
  const title = html("h3", { class: "stop-title", dir: "auto", tabindex: -1 });
  const prose = html("p", { class: "prose", dir: "auto" });
  const where = html("p", { class: "note stop-count" });
  const language_note = html("p", { class: "note", hidden: true });
  const live = html("div", { class: "unseen", role: "status", "aria-live": "polite" });
  const caption = html("p", { class: "spoken", hidden: true });
  const { tour } = ctx;
  const { player } = tour;
  /** @type {import("./tour.js").Guide<SavedView>} */
  const guide = {
    stops, view: (stop) => viewOfStop(ctx, stop), changed: () => show(),
    voice: async (stop) => {
      const found = tour.sound && recordingOf(stop, ctx.languages);
      return found ? voiceOf(ctx, found.recording, tell) : null;
    },
  };
  /** @param {string} said */
  const tell = (said) => {
    caption.textContent = said;
    caption.hidden = said === "";
  };
  /** @param {string} name @param {string} key @param {() => void} act */
  const control = (name, key, act) => html("button", { class: "action", type: "button", "data-tour": key, onclick: act }, icon(name), html("span", {}, t(`walk.${key}`)));
  const back = control("earlier", "back", () => player.back());
  const play = control("play", "play", () => (player.playing ? player.pause() : player.play()));
  const next = control("later", "next", () => player.next());
  const speed = html("select", { "aria-label": t("walk.speed") }, SPEEDS.map((value) => html("option", { value, selected: value === player.speed }, `${value.toLocaleString(ctx.language)} ×`)));
  speed.addEventListener("change", () => player.setSpeed(Number(speed.value)));
  const narrated = stops().some((stop) => recordingOf(stop, ctx.languages)?.recording.audio);
  const sound = html("input", { type: "checkbox", checked: tour.sound });
  sound.addEventListener("change", () => {
    tour.sound = sound.checked;
    const { playing } = player;
    player.go(player.at);
    if (playing) player.play();
  });
  const rows = html("ol", { class: "stops" });
  let told = -1;
  const show = () => {
    const stop = stops()[player.at];
    if (!stop) return;
    const words = spoken(ctx, stop.text);
    title.textContent = ctx.text(stop.title);
    prose.textContent = words.value;
    prose.lang = words.language ?? "";
    language_note.textContent = words.note;
    language_note.hidden = words.note === "";
    where.textContent = t("walk.where", { at: player.at + 1, of: stops().length });
    back.disabled = player.at === 0;
    next.disabled = player.last;
    play.replaceChildren(icon(player.playing ? "pause" : "play"), html("span", {}, t(player.playing ? "walk.pause" : "walk.play")));
    play.setAttribute("aria-pressed", String(player.playing));
    for (const [index, row] of [...rows.children].entries()) row.firstElementChild?.[index === player.at ? "setAttribute" : "removeAttribute"]("aria-current", "step");
    if (told !== player.at && told >= 0) live.textContent = [where.textContent, title.textContent, words.value].join(". ");
    told = player.at;
  };
  stops().forEach((stop, index) => rows.append(transcriptRow(ctx, stop, () => player.go(index))));
  const touched = () => player.pause();
  ctx.stage.element.addEventListener("pointerdown", touched);
  const element = html("div", { class: "tour-page" },
    stops().length === 0 ? html("p", { class: "prose" }, t("walk.none")) : [
      where, title, prose, language_note, caption,
      html("div", { class: "row-actions tour-controls" }, back, play, next),
      html("div", { class: "row-actions" }, html("label", { class: "choice" }, html("span", {}, t("walk.speed")), speed), narrated && html("label", { class: "choice" }, sound, html("span", {}, t("walk.sound")))),
      html("section", { class: "list" }, html("h3", {}, t("walk.all"), html("span", { class: "count" }, t("count.views", { count: stops().length }))), rows), live]);
  if (stops().length > 0) {
    tour.take(guide);
    queueMicrotask(() => player.go(player.at));
  }
  return {
    element,
    changed: show,
    leave() {
      ctx.stage.element.removeEventListener("pointerdown", touched);
      tour.release(guide);
    },
  };
}

/** A stop in writing, with all that its narration says. @param {Context} ctx @param {SavedView} stop @param {() => void} go */
function transcriptRow(ctx, stop, go) {
  const words = spoken(ctx, stop.text);
  const row = html("li", {}, html("button", { class: "row", type: "button", onclick: go }, html("span", { class: "body" },
    html("span", { class: "name", dir: "auto" }, ctx.text(stop.title)), html("span", { class: "note", dir: "auto", lang: words.language }, words.value))));
  const found = recordingOf(stop, ctx.languages);
  if (found?.recording.captions) {
    void cuesOf(ctx, found.recording).then((cues) => {
      if (cues.length > 0) row.append(html("p", { class: "note transcript", dir: "auto", lang: found.language }, cues.map(({ text }) => text).join(" ")));
    });
  }
  return row;
}
