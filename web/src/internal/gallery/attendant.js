// @ts-check
/** The attendant's page, behind a code: what runs here, what is kept, what went wrong, how it is used. */
import { html } from "../dom.js";
import { icon } from "../icons.js";
import { byteCount, dateLocale, within } from "../i18n.js";
import { Code } from "./code.js";
import { keptNow } from "./offline.js";

/** @typedef {import("../context.js").Context} Context */

/** Who walks away from it leaves it closed (ms). */
const CLOSES_AFTER_MS = 120_000;

/** @param {Context} ctx @param {{counts: import("./counts.js").Counts, closed: () => void, restart: () => void}} options */
export function attendant(ctx, { counts, closed, restart }) {
  const { t } = ctx;
  const code = new Code();
  const body = html("div", { class: "staff-body" });
  const element = html("div", { class: "staff-page", role: "dialog", "aria-modal": "true", "aria-label": t("gallery.attendant"), "data-scrolls": true },
    html("button", { class: "quiet close", type: "button", "aria-label": t("wall.close"), onclick: closed }, icon("close")), body);
  element.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    closed();
  });
  let timer = 0;

  /** Digits by touch or by keys. @param {string} words @param {(digits: string) => Promise<string | null>} take null: taken; else what is wrong */
  function keypad(words, take) {
    let digits = "";
    const shown = html("p", { class: "digits", role: "status" });
    const wrong = html("p", { class: "wrong", role: "alert" });
    const show = () => { shown.textContent = "•".repeat(digits.length); shown.setAttribute("aria-label", t("gallery.digits", { count: digits.length })); };
    const press = (/** @type {string} */ digit) => {
      wrong.textContent = "";
      if (digits.length < 8) digits += digit;
      show();
    };
    const enter = async () => {
      const given = digits;
      digits = "";
      show();
      wrong.textContent = await take(given) ?? "";
    };
    const erase = () => { digits = digits.slice(0, -1); show(); };
    const pad = html("div", { class: "pad", dir: "ltr", tabindex: 0, role: "group", "aria-label": words },
      [..."123456789"].map((digit) => html("button", { type: "button", "data-digit": digit, onclick: () => press(digit) }, Number(digit).toLocaleString(ctx.language))),
      html("button", { type: "button", "aria-label": t("gallery.erase"), onclick: erase }, icon("back")),
      html("button", { type: "button", "data-digit": "0", onclick: () => press("0") }, (0).toLocaleString(ctx.language)),
      html("button", { type: "button", "aria-label": t("gallery.enter"), "data-digit": "enter", onclick: () => void enter() }, icon("later")));
    pad.addEventListener("keydown", (event) => {
      if (/^\d$/.test(event.key)) press(event.key);
      else if (event.key === "Backspace") erase();
      else if (event.key === "Enter" && event.target === pad) void enter();
    });
    show();
    body.replaceChildren(html("h2", { tabindex: -1 }, t("gallery.attendant")), html("p", { class: "prose" }, words), shown, pad, wrong);
    pad.focus();
  }

  const ask = () => keypad(t("gallery.code"), async (digits) => {
    const waits = Math.ceil(code.waits_ms / 1000);
    if (waits > 0) return t("gallery.wait", { count: waits });
    if (!await code.is(digits)) return t("gallery.wrong");
    counts.add("attendant");
    await page();
    return null;
  });
  const choose = () => keypad(t("gallery.choose"), async (digits) => {
    if (!/^\d{4,8}$/.test(digits)) return t("gallery.four");
    await code.choose(digits);
    await page();
    return null;
  });

  async function page() {
    const kept = await keptNow();
    const space = await navigator.storage?.estimate?.().catch(() => null) ?? null;
    const lasting = await navigator.storage?.persisted?.().catch(() => false) ?? false;
    const { days, errors } = counts;
    const rows = Object.entries(days).sort(([a], [b]) => (a < b ? 1 : -1)).slice(0, 14);
    const date = (/** @type {string} */ when) => new Date(when).toLocaleString(dateLocale(ctx.language));
    const backend = ctx.handle.backend();
    body.replaceChildren(
      html("h2", { tabindex: -1 }, t("gallery.attendant")),
      html("dl", { class: "facts" },
        fact("gallery.version", kept?.name ?? t("gallery.not_kept")),
        fact("gallery.kept", kept ? t("gallery.files", { count: kept.files, when: date(kept.when) }) : t("gallery.not_kept")),
        fact("gallery.storage", space?.usage === undefined ? "–" : `${byteCount(space.usage, ctx.language)} / ${byteCount(space.quota ?? 0, ctx.language)} · ${t(lasting ? "gallery.lasting" : "gallery.fleeting")}`),
        fact("gallery.device", [backend.name, backend.adapter].filter(Boolean).join(" · ")),
        fact("gallery.running", t("gallery.minutes", { count: Math.round(performance.now() / 60_000) }))),
      html("h3", {}, t("gallery.counts")),
      rows.length === 0 ? html("p", { class: "note" }, t("gallery.no_counts")) : html("div", { class: "counts", tabindex: 0, role: "region", "aria-label": t("gallery.counts") }, html("table", {}, html("tbody", {}, rows.flatMap(([day, of]) => Object.entries(of).map(([what, count], index) =>
        html("tr", {}, html("th", { scope: "row" }, html("span", { class: index === 0 ? null : "unseen" }, day)), html("td", {}, counted(ctx, what)), html("td", {}, count.toLocaleString(ctx.language)))))))),
      html("h3", {}, t("gallery.errors")),
      errors.length === 0 ? html("p", { class: "note" }, t("gallery.no_errors")) : html("ul", { class: "errors" }, errors.toReversed().slice(0, 20).map(({ when, message }) => html("li", {}, html("span", { class: "note" }, date(when)), " ", html("span", { dir: "auto" }, message)))),
      html("p", { class: "note" }, t("gallery.privacy")),
      html("div", { class: "row-actions" },
        act("table", "save", () => download()), act("restart", "again", restart), act("new_code", "editing", () => choose()),
        forget()));
    body.querySelector("h2")?.focus();
  }
  /** @param {string} key @param {string} value */
  const fact = (key, value) => html("div", {}, html("dt", {}, t(key)), html("dd", { dir: "auto" }, value));
  /** @param {string} key @param {string} name of an icon @param {() => void} onclick */
  const act = (key, name, onclick) => html("button", { class: "action", type: "button", "data-staff": key, onclick }, icon(name), html("span", {}, t(`gallery.${key}`)));

  /** What cannot be had again is asked for twice. */
  function forget() {
    let asked = false;
    const button = act("forget", "remove", () => {
      if (asked) {
        counts.forget();
        void page();
      }
      asked = true;
      button.lastElementChild?.replaceChildren(t("gallery.forget.sure"));
    });
    return button;
  }

  function download() {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([counts.csv()], { type: "text/csv" }));
    link.download = "gallery-tablet.csv";
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  }

  return {
    element,
    begin() {
      clearTimeout(timer);
      const close = () => { timer = window.setTimeout(closed, CLOSES_AFTER_MS); };
      const again = () => { clearTimeout(timer); close(); };
      element.onpointerdown = again;
      element.onkeydown = again;
      close();
      if (!globalThis.crypto?.subtle) body.replaceChildren(html("h2", { tabindex: -1 }, t("gallery.attendant")), html("p", { class: "prose" }, t("gallery.needs_https")));
      else if (code.chosen) ask();
      else choose();
    },
  };
}

/** What was counted, in words; the table that is taken along keeps the short names. @param {Context} ctx @param {string} what */
function counted(ctx, what) {
  const { t, text, dossier } = ctx;
  const [, kind, id] = /^(state|language|stop) (.+)$/.exec(what) ?? [];
  if (!kind || !id) return t(`gallery.counted.${what.replaceAll(" ", "_")}`);
  const title = kind === "state" ? dossier.states.get(id)?.title : kind === "stop" ? dossier.document.views?.find((stop) => stop.id === id)?.title : undefined;
  const name = kind === "language" ? new Intl.DisplayNames([ctx.language], { type: "language" }).of(id) : text(title);
  return t(`gallery.counted.${kind}`, { name: within(name || id, ctx.language) });
}
