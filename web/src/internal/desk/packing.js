// @ts-check
/** An edited dossier as a zip for the person, where no server takes changes. */
import { ZipWriter } from "./zipping.js";

/** @typedef {import("../source.js").Source} Source */

/**
 * The whole dossier as a zip, as edited.
 * @param {object} options
 * @param {Source} options.source
 * @param {string[]} options.files that the document names
 * @param {string} options.text of the document
 * @param {import("./types.d.ts").MapFile[]} options.maps
 * @param {AbortSignal} options.signal
 * @param {(done: number, all: number) => void} [options.progress] in files
 * @returns {Promise<{zip: Blob, missing: string[]}>} `missing` were not to be had before either
 */
export async function zipped({ source, files, text, maps, signal, progress }) {
  const written = new Set(["dossier.json", ...maps.map(({ path }) => path)]);
  const others = [...new Set([...(source.list() ?? []), ...files])].filter((path) => !written.has(path)).sort();
  const writer = new ZipWriter();
  writer.add("dossier.json", new TextEncoder().encode(text));
  for (const { path, bytes } of maps) writer.add(path, bytes);
  /** @type {string[]} */
  const missing = [];
  for (const [done, path] of others.entries()) {
    progress?.(done, others.length);
    try {
      writer.add(path, await source.read(path, { signal }));
    } catch (error) {
      if (/** @type {any} */ (error)?.trouble?.key !== "missing") throw error;
      missing.push(path);
    }
  }
  return { zip: writer.finish(), missing };
}
