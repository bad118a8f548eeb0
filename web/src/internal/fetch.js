// @ts-check
/** Fetching with progress by bytes and a limit on silence. */
import { ViewerError, isAbort } from "./errors.js";

/** After so long without a byte a person should be told; chosen, no source. The attribute `patience` says otherwise. */
export const STALL_MS = 25_000;

/**
 * @callback Progress
 * @param {number} received_bytes
 * @param {number | null} total_bytes null: the server did not say
 */

/**
 * @param {string} address
 * @param {object} options
 * @param {AbortSignal} options.signal ends the download when the element goes
 * @param {string} options.file how the file is named to the person
 * @param {Progress | undefined} [options.progress]
 * @param {number | undefined} [options.stall_ms]
 * @returns {Promise<Uint8Array>}
 */
export async function fetchBytes(address, { signal, file, progress, stall_ms = STALL_MS }) {
  const silence = new AbortController();
  let timer = setTimeout(() => silence.abort(), stall_ms);
  const heard = () => {
    clearTimeout(timer);
    timer = setTimeout(() => silence.abort(), stall_ms);
  };
  try {
    const response = await fetch(address, { signal: AbortSignal.any([signal, silence.signal]) });
    heard();
    if (!response.ok) {
      throw new ViewerError({ key: response.status === 404 ? "missing" : "refused", file, detail: "", values: { status: String(response.status) } });
    }
    return await collect(response, heard, progress);
  } catch (error) {
    if (error instanceof ViewerError) throw error;
    if (silence.signal.aborted && !signal.aborted) {
      throw new ViewerError({ key: "stalled", file, detail: "", values: { seconds: Math.round(stall_ms / 1000) } });
    }
    if (isAbort(error) || signal.aborted) throw error;
    throw new ViewerError({ key: "network", file, detail: error instanceof Error ? error.message : "" });
  } finally {
    clearTimeout(timer);
  }
}

/** @param {Response} response @param {() => void} heard @param {Progress | undefined} progress */
async function collect(response, heard, progress) {
  const total = totalBytes(response);
  const reader = response.body?.getReader();
  if (!reader) return new Uint8Array(await response.arrayBuffer());
  /** @type {Uint8Array[]} */
  const chunks = [];
  let received = 0;
  progress?.(0, total);
  for (;;) {
    const { done, value } = await reader.read();
    heard();
    if (done) break;
    chunks.push(value);
    received += value.length;
    progress?.(received, total);
  }
  const bytes = new Uint8Array(received);
  let at = 0;
  for (const chunk of chunks) {
    bytes.set(chunk, at);
    at += chunk.length;
  }
  return bytes;
}

/**
 * With a content encoding the header counts compressed bytes but the reader
 * gives decoded ones, so the total is then unknown.
 * @param {Response} response
 */
export function totalBytes(response) {
  const length = Number(response.headers.get("content-length"));
  return length > 0 && !response.headers.get("content-encoding") ? length : null;
}
