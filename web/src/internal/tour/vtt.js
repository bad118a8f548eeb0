// @ts-check
/**
 * Reading captions (WebVTT: The Web Video Text Tracks Format, W3C, section 4): times and words. Places on a
 * picture, styles and notes are left out, since these captions stand beside one. No DOM here.
 */

/** @typedef {{start_s: number, end_s: number, text: string}} Cue */

const ARROW = /^((?:\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3})[ \t]*-->[ \t]*((?:\d{2,}:)?[0-5]\d:[0-5]\d\.\d{3})(?:[ \t]|$)/;
/** Character references that the format names (section 4.2.2). @type {Record<string, string>} */
const NAMED = { amp: "&", lt: "<", gt: ">", nbsp: "\u00a0", lrm: "\u200e", rlm: "\u200f" };

/** @param {string} text @returns {Cue[] | null} null: no WebVTT file */
export function parseVtt(text) {
  const source = text.replace(/^\uFEFF/, "").replace(/\r\n?/g, "\n");
  if (!/^WEBVTT(?:[ \t\n]|$)/.test(source)) return null;
  /** @type {Cue[]} */
  const cues = [];
  for (const block of source.split(/\n{2,}/).slice(1)) {
    const lines = block.split("\n").filter((line, index, all) => line !== "" || index < all.length - 1);
    const at = lines.findIndex((line) => line.includes("-->"));
    // A cue may have one line before its times: its name.
    if (at < 0 || at > 1) continue;
    const times = ARROW.exec(String(lines[at]));
    if (!times) continue;
    cues.push({ start_s: seconds(String(times[1])), end_s: seconds(String(times[2])), text: plain(lines.slice(at + 1).join("\n")) });
  }
  return cues.sort((a, b) => a.start_s - b.start_s);
}

/** @param {string} time */
const seconds = (time) => time.split(":").reduce((sum, part) => sum * 60 + Number(part), 0);

/** Without tags (`<v Name>`, `<i>`, `<00:01.000>`). @param {string} text */
function plain(text) {
  return text.replace(/<[^>]*>/g, "").replace(/&(\w+);/g, (whole, name) => NAMED[name] ?? whole).trim();
}

/** What is said at a time. @param {readonly Cue[]} cues @param {number} at_s */
export const saidAt = (cues, at_s) => cues.filter(({ start_s, end_s }) => start_s <= at_s && at_s < end_s).map(({ text }) => text).join("\n");
