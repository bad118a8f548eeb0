// @ts-check
/** Views: those of the dossier, which change as steps of editing, and a visitor's own, kept in this browser. */
import { html, uniqueId } from "../../dom.js";
import { icon } from "../../icons.js";
import { sentenceOf } from "../../errors.js";
import { addressOf } from "../../address.js";
import { handOut } from "../../handing.js";
import { plainName } from "../../desk/naming.js";
import { keptOf, OwnViews } from "../../keeping/ownviews.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {{id: string, title: string, text: string, view: Partial<import("../../../types.d.ts").View>}} Row */
/** @typedef {[act: string, icon: string, run: () => unknown]} Act */

/** @param {Context} ctx @returns {import("../../context.js").Panel} */
export function viewsPart(ctx) {
  const { t } = ctx;
  const own = new OwnViews(ctx.dossier.document.id || ctx.source.name);
  const told = html("p", { class: "note", role: "status" });
  const dossier_room = html("div", {});
  const own_room = html("div", {});
  const title = html("input", { type: "text", id: uniqueId("title"), autocomplete: "off" });
  const text = html("textarea", { rows: 2, id: uniqueId("text") });
  const file = html("input", { type: "file", accept: ".json,application/json", hidden: true });
  const tell = (/** @type {string} */ words) => { told.textContent = words; };
  const form = html("form", { class: "entry-form" },
    html("div", { class: "entry" }, html("label", { for: title.id }, t("form.title")), title),
    html("div", { class: "entry" }, html("label", { for: text.id }, t("form.text")), text),
    html("div", { class: "acts" }, html("button", { class: "plain", type: "submit", "data-keep": "own" }, t("keep.own.add"))));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    own.add({ title: title.value.trim() || t("keep.own.untitled", { number: own.list.length + 1 }), text: text.value.trim(), view: keptOf(ctx.view(), ctx.stage.aspect) });
    title.value = "";
    text.value = "";
    show();
    tell(t("keep.own.added"));
  });
  file.addEventListener("change", async () => {
    const [chosen] = file.files ?? [];
    if (!chosen) return;
    try {
      const count = own.fromFile(await chosen.text());
      show();
      tell(t("keep.own.came", { count }));
    } catch (error) {
      tell(sentenceOf(error));
    }
    file.value = "";
  });
  const take = html("button", { class: "plain", type: "button", "data-keep": "take", onclick: () => {
    handOut(new Blob([own.toFile()], { type: "application/json" }), `${plainName(ctx.dossier.document.id || "dossier")}-views.json`);
  } }, t("keep.own.take"));
  const bring = html("button", { class: "plain", type: "button", onclick: () => file.click() }, t("keep.own.bring"));

  /** @param {Row["view"]} view @returns {Act[]} */
  const link = (view) => (bound(ctx) ? [["link", "out", () => void copied(ctx, addressFor(ctx, view), "keep.copied").then(tell)]] : []);
  const seen = () => keptOf(ctx.view(), ctx.stage.aspect);
  const told_elsewhere = html("p", { class: "note code", role: "status", dir: "auto" });
  /** @param {string} name @param {() => string} what @param {string} done */
  const give = (name, what, done) => html("button", {
    class: "plain", type: "button", "data-keep": name, onclick: () => void copied(ctx, what(), done).then((words) => { told_elsewhere.textContent = words; }),
  }, t(`keep.${name}`));
  const elsewhere = html("div", { hidden: !bound(ctx) }, html("h4", {}, t("keep.elsewhere")), html("p", { class: "note" }, t("keep.elsewhere.note")),
    html("div", { class: "acts" }, give("address", () => addressFor(ctx, seen()), "keep.copied"), give("framed", () => frameFor(ctx, seen()), "keep.framed.copied")), told_elsewhere);
  /** @param {Row} row @param {number} index @param {number} count @returns {Act[]} */
  const ownActs = ({ id, view }, index, count) => [
    ["replace", "again", () => own.change(id, { view: keptOf(ctx.view(), ctx.stage.aspect) })],
    ...(index > 0 ? /** @type {Act[]} */ ([["up", "up", () => own.move(id, -1)]]) : []),
    ...(index < count - 1 ? /** @type {Act[]} */ ([["down", "down", () => own.move(id, 1)]]) : []),
    ...link(view), ["remove", "remove", () => own.remove(id)],
  ];
  /** @param {Row} row @param {number} index @param {number} count @returns {Act[]} */
  const dossierActs = ({ id, title: name, view }, index, count) => {
    const { session } = ctx;
    if (!session) return link(view);
    const at = () => (session.document.views ?? []).findIndex((one) => one.id === id);
    const now = () => session.document.views?.[at()];
    /** @param {number} by */
    const move = (by) => () => {
      const from = at();
      return session.apply([{ op: "remove", path: `/views/${from}` }, { op: "insert", path: `/views/${from + by}`, value: now() }], t("undo.move.view", { name }));
    };
    return [
      ["replace", "again", () => session.apply([{ op: "set", path: `/views/${at()}/view`, value: { ...now()?.view, ...keptOf(ctx.view(), ctx.stage.aspect) } }], t("undo.replace.view", { name }))],
      ["amend", "editing", () => ctx.show({ kind: "form", form: "view", id, with: { back: "portfolio" } })],
      ...(index > 0 ? /** @type {Act[]} */ ([["up", "up", move(-1)]]) : []),
      ...(index < count - 1 ? /** @type {Act[]} */ ([["down", "down", move(1)]]) : []),
      ...link(view),
      ["remove", "remove", () => session.apply([{ op: "remove", path: `/views/${at()}` }], t("undo.remove.view", { id: name }))],
    ];
  };

  /** @param {Row[]} rows @param {(row: Row, index: number, count: number) => Act[]} acts @param {((row: Row) => Node) | null} rename @param {HTMLElement} room */
  const list = (rows, acts, rename, room) => {
    // What had the focus has it again.
    const root = /** @type {ShadowRoot | Document} */ (room.getRootNode());
    const active = room.contains(root.activeElement) ? /** @type {HTMLElement} */ (root.activeElement) : null;
    const [id, act] = [active?.closest("li")?.getAttribute("data-view"), active?.dataset["act"]];
    room.replaceChildren(html("ol", { class: "list views" }, rows.map((row, index) => html("li", { "data-view": row.id },
      html("button", { class: "row", type: "button", onclick: () => ctx.tour.go(rows, index) },
        html("span", { class: "key" }, (index + 1).toLocaleString(ctx.language)),
        html("span", { class: "body" }, html("span", { class: "name", dir: "auto" }, row.title || t("untitled.view")), row.text !== "" && html("span", { class: "note", dir: "auto" }, row.text))),
      html("div", { class: "acts small" }, acts(row, index, rows.length).map(([name, picture, run]) => html("button", {
        class: "quiet", type: "button", "data-act": name, title: t(`keep.act.${name}`), "aria-label": t(`keep.act.${name}.of`, { title: row.title }),
        onclick: async () => {
          try {
            await run();
            show();
          } catch (error) {
            ctx.refused(error);
          }
        },
      }, icon(picture))), rename?.(row) ?? null)))));
    if (!active) return;
    const place = [...room.querySelectorAll("li")].find((one) => one.dataset["view"] === id);
    /** @type {HTMLElement} */ (place?.querySelector(`[data-act="${act}"]`) ?? place?.querySelector("[data-act]") ?? title).focus();
  };

  /** Title and text of an own view, open to be written in. @param {Row} row */
  const rename = (row) => {
    const name = html("input", { type: "text", value: row.title, "aria-label": t("form.title"), autocomplete: "off" });
    const words = html("textarea", { rows: 2, "aria-label": t("form.text") }, row.text);
    const keep = () => {
      own.change(row.id, { title: name.value.trim() || row.title, text: words.value.trim() });
      details.open = false;
      show();
    };
    const details = html("details", { class: "rename" }, html("summary", { "aria-label": t("keep.act.rename.of", { title: row.title }) }, t("keep.act.rename")),
      html("form", { onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); keep(); } },
        html("div", { class: "entry" }, name), html("div", { class: "entry" }, words), html("button", { class: "plain", type: "submit" }, t("form.keep"))));
    return details;
  };

  const show = () => {
    const saved = (ctx.session?.document ?? ctx.dossier.document).views ?? [];
    const rows = saved.map(({ id, title: name, text: words, view }) => ({ id, title: ctx.text(name), text: ctx.text(words), view }));
    list(rows, dossierActs, null, dossier_room);
    dossier_room.prepend(html("h4", {}, t("keep.of_dossier")));
    if (ctx.session) {
      dossier_room.append(html("div", { class: "acts" }, html("button", {
        class: "plain", type: "button", "data-keep": "dossier",
        onclick: () => ctx.show({ kind: "form", form: "view", id: null, with: { back: "portfolio", view: keptOf(ctx.view(), ctx.stage.aspect) } }),
      }, t("keep.dossier.add"))));
    }
    dossier_room.hidden = rows.length === 0 && !ctx.session;
    list(own.list, ownActs, rename, own_room);
    own_room.hidden = own.list.length === 0;
    take.hidden = own.list.length === 0;
    if (!own.kept) tell(t("keep.own.not_kept"));
  };
  show();
  return {
    element: html("section", { class: "views-part" }, html("h3", {}, t("keep.views")), dossier_room,
      html("h4", {}, t("keep.own")), html("p", { class: "note" }, t("keep.own.note")), own_room, form, html("div", { class: "acts" }, take, bring, file), told, elsewhere),
    changed: show,
  };
}

