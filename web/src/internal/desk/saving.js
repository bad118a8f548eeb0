// @ts-check
/** Where an edited dossier goes: to the server that it came from. */
import { isAbort } from "../errors.js";

/** @typedef {{editable: boolean, revision?: number, token_needed?: boolean, token_accepted?: boolean, why?: string, largest_document_bytes?: number, largest_file_bytes?: number, file_types?: string[]}} About what a server says of editing */

/** Why something was not saved, in a sentence for people; nothing has changed then. */
export class SaveRefused extends Error {
  /**
   * @param {string} message
   * @param {object} more
   * @param {number} more.status of HTTP; 0: the server was not reached
   * @param {number} [more.revision] that somebody else has saved
   * @param {string} [more.free] a name that is not taken
   * @param {unknown} [more.findings]
   */
  constructor(message, { status, revision, free, findings }) {
    super(message);
    this.name = "SaveRefused";
    this.status = status;
    this.revision = revision ?? null;
    this.free = free ?? null;
    this.findings = findings ?? null;
  }

  /** Somebody else has saved meanwhile. */
  get conflict() {
    return this.status === 412;
  }
}

/** What is kept of a token when a browser keeps nothing for the tab. @type {Map<string, string>} */
const kept = new Map();

/**
 * The token for writing. It stands after `#` in the address once, and is then kept for this tab alone:
 * an address that is sent on does not give it away.
 * @param {string} folder of the dossier @returns {string | null}
 */
export function tokenFor(folder) {
  if (new URL(folder).origin !== location.origin) return null;
  const name = `ganosis token ${folder}`;
  const told = /(?:^#|&)token=([^&]*)/.exec(location.hash)?.[1];
  if (told) {
    const token = decodeURIComponent(told);
    kept.set(name, token);
    try {
      sessionStorage.setItem(name, token);
    } catch {
      // Kept until the page is loaded again.
    }
    const rest = location.hash.slice(1).split("&").filter((part) => !part.startsWith("token=")).join("&");
    history.replaceState(history.state, "", rest ? `#${rest}` : location.pathname + location.search);
  }
  try {
    return kept.get(name) ?? sessionStorage.getItem(name);
  } catch {
    return kept.get(name) ?? null;
  }
}

/** The server that the dossier came from. */
export class Server {
  /**
   * @param {string} folder address, which ends with a slash
   * @param {object} [options]
   * @param {string | null} [options.token]
   * @param {typeof globalThis.fetch} [options.fetch]
   */
  constructor(folder, { token = null, fetch = (...request) => globalThis.fetch(...request) } = {}) {
    this.folder = folder;
    this.fetch = fetch;
    /** @type {Record<string, string>} */
    this.proof = token ? { authorization: `Bearer ${token}` } : {};
  }

  /** Whether this server takes changes; null: it is none of ours. @param {AbortSignal} [signal] @returns {Promise<About | null>} */
  async about(signal) {
    try {
      const response = await this.fetch(new URL("edit", this.folder).href, { headers: this.proof, ...(signal && { signal }) });
      if (!response.ok || !response.headers.get("content-type")?.startsWith("application/json")) return null;
      const about = await response.json();
      return typeof about?.editable === "boolean" ? about : null;
    } catch {
      return null;
    }
  }

  /** True if a file of this name is there. @param {string} path */
  async has(path) {
    try {
      return (await this.fetch(this.#at(path), { method: "HEAD" })).ok;
    } catch {
      return false;
    }
  }

  /**
   * Writes a file, under another name where this one is taken.
   * @param {string} path @param {Uint8Array} bytes @returns {Promise<string>} its name
   */
  async put_file(path, bytes) {
    let name = path;
    // A name that was free a moment ago may be taken by the next.
    for (let tries = 0; ; tries += 1) {
      try {
        await this.#put(`files/${name}`, /** @type {BodyInit} */ (bytes), { "content-type": "application/octet-stream" });
        return name;
      } catch (error) {
        if (!(error instanceof SaveRefused) || error.status !== 409 || !error.free || tries >= 4) throw error;
        name = error.free;
      }
    }
  }

  /** @param {string} text of `dossier.json` @param {number} revision that it was made from @returns {Promise<number>} the revision it is now */
  async put_document(text, revision) {
    const { revision: now } = await this.#put("dossier.json", text, { "content-type": "application/json", "if-match": `"${revision}"` });
    return Number(now);
  }

  /** @param {string} path */
  #at(path) {
    return new URL(path.split("/").map(encodeURIComponent).join("/"), this.folder).href;
  }

  /** @param {string} path @param {BodyInit} body @param {Record<string, string>} headers @returns {Promise<any>} */
  async #put(path, body, headers) {
    /** @type {Response} */
    let response;
    try {
      response = await this.fetch(this.#at(path), { method: "PUT", body, headers: { ...headers, ...this.proof } });
    } catch (error) {
      if (isAbort(error)) throw error;
      throw new SaveRefused("The server could not be reached. Nothing is lost: see that it runs, and save again.", { status: 0 });
    }
    const said = await response.json().catch(() => ({}));
    if (response.ok) return said;
    throw new SaveRefused(said.error ?? `The server refused this (HTTP ${response.status}). Save again, or download the dossier.`, { ...said, status: response.status });
  }
}
