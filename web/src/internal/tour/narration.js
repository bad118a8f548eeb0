// @ts-check
/**
 * The narration of a stop: `narration` of a saved view maps language tags to `{audio, captions}`, files
 * beside the dossier; either may be missing, and nothing is said by sound alone.
 */
import { bestLanguage } from "../i18n.js";
import { parseVtt, saidAt } from "./vtt.js";

/** @typedef {import("../context.js").Context} Context */
/** @typedef {{audio?: string, captions?: string}} Recording */

/** @param {import("../../types.d.ts").SavedView} view @param {readonly string[]} languages @returns {{language: string, recording: Recording} | null} */
export function recordingOf(view, languages) {
  const all = view.narration ?? {};
  const tags = Object.keys(all);
  if (tags.length === 0) return null;
  const language = bestLanguage(languages, tags);
  const recording = all[language];
  return recording ? { language, recording } : null;
}

/** @param {Context} ctx @param {Recording} recording @returns {Promise<import("./vtt.js").Cue[]>} */
export async function cuesOf(ctx, { captions }) {
  if (!captions) return [];
  const bytes = await ctx.source.read(captions, { signal: ctx.signal }).catch(() => null);
  return (bytes && parseVtt(new TextDecoder().decode(bytes))) ?? [];
}

const MEDIA_TYPES = { mp3: "audio/mpeg", m4a: "audio/mp4", ogg: "audio/ogg", oga: "audio/ogg", opus: "audio/ogg", wav: "audio/wav", flac: "audio/flac", webm: "audio/webm" };

/**
 * A voice that tells its captions as they come.
 * @param {Context} ctx @param {Recording} recording @param {(said: string) => void} caption
 * @returns {Promise<import("./player.js").Voice | null>}
 */
export async function voiceOf(ctx, recording, caption) {
  const { audio: file } = recording;
  if (!file) return null;
  const [bytes, cues] = await Promise.all([ctx.source.read(file, { signal: ctx.signal }), cuesOf(ctx, recording)]);
  const end = /** @type {keyof typeof MEDIA_TYPES} */ (file.split(".").pop()?.toLowerCase() ?? "");
  const address = URL.createObjectURL(new Blob([/** @type {BlobPart} */ (bytes)], { type: MEDIA_TYPES[end] ?? "" }));
  const audio = new Audio(address);
  audio.addEventListener("timeupdate", () => caption(saidAt(cues, audio.currentTime)));
  /** @type {Promise<void>} */
  const ended = new Promise((done) => {
    for (const event of ["ended", "error"]) audio.addEventListener(event, () => done());
  });
  return {
    ended,
    // A browser that lets nothing sound by itself shows the words all the same.
    play: () => void audio.play().catch(() => {}),
    pause: () => audio.pause(),
    speed: (speed) => { audio.playbackRate = speed; },
    close() {
      audio.pause();
      audio.removeAttribute("src");
      URL.revokeObjectURL(address);
      caption("");
    },
  };
}
