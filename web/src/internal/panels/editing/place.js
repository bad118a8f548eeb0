// @ts-check
/** The place of an observation or pin: set by a click on the surface, or by the crosshair. */
import { html, svg, uniqueId } from "../../dom.js";
import { project } from "../../projecting.js";

/** @typedef {import("../../context.js").Context} Context */
/** @typedef {import("../../../types.d.ts").Anchor} Anchor */

/**
 * @param {Context} ctx
 * @param {{anchor: Anchor | null | undefined, at_once: boolean, found?: (anchor: Anchor, region: string | null) => void}} options
 *   `at_once`: the next click sets it; `found`: what lies there
 * @returns {import("./fields.js").Field<Anchor | null> & {stop(): void}}
 */
export function placeField(ctx, { anchor: before, at_once, found }) {
  const { t } = ctx;
  let anchor = before ?? null;
  const name = uniqueId("place");
  const said = html("p", { role: "status" });
  const button = html("button", { class: "action", type: "button", "aria-pressed": "false" });
  const clear = html("button", { class: "quiet", type: "button", onclick: () => set(null, null) }, t("place.clear"));
  const element = html("div", { class: "entry place", role: "group", "aria-labelledby": name }, html("span", { class: "legend", id: name }, t("evidence.place")), said, html("div", { class: "row-actions" }, button, clear));
  const mark = marker(ctx);
  let picking = false;
  const refresh = () => {
    said.textContent = picking ? t("place.click") : anchor ? placeInWords(ctx, anchor) : t("place.none");
    button.textContent = t(picking ? "place.stop" : anchor ? "place.again" : "place.set");
    button.setAttribute("aria-pressed", String(picking));
    clear.hidden = anchor === null || picking;
    mark.show(anchor);
  };
  /** @param {Anchor | null} next @param {string | null} region */
  const set = (next, region) => {
    anchor = next;
    refresh();
    // A form in which only the place was set has been begun too.
    element.dispatchEvent(new Event("change", { bubbles: true }));
    if (next) found?.(next, region);
  };
  const pick = (/** @type {number} */ x, /** @type {number} */ y) => {
    void ctx.handle.probe(x, y).then((probe) => {
      if (!probe || !picking) return;
      start(false);
      set({ ...probe.anchor }, probe.region);
    });
  };
  const start = (/** @type {boolean} */ on) => {
    picking = on;
    const from = anchor?.position_m ? project(ctx.handle.projection(), anchor.position_m) : null;
    ctx.stage.take(on ? { pick, label: t("place.crosshair"), put_down: () => start(false), from } : null);
    refresh();
  };
  button.addEventListener("click", (event) => {
    start(!picking);
    // By keyboard the crosshair is what comes next.
    if (picking && event.detail === 0) ctx.stage.crosshair.focus();
  });
  if (at_once) queueMicrotask(() => start(true));
  else refresh();
  return {
    element, read: () => anchor,
    stop() {
      if (picking) start(false);
      mark.stop();
    },
  };
}

/** @param {Context} ctx @param {Anchor} anchor */
export function placeInWords(ctx, { sheet, position_m }) {
  const title = ctx.text(ctx.dossier.document.surface?.sheets?.find(({ id }) => id === sheet)?.title) || sheet;
  if (!position_m) return title;
  const mm = position_m.map((metres) => (metres * 1000).toLocaleString(ctx.language, { maximumFractionDigits: 1 }));
  return ctx.t("place.at", { sheet: title, x: mm[0] ?? "", y: mm[1] ?? "", z: mm[2] ?? "" });
}

/** A mark at a place that is not in the dossier yet. @param {Context} ctx */
function marker(ctx) {
  const drawing = svg("g", { class: "mark-place" }, svg("circle", { class: "halo", r: 9 }), svg("circle", { class: "line", r: 9 }), svg("circle", { class: "dot", r: 1.5 }));
  /** @type {Anchor | null} */
  let shown = null;
  const follow = () => {
    const at = shown?.position_m ? project(ctx.handle.projection(), shown.position_m) : null;
    drawing.style.display = at ? "" : "none";
    if (at) drawing.setAttribute("transform", `translate(${at[0]} ${at[1]})`);
  };
  return {
    /** @param {Anchor | null} anchor */
    show(anchor) {
      shown = anchor;
      if (anchor) {
        ctx.stage.marks.append(drawing);
        ctx.stage.framed.add(follow);
        follow();
      } else this.stop();
    },
    stop() {
      ctx.stage.framed.delete(follow);
      drawing.remove();
    },
  };
}
