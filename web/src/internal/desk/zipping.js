// @ts-check
/**
 * Writing a zip archive (PKWARE APPNOTE.TXT, section 4.3) whose entries are stored as they are: pictures
 * and surfaces are packed already. It grows as parts of a Blob, which a browser need not keep in memory.
 */
import { CENTRAL, END, LOCAL, ZIP64, ZipError, crc32 } from "../zip.js";

/** The most without Zip64, which many programs do not read. */
const [MOST_BYTES, MOST_ENTRIES] = [ZIP64.bytes - 1, ZIP64.entries - 1];
/** Version 2.0 (4.4.3) suffices for folders in names; bit 11 of the flags: names are UTF-8 (4.4.4). */
const [VERSION, UTF8] = [20, 0x0800];
/** Time of day and date of every entry (4.4.6): the first of January 1980, so that the same files give the same archive. */
const [TIME, DATE] = [0, 0x0021];

export class ZipWriter {
  /** @type {Blob[]} */
  #parts = [];
  /** @type {Uint8Array[]} */
  #central = [];
  #at = 0;
  #central_bytes = 0;
  #count = 0;

  /** @param {string} path @param {Uint8Array} bytes */
  add(path, bytes) {
    const name = new TextEncoder().encode(path);
    const common = fields(26, [[0, VERSION], [2, UTF8], [4, 0], [6, TIME], [8, DATE]], [[10, crc32(bytes)], [14, bytes.length], [18, bytes.length]]);
    new DataView(common.buffer).setUint16(22, name.length, true);
    const local = joined([fields(4, [], [[0, LOCAL.signature]]), common, name]);
    const central = joined([fields(6, [[4, VERSION]], [[0, CENTRAL.signature]]), common, fields(14, [], [[10, this.#at]]), name]);
    const after = this.#at + local.length + bytes.length;
    if (after + this.#central_bytes + central.length + END.bytes > MOST_BYTES || this.#count >= MOST_ENTRIES) {
      throw new ZipError("The zip file would be larger than 4 GiB or have more than 65,534 files. Open the dossier with `ganosis open PATH --edit` and save it there.");
    }
    this.#parts.push(new Blob([/** @type {BlobPart} */ (local), /** @type {BlobPart} */ (bytes)]));
    this.#central.push(central);
    this.#central_bytes += central.length;
    this.#at = after;
    this.#count += 1;
  }

  /** @returns {Blob} */
  finish() {
    const end = fields(END.bytes, [[8, this.#count], [10, this.#count]], [[0, END.signature], [12, this.#central_bytes], [16, this.#at]]);
    return new Blob([...this.#parts, .../** @type {BlobPart[]} */ (this.#central), /** @type {BlobPart} */ (end)], { type: "application/zip" });
  }
}

/** A record of `length` bytes with numbers of two and of four bytes at their places. @param {number} length @param {[number, number][]} short @param {[number, number][]} long */
function fields(length, short, long) {
  const bytes = new Uint8Array(length);
  const data = new DataView(bytes.buffer);
  for (const [at, value] of short) data.setUint16(at, value, true);
  for (const [at, value] of long) data.setUint32(at, value, true);
  return bytes;
}

/** @param {Uint8Array[]} parts */
function joined(parts) {
  const bytes = new Uint8Array(parts.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}
