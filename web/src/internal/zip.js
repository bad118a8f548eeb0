// @ts-check
/**
 * Reading a zip archive in memory (PKWARE APPNOTE.TXT, section 4.3): stored and
 * deflated entries. The whole list is looked through before anything is
 * unpacked; one harmful entry is enough to refuse the archive.
 */

/**
 * @typedef {object} Entry
 * @property {number} method 0 stored, 8 deflated
 * @property {number} crc32
 * @property {number} packed_bytes
 * @property {number} bytes unpacked
 * @property {number} header_at offset of its local header
 */

/** What an archive may hold; the same as for archives that the command opens, but that all of it must fit a page's memory. */
export const LIMITS = {
  entries: 100_000,
  /** One entry, unpacked: what one typed array of a page can hold with some room. */
  entry_bytes: 1 << 30,
  total_bytes: 16 * 2 ** 30,
  /** Unpacked to packed, of entries above `ratio_from_bytes`; DEFLATE reaches 1032. */
  ratio: 200,
  ratio_from_bytes: 16 << 20,
};

/** Why an archive is refused, in words for a person. */
export class ZipError extends Error {
  /** @param {string} message */
  constructor(message) {
    super(message);
    this.name = "ZipError";
  }
}

/** Signatures and sizes of the records, APPNOTE.TXT 4.3.7, 4.3.12, 4.3.16. */
export const LOCAL = { signature: 0x04034b50, bytes: 30 };
export const CENTRAL = { signature: 0x02014b50, bytes: 46 };
export const END = { signature: 0x06054b50, bytes: 22 };
/** Numbers that say that the true one stands in a record of Zip64 (4.4.1.4): one fewer is the most without it. */
export const ZIP64 = { entries: 0xffff, bytes: 0xffffffff };
/** Longest comment after the end record. */
const LONGEST_COMMENT = 0xffff;

/** @param {Uint8Array} bytes */
const viewOf = (bytes) => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** @param {DataView} data */
function endRecord(data) {
  const first = Math.max(0, data.byteLength - END.bytes - LONGEST_COMMENT);
  for (let at = data.byteLength - END.bytes; at >= first; at -= 1) {
    if (data.getUint32(at, true) === END.signature) return at;
  }
  throw new ZipError("It is not a whole zip file. Make or copy it again.");
}

/**
 * @param {Uint8Array} bytes the archive
 * @param {typeof LIMITS} [limits]
 * @returns {Map<string, Entry>} by path
 */
export function entriesOf(bytes, limits = LIMITS) {
  const data = viewOf(bytes);
  if (data.byteLength < END.bytes) throw new ZipError("It is not a whole zip file. Make or copy it again.");
  const end = endRecord(data);
  const count = data.getUint16(end + 10, true);
  let at = data.getUint32(end + 16, true);
  if (count === ZIP64.entries || at === ZIP64.bytes) throw new ZipError("It is larger than 4 GiB or has 65,535 entries or more; a browser cannot open it. Unpack it and open the folder.");
  /** @type {Map<string, Entry>} */
  const entries = new Map();
  let [total, packed_total] = [0, 0];
  for (let index = 0; index < Math.min(count, limits.entries); index += 1) {
    if (at + CENTRAL.bytes > end || data.getUint32(at, true) !== CENTRAL.signature) throw new ZipError("Its list of files is damaged. Make or copy it again.");
    const [name_bytes, extra_bytes, comment_bytes] = [28, 30, 32].map((offset) => data.getUint16(at + offset, true));
    const from = at + CENTRAL.bytes;
    const name = nameOf(bytes.subarray(from, from + Number(name_bytes)));
    const entry = {
      method: data.getUint16(at + 10, true), crc32: data.getUint32(at + 16, true),
      packed_bytes: data.getUint32(at + 20, true), bytes: data.getUint32(at + 24, true), header_at: data.getUint32(at + 42, true),
    };
    // Made on a Unix system (APPNOTE 4.4.2): the high half of the attributes is the mode.
    const mode = data.getUint16(at + 4, true) >> 8 === 3 ? data.getUint32(at + 38, true) >>> 16 : 0;
    const harm = harmOf(entry, { mode, encrypted: (data.getUint16(at + 8, true) & 1) === 1 }, limits);
    if (harm) throw new ZipError(`${name}: ${harm}`);
    total += entry.bytes;
    packed_total += entry.packed_bytes;
    if (!name.endsWith("/")) entries.set(name, entry);
    at = from + Number(name_bytes) + Number(extra_bytes) + Number(comment_bytes);
  }
  if (count > limits.entries) throw new ZipError("It has more than 100,000 entries.");
  if (total > limits.total_bytes) throw new ZipError("Unpacked it is larger than a browser can hold. Unpack it and open the folder.");
  // Entries that share packed bytes add up to more than the file (Fifield, "A better zip bomb", WOOT 2019).
  if (packed_total > bytes.length) throw new ZipError("Its entries overlap, as in a file made to fill a disk.");
  return belowTopFolder(entries);
}

