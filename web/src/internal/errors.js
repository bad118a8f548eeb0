// @ts-check
/** What went wrong, where, and what to do: told so that a curator can act on it. */

/**
 * @typedef {object} Trouble
 * @property {string} key message key of what happened (`error.<key>`), with `error.<key>.todo` beside it
 * @property {string} file which file, or ""
 * @property {string} detail what the viewer or the server said, or ""
 * @property {Record<string, string | number>} [values] for the messages
 */

export class ViewerError extends Error {
  /** @param {Trouble} trouble */
  constructor(trouble) {
    super(trouble.detail || trouble.key);
    this.name = "ViewerError";
    this.trouble = trouble;
  }
}

/**
 * @param {unknown} error
 * @param {string} key used when the error does not say itself
 * @param {string} file
 * @returns {Trouble}
 */
export function troubleOf(error, key, file) {
  if (error instanceof ViewerError) return error.trouble;
  const detail = sentenceOf(error);
  // The viewer begins with the file that it found wrong, which need not be the one just brought.
  const named = /^([^:\s]+\.(?:json|gltf|glb)): (.+)$/s.exec(detail);
  return named ? { key, file: String(named[1]), detail: String(named[2]) } : { key, file, detail };
}

/** What an error says. @param {unknown} error */
export function sentenceOf(error) {
  return error instanceof Error ? error.message : String(error ?? "");
}

/** The words of a program within a sentence of any language, whichever way each runs (Unicode UAX #9: FSI and PDI). @param {string} words */
export function isolated(words) {
  return `\u2068${words}\u2069`;
}

/** @param {unknown} error */
export function isAbort(error) {
  return error instanceof DOMException && error.name === "AbortError";
}