/** Whether this page's address restores a view. @param {Context} ctx */
function bound(ctx) {
  const root = ctx.stage.element.getRootNode();
  return root instanceof ShadowRoot && root.host.getAttribute("address") === "hash";
}

/**
 * A whole view of a saved one, which may name parts of a part only (a light by its mode and direction).
 * @param {import("../../../types.d.ts").View} now @param {Row["view"]} saved @returns {import("../../../types.d.ts").View}
 */
export function completed(now, saved) {
  /** @param {any} whole @param {any} part @returns {any} */
  const merged = (whole, part) => {
    const plain = [whole, part].every((one) => typeof one === "object" && one !== null && !Array.isArray(one));
    return plain ? Object.fromEntries([...new Set([...Object.keys(whole), ...Object.keys(part)])].map((key) => [key, key in part ? merged(whole[key], part[key]) : whole[key]])) : part;
  };
  // Looks of layers are whole: one that a saved view does not name is as recorded there.
  return { ...merged(now, saved), layers: saved.layers ?? now.layers };
}

/** The address of this page with a view. @param {Context} ctx @param {Row["view"]} view */
function addressFor(ctx, view) {
  const address = new URL(location.href);
  address.hash = addressOf(completed(ctx.view(), view));
  return address.href;
}

/** What shows a view on a page of somebody else. @param {Context} ctx @param {Row["view"]} view */
function frameFor(ctx, view) {
  const address = new URL(addressFor(ctx, view));
  address.pathname = new URL("embed.html", address).pathname;
  const frame = html("iframe", { src: address.href, title: ctx.text(ctx.dossier.document.title) || ctx.t("untitled"), width: 800, height: 600, loading: "lazy", allow: "fullscreen" });
  return frame.outerHTML;
}

/** Puts something on the clipboard, or says it. @param {Context} ctx @param {string} what @param {string} done what is said then */
async function copied(ctx, what, done) {
  try {
    await navigator.clipboard.writeText(what);
    return ctx.t(done);
  } catch {
    return what;
  }
}