/** File type bits of a Unix mode, and the type of a symbolic link (POSIX sys/stat.h, values from memory). */
const [TYPE_MASK, SYMBOLIC_LINK] = [0o170000, 0o120000];

/** @param {Entry} entry @param {{mode: number, encrypted: boolean}} about @param {typeof LIMITS} limits */
function harmOf(entry, { mode, encrypted }, limits) {
  if ((mode & TYPE_MASK) === SYMBOLIC_LINK) return "it is a symbolic link. Put the file itself into the archive.";
  if (encrypted) return "it is encrypted. Make the zip file without a password.";
  if (entry.method !== 0 && entry.method !== 8) return "it is packed by a method other than deflate. Make the zip file with the usual method.";
  if (entry.bytes > limits.entry_bytes) return "unpacked it is larger than a browser can hold. Unpack the archive and open the folder.";
  if (entry.bytes > limits.ratio_from_bytes && entry.bytes / limits.ratio > entry.packed_bytes) return "it unpacks to more than 200 times its size, as in a file made to fill a disk.";
  return null;
}

/** A path inside the archive; one that leads out of it is refused. @param {Uint8Array} raw */
function nameOf(raw) {
  const name = new TextDecoder().decode(raw);
  const parts = name.replace(/\/$/, "").split("/");
  const climbs = /^[a-z]:|[\\\0]/i.test(name) || parts.some((part) => part === "" || part === "." || part === "..");
  if (climbs) throw new ZipError(`${JSON.stringify(name)}: this name leads out of the archive. Do not unpack it; ask its sender for a clean one.`);
  return name;
}

/** A folder zipped from outside has everything in one top folder: take it off. @param {Map<string, Entry>} entries */
function belowTopFolder(entries) {
  if (entries.has("dossier.json")) return entries;
  const tops = [...entries.keys()].filter((path) => /^[^/]+\/dossier\.json$/.test(path));
  if (tops.length !== 1) return entries;
  const top = String(tops[0]).slice(0, -"dossier.json".length);
  return new Map([...entries].filter(([path]) => path.startsWith(top)).map(([path, entry]) => [path.slice(top.length), entry]));
}

/**
 * Unpacks one entry, and no further than it says it is large.
 * @param {Uint8Array} archive @param {Entry} entry @returns {Promise<Uint8Array>}
 */
export async function unpack(archive, entry) {
  const data = viewOf(archive);
  const { header_at } = entry;
  if (header_at + LOCAL.bytes > data.byteLength || data.getUint32(header_at, true) !== LOCAL.signature) throw new ZipError("Its place in the zip file is damaged. Make or copy the zip file again.");
  const from = header_at + LOCAL.bytes + data.getUint16(header_at + 26, true) + data.getUint16(header_at + 28, true);
  const packed = archive.subarray(from, from + entry.packed_bytes);
  const bytes = entry.method === 0 ? packed : await inflate(packed, entry.bytes);
  if (bytes.length !== entry.bytes || crc32(bytes) !== entry.crc32) throw new ZipError("It is damaged in the zip file. Make or copy the zip file again.");
  return bytes;
}

/** RFC 1951, by the browser. @param {Uint8Array} packed @param {number} length @returns {Promise<Uint8Array>} */
async function inflate(packed, length) {
  const bytes = new Uint8Array(length);
  let at = 0;
  const reader = new Blob([/** @type {BlobPart} */ (packed)]).stream().pipeThrough(new DecompressionStream("deflate-raw")).getReader();
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) break;
      if (at + value.length > length) throw new ZipError("It unpacks to more than it states. Make the zip file again.");
      bytes.set(value, at);
      at += value.length;
    }
  } catch (error) {
    await reader.cancel().catch(() => {});
    if (error instanceof ZipError) throw error;
    throw new ZipError("It is damaged in the zip file. Make or copy the zip file again.");
  }
  return bytes.subarray(0, at);
}

/** CRC-32 of ISO 3309, reflected polynomial 0xEDB88320 (APPNOTE 4.4.7). @type {Uint32Array | null} */
let table = null;

/** @param {Uint8Array} bytes */
export function crc32(bytes) {
  table ??= Uint32Array.from({ length: 256 }, (_, index) => {
    let value = index;
    for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? 0xedb88320 ^ (value >>> 1) : value >>> 1;
    return value;
  });
  let crc = 0xffffffff;
  for (const byte of bytes) crc = Number(table[(crc ^ byte) & 0xff]) ^ (crc >>> 8);
  return (crc ^ 0xffffffff) >>> 0;
}
