// @ts-check
/** What does not hold yet: every finding with its place and what would settle it. */
import { html, uniqueId } from "../dom.js";
import { isolated, sentenceOf } from "../errors.js";
import { LongList } from "../longlist.js";
import { findingEntry, standingEntry } from "./finding.js";
import { SEVERITIES, severityMark } from "./severity.js";
import { sentence } from "./told.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {import("../../types.d.ts").AuditResult} AuditResult */
/** @typedef {import("../../types.d.ts").Finding} Finding */

/**
 * @typedef {object} Memory of the page, so that coming back finds it as it was left
 * @property {number} changes after how many it was examined; -1: not yet
 * @property {Promise<AuditResult> | null} under_way
 * @property {AuditResult | null} result
 * @property {Set<string>} hidden severities
 * @property {string} rule only this one, or ""
 * @property {number} scroll
 */

/** @type {WeakMap<object, Memory>} */
const memories = new WeakMap();

/** @param {Context} ctx @returns {Memory} */
function memoryOf(ctx) {
  let memory = memories.get(ctx.handle);
  if (!memory) {
    memory = { changes: -1, under_way: null, result: null, hidden: new Set(), rule: "", scroll: 0 };
    memories.set(ctx.handle, memory);
  }
  return memory;
}

/** Examines the document once; asked again, it gives what it found. @param {Context} ctx @returns {Promise<AuditResult>} */
export function examine(ctx) {
  const memory = memoryOf(ctx);
  const changes = ctx.changes();
  if (memory.changes !== changes || !memory.under_way) {
    memory.changes = changes;
    memory.under_way = ctx.desk().then((desk) => desk.audit());
    memory.under_way.then((result) => {
      if (memory.changes === changes) memory.result = result;
    }, () => {
      if (memory.changes === changes) memory.under_way = null;
    });
  }
  return memory.under_way;
}

/** @param {Context} ctx @returns {import("../context.js").Panel} */
export function audit(ctx) {
  const { t } = ctx;
  const memory = memoryOf(ctx);
  const status = html("p", { class: "remark", role: "status" });
  const body = html("div", { class: "findings" });
  const element = html("article", { class: "audit" }, html("h2", { tabindex: -1 }, t("page.audit")), status, body);
  const leave = () => {
    if (element.isConnected) memory.scroll = scrollerOf(element)?.scrollTop ?? 0;
  };
  element.addEventListener("click", leave, true);
  const run = () => {
    const known = memory.changes === ctx.changes() && memory.result;
    status.textContent = known ? "" : t(memory.result ? "audit.again" : "audit.running");
    status.hidden = Boolean(known);
    if (memory.result) body.replaceChildren(...found(ctx, memory, memory.result));
    examine(ctx).then((result) => {
      if (known || ctx.signal.aborted || memory.changes !== ctx.changes()) return;
      status.textContent = t("audit.done", { count: result.findings.length });
      body.replaceChildren(...found(ctx, memory, result));
    }, (error) => {
      status.textContent = t("audit.failed", { detail: isolated(sentenceOf(error)) });
      status.hidden = false;
      body.replaceChildren(html("button", { class: "action", type: "button", onclick: run }, t("error.again")));
    });
  };
  run();
  const scroll = memory.scroll;
  if (scroll > 0) requestAnimationFrame(() => scrollerOf(element)?.scrollTo(0, scroll));
  return { element };
}

/** @param {HTMLElement} element @returns {HTMLElement | null} */
const scrollerOf = (element) => element.closest("[data-scrolls]");

/** @param {Context} ctx @param {Memory} memory @param {AuditResult} result @returns {Node[]} */
function found(ctx, memory, result) {
  const { t } = ctx;
  /** @type {({heading: string, count: number} | {finding: Finding})[]} */
  let rows = [];
  const list = new LongList({
    label: t("audit.list"),
    guess: (index) => (rows[index] && "heading" in rows[index] ? 52 : 176),
    render: (index) => {
      const row = rows[index];
      if (!row) return html("div");
      return "heading" in row ? heading(ctx, row.heading, row.count) : findingEntry(ctx, row.finding);
    },
  });
  const none = html("p", { class: "prose" });
  const refresh = () => {
    const shown = result.findings.filter(({ severity, rule }) => !memory.hidden.has(severity) && (memory.rule === "" || rule === memory.rule));
    rows = SEVERITIES.flatMap((severity) => {
      const group = shown.filter((finding) => finding.severity === severity);
      return group.length === 0 ? [] : [{ heading: severity, count: group.length }, ...group.map((finding) => ({ finding }))];
    });
    list.show(rows.length);
    none.hidden = shown.length > 0;
    none.textContent = t(result.findings.length === 0 ? "audit.nothing" : "audit.filtered");
  };
  refresh();
  return [
    filters(ctx, memory, result, refresh), none, list.element,
    ...more(t("audit.set_aside", { count: result.set_aside.length }), result.set_aside.map((standing) => standingEntry(ctx, standing))),
    ...more(t("audit.not_examined", { count: result.not_examined.length }), result.not_examined.map((told) => html("p", { class: "note" }, sentence(ctx, told)))),
  ];
}

/** @param {string} title @param {Node[]} entries */
function more(title, entries) {
  if (entries.length === 0) return [];
  return [html("details", { class: "more" }, html("summary", {}, title), html("ul", {}, entries.map((entry) => html("li", {}, entry))))];
}

/** @param {Context} ctx @param {string} severity @param {number} count */
function heading(ctx, severity, count) {
  return html("h3", {}, html("span", { class: "with-mark" }, severityMark(severity), ctx.t(`severity.${severity}`)), html("span", { class: "count" }, ctx.t("count.findings", { count })));
}

/** @param {Context} ctx @param {Memory} memory @param {AuditResult} result @param {() => void} changed */
function filters(ctx, memory, result, changed) {
  const { t, language } = ctx;
  const boxes = SEVERITIES.map((severity) => {
    const count = result.findings.filter((finding) => finding.severity === severity).length;
    const box = html("input", { type: "checkbox", checked: !memory.hidden.has(severity), disabled: count === 0 });
    box.addEventListener("change", () => {
      if (box.checked) memory.hidden.delete(severity);
      else memory.hidden.add(severity);
      changed();
    });
    return html("label", { class: "tally" }, box, severityMark(severity), html("span", {}, `${count.toLocaleString(language)} ${t(`severity.${severity}`)}`));
  });
  /** @type {Map<string, number>} */
  const rules = new Map();
  for (const { rule } of result.findings) rules.set(rule, (rules.get(rule) ?? 0) + 1);
  if (!rules.has(memory.rule)) memory.rule = "";
  const id = uniqueId("rule");
  const select = html("select", { id }, html("option", { value: "" }, t("audit.every_rule")),
    [...rules].sort(([a], [b]) => a.localeCompare(b)).map(([rule, count]) => html("option", { value: rule }, `${ruleName(ctx, rule)} (${count.toLocaleString(language)})`)));
  select.value = memory.rule;
  select.addEventListener("change", () => {
    memory.rule = select.value;
    changed();
  });
  return html("div", { class: "filters" },
    html("fieldset", {}, html("legend", { class: "unseen" }, t("audit.severities")), boxes),
    rules.size > 1 && html("label", { class: "field", for: id }, html("span", {}, t("audit.rule")), select));
}

/** A rule in words, where the page has them; else its id. @param {Context} ctx @param {string} rule */
export function ruleName(ctx, rule) {
  const words = ctx.t(`rule.${rule}`);
  return words === `rule.${rule}` ? rule : words;
}

