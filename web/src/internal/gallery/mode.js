// @ts-check
/**
 * The gallery tablet. Until somebody touches it the tour goes round by itself; then its stops hang on a cord
 * along the sill, with what stands against what; left alone, it starts again and has forgotten everything.
 */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { bestLanguage, directionOf, INTERFACE_LANGUAGES, loadMessages, textIn, translator, unbroken } from "../i18n.js";
import { LARGE_LIKENESS_PX, likenesses } from "../keeping/likeness.js";
import { countOf } from "../looks.js";
import { spoken, viewOfStop } from "../tour/page.js";
import { attendant } from "./attendant.js";
import { Counts } from "./counts.js";
import { guard } from "./guard.js";
import { Idle } from "./idle.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../modes.js").Hooks} Hooks */

/** Left alone so long it starts again (s), unless the attribute `idle` says otherwise. A choice of ours. */
const IDLE_S = 90;

/** A stop as it is shown here: what takes turns by itself is not left to run. @param {Context} ctx @param {import("../../types.d.ts").SavedView} stop */
function stopView(ctx, stop) {
  const view = viewOfStop(ctx, stop);
  return view.compare === "blink" ? { ...view, compare: "swipe", position: 0.5 } : view;
}

/** @param {Context} ctx @param {Hooks} hooks @returns {import("../modes.js").Furniture} */
export function furniture(ctx, hooks) {
  const { t } = ctx;
  const { memory } = hooks;
  const counts = new Counts();
  /** @type {import("../../types.d.ts").SavedView[]} */
  const stops = ctx.dossier.document.views?.length ? ctx.dossier.document.views : [{ id: "", title: ctx.dossier.document.title ?? "", text: ctx.dossier.document.description ?? "", view: { camera: { ...(ctx.first_camera() ?? ctx.view().camera), aspect: ctx.stage.aspect } } }];
  if (!memory["begun"]) {
    Object.assign(memory, { begun: true, open: false, home: ctx.view().language, since: 0 });
    guard(hooks.element, ctx.signal);
    hooks.element.addEventListener("keydown", (event) => { if (event.ctrlKey || event.metaKey) event.preventDefault(); }, { signal: ctx.signal });
  }

  const { tour } = ctx;
  const { player } = tour;
  // While nobody is there only the object is shown, and no card.
  /** @type {import("../tour/tour.js").Guide<import("../../types.d.ts").SavedView>} */
  const guide = { stops: () => stops, view: (stop) => (memory["open"] ? stopView(ctx, stop) : { ...stopView(ctx, stop), pin: null, region: null }), changed: () => show(), round: true };

  // Nobody is there: the title large, and how to begin in every language.
  const line = html("p", { class: "line", dir: "auto" });
  const touch = html("span", { class: "touch" });
  const attract = html("button", { class: "attract", type: "button", onclick: () => open() },
    html("span", { class: "name", dir: "auto" }, ctx.text(ctx.dossier.document.title) || t("untitled")), line, touch);
  for (const language of hooks.languages()) {
    const known = bestLanguage([language], INTERFACE_LANGUAGES);
    if (known.split("-")[0] !== language.split("-")[0]) continue;
    const word = html("span", { lang: known, dir: directionOf(known) });
    touch.append(word);
    void loadMessages(known, hooks.words.folder).then((messages) => { word.textContent = translator(messages, {}, known)("gallery.touch"); });
  }

  // Somebody is: the cord with its stops, what stands against what, and the languages.
  const title = html("h2", { dir: "auto", tabindex: -1 });
  const prose = html("p", { class: "prose", dir: "auto" });
  const note = html("p", { class: "note" });
  const knots = stops.map((stop, index) => html("button", { class: "knot", type: "button", "data-stop": index, onclick: () => go(index) },
    html("span", { class: "bead", "aria-hidden": "true" }, (index + 1).toLocaleString(ctx.language)), html("span", { class: "unseen" }, ctx.text(stop.title))));
  const cord = html("nav", { class: "cord", "aria-label": t("gallery.stops") }, html("ol", {}, knots.map((knot) => html("li", {}, knot))));
  // By its picture, for who cannot read; its name stands below.
  const pictures = likenesses(ctx, LARGE_LIKENESS_PX);
  /** @type {[string, HTMLImageElement][]} */
  const likeness = [];
  const states = (ctx.dossier.document.states ?? []).map((state) => {
    const { value, language } = textIn(state.title, ctx.languages);
    const picture = html("img", { alt: "", hidden: true, draggable: "false", width: LARGE_LIKENESS_PX.width, height: LARGE_LIKENESS_PX.height });
    likeness.push([state.id, picture]);
    return html("button", {
      type: "button", class: "state-choice", "data-state": state.id, "aria-pressed": "false",
      onclick: () => { counts.add(`state ${state.id}`); against(state.id); },
    }, html("span", { class: "likeness" }, picture), html("span", { class: "name", dir: "auto", lang: language }, value));
  });
  const choices = html("div", { class: "against", role: "group", "aria-label": t("gallery.against") }, html("span", { class: "note", "aria-hidden": "true" }, t("gallery.against")), html("div", { class: "row" }, states));
  const tongues = html("div", { class: "tongues", role: "group", "aria-label": t("language") }, hooks.languages().map((language) => html("button", {
    type: "button", lang: language, dir: directionOf(language), "data-language": language, "aria-pressed": String(language === ctx.view().language),
    onclick: () => { counts.add(`language ${language}`); ctx.change({ language }); },
  }, new Intl.DisplayNames([language], { type: "language" }).of(language) ?? language)));
  const staff = html("button", { class: "staff", type: "button", "aria-label": t("gallery.attendant"), onclick: () => attend() }, icon("workbench"));
  const end = html("button", { class: "action leave", type: "button", "data-gallery": "end", onclick: () => home("ended") }, icon("again"), html("span", {}, t("gallery.end")));
  const sill = html("div", { class: "sill" }, html("section", { class: "words" }, title, prose, note), cord, choices, html("div", { class: "ends" }, tongues, end, staff));

  // It is about to start again.
  const left = html("span", { class: "left" });
  const asked = html("div", { class: "still-there", role: "alertdialog", "aria-label": t("gallery.there"), hidden: true },
    html("p", {}, t("gallery.there")), html("p", { class: "note" }, left), html("button", { class: "action", type: "button", onclick: () => {} }, t("gallery.stay")));

  const desk_of_staff = attendant(ctx, { counts, closed: () => { dismiss(); staff.focus(); }, restart: () => hooks.say("galleryrestart", {}) });
  const idle = new Idle({
    target: hooks.element, seconds: Number(hooks.option("idle")) || IDLE_S,
    warn: (left_s) => {
      asked.hidden = left_s === null || !memory["open"];
      if (left_s !== null) left.textContent = t("gallery.left", { count: left_s });
    },
    over: () => home("left alone"),
  });
  ctx.stage.element.append(attract);
  hooks.element.append(asked);

  function open() {
    memory["open"] = true;
    memory["since"] = Date.now();
    counts.add("begun");
    hooks.say("gallerybegin", {});
    player.close();
    go(player.at, false);
    idle.start();
    title.focus({ preventScroll: true });
  }

  /** Where a state stands in what is seen, so that its picture can show it. @param {import("../../types.d.ts").View} view @param {string | undefined} id */
  function placeOf(view, id) {
    const { compare, left, right, third, fourth } = view;
    if (!id || ![left, right, third, fourth].slice(0, countOf(view)).includes(id)) return null;
    if (countOf(view) !== 2 || left === right || (compare !== "swipe" && compare !== "pair")) return "shown";
    return id === left ? "left" : "right";
  }

  /** Everything as at the start. @param {string} how */
  function home(how) {
    if (memory["open"]) {
      counts.add(how);
      counts.add("seconds", Math.round((Date.now() - memory["since"]) / 1000));
    }
    memory["open"] = false;
    idle.stop();
    asked.hidden = true;
    dismiss();
    hooks.wall.forget();
    ctx.turnTo(null);
    ctx.stage.take(null);
    ctx.change({ language: memory["home"], compare: "one", count: 2, section: null, lamp: null, layers: {}, light: { ...ctx.view().light, mode: "as-measured" } });
    hooks.say("galleryhome", {});
    start();
    attract.focus({ preventScroll: true });
  }

  /** Begins the round. */
  function start() {
    show();
    player.speed = 1;
    player.go(0);
    player.play();
  }

  /** @param {number} at @param {boolean} [counted] */
  function go(at, counted = true) {
    if (counted) counts.add(`stop ${stops[at]?.id || at + 1}`);
    ctx.turnTo(null);
    player.pause();
    // The pin of a stop is not one that the visitor opened.
    memory["pin"] = stops[at]?.view.pin ?? null;
    player.go(at);
  }

  /** What is chosen stands on the right; twice the same stands alone. @param {string} id */
  function against(id) {
    const { left: first, compare } = ctx.view();
    if (first === id) ctx.change({ compare: "one" });
    else ctx.change({ right: id, compare: compare === "one" ? "swipe" : compare, position: 0.5 });
  }

  /** What lies under the attendant's page and rests meanwhile. @type {HTMLElement[]} */
  let under = [];

  function attend() {
    ctx.turnTo(null);
    under = [...hooks.element.children].filter((one) => one instanceof HTMLElement && !one.inert && one !== asked).map((one) => /** @type {HTMLElement} */ (one));
    for (const one of under) one.inert = true;
    hooks.element.append(desk_of_staff.element);
    desk_of_staff.begin();
  }

  /** The attendant's page goes. */
  function dismiss() {
    desk_of_staff.element.remove();
    for (const one of under.splice(0)) one.inert = false;
  }

  function show() {
    const stop = stops[player.at];
    const is_open = memory["open"];
    hooks.element.toggleAttribute("data-attract", !is_open);
    attract.hidden = is_open;
    ctx.stage.canvas.tabIndex = is_open ? 0 : -1;
    sill.inert = !is_open;
    if (!stop) return;
    const words = spoken(ctx, stop.text);
    line.textContent = unbroken(ctx.text(stop.title));
    title.textContent = unbroken(ctx.text(stop.title));
    prose.textContent = unbroken(words.value);
    prose.lang = words.language ?? "";
    note.textContent = words.note;
    for (const [index, knot] of knots.entries()) knot[index === player.at ? "setAttribute" : "removeAttribute"]("aria-current", "step");
  }

  queueMicrotask(() => {
    if (ctx.signal.aborted) return;
    // Now that they are on the page, which pictures are made for.
    for (const [id, picture] of likeness) pictures.put(id, picture);
    tour.take(guide);
    if (!memory["open"]) {
      start();
      if (memory["held"] === attract.className) attract.focus({ preventScroll: true });
    } else {
      idle.start();
      show();
      if (memory["held"]) /** @type {HTMLElement | null} */ (sill.querySelector(`[data-language="${CSS.escape(memory["held"])}"]`))?.focus();
    }
  });
  return {
    element: sill,
    update(view) {
      for (const choice of states) {
        const place = placeOf(view, choice.dataset["state"]);
        choice.setAttribute("aria-pressed", String(place !== null));
        if (place) choice.dataset["place"] = place;
        else delete choice.dataset["place"];
      }
      if (view.pin && view.pin !== memory["pin"] && memory["open"]) counts.add("pin opened");
      memory["pin"] = view.pin;
    },
    page(page) { hooks.element.toggleAttribute("data-reading", page !== null); },
    leave() {
      // Made anew, it has the focus where it was.
      const { activeElement: held } = /** @type {ShadowRoot} */ (hooks.element.getRootNode());
      memory["held"] = held === attract ? attract.className : held instanceof HTMLElement && sill.contains(held) ? held.dataset["language"] ?? null : null;
      tour.release(guide);
      idle.stop();
      attract.remove();
      asked.remove();
      dismiss();
    },
  };
}
