import test from "node:test";
import assert from "node:assert/strict";
import { crc32, deflateRawSync } from "node:zlib";
import { LIMITS, entriesOf, unpack } from "../src/internal/zip.js";

// Archives written by Python 3's `zipfile`, each under 600 bytes, as base64.
const ARCHIVES = {
  "good": "UEsDBBQAAAAAAIIYIlwAAAAAAAAAAAAAAAAFAAAAYm9zcy9QSwMEFAAAAAgAghgiXLHZmbw9AAAArAAAABEAAABib3NzL2Rvc3NpZXIuanNvbqtWSssvyk0sUbJSUEpPzMsvzizWTckvLs5MLdI3VNJRUCrJLMlJBckGJ+bk5JfnphalKiQBFSjQm69UCwBQSwMEFAAAAAAAghgiXHsHlwoIAAAACAAAABYAAABib3NzL2xheWVycy9zdG9yZWQuY3N2YSxiCjEsMgpQSwECFAMUAAAAAACCGCJcAAAAAAAAAAAAAAAABQAAAAAAAAAAAAAA7UEAAAAAYm9zcy9QSwECFAMUAAAACACCGCJcsdmZvD0AAACsAAAAEQAAAAAAAAAAAAAApIEjAAAAYm9zcy9kb3NzaWVyLmpzb25QSwECFAMUAAAAAACCGCJceweXCggAAAAIAAAAFgAAAAAAAAAAAAAApIGPAAAAYm9zcy9sYXllcnMvc3RvcmVkLmNzdlBLBQYAAAAAAwADALYAAADLAAAAAAA=",
  "climb": "UEsDBBQAAAAIAIIYIlyDFtyMAwAAAAEAAAALAAAALi4vZXZpbC50eHSrAABQSwECFAMUAAAACACCGCJcgxbcjAMAAAABAAAACwAAAAAAAAAAAAAApIEAAAAALi4vZXZpbC50eHRQSwUGAAAAAAEAAQA5AAAALAAAAAAA",
  "link": "UEsDBBQAAAAAAIIYIlwKuR8pCwAAAAsAAAAMAAAAZG9zc2llci5qc29uL2V0Yy9wYXNzd2RQSwECFAMUAAAAAACCGCJcCrkfKQsAAAALAAAADAAAAAAAAAAAAAAA/6EAAAAAZG9zc2llci5qc29uUEsFBgAAAAABAAEAOgAAADUAAAAAAA==",
  "lzma": "UEsDBD8AAgAOAIIYIlwDimKsFgAAADIAAAAMAAAAZG9zc2llci5qc29uCQQFAF0AAIAAADxuOwf/////gAAAAFBLAQI/Az8AAgAOAIIYIlwDimKsFgAAADIAAAAMAAAAAAAAAAAAAACkgQAAAABkb3NzaWVyLmpzb25QSwUGAAAAAAEAAQA6AAAAQAAAAAAA"
};
const archive = (name) => new Uint8Array(Buffer.from(ARCHIVES[name], "base64"));

test("entries come out as they went in, without the top folder", async () => {
  const bytes = archive("good");
  const entries = entriesOf(bytes);
  assert.deepEqual([...entries.keys()], ["dossier.json", "layers/stored.csv"]);
  const text = async (path) => new TextDecoder().decode(await unpack(bytes, entries.get(path)));
  assert.equal(await text("layers/stored.csv"), "a,b\n1,2\n");
  assert.equal(JSON.parse(await text("dossier.json")).title, "Sallowmere boss ".repeat(8));
});

test("harmful archives are refused before anything is unpacked", () => {
  assert.throws(() => entriesOf(archive("climb")), /leads out of the archive/);
  assert.throws(() => entriesOf(archive("link")), /symbolic link/);
  assert.throws(() => entriesOf(archive("lzma")), /method other than deflate/);
  const flagged = archive("good");
  const central = Buffer.from(flagged.buffer).lastIndexOf(Buffer.from([0x50, 0x4b, 1, 2]));
  flagged[central + 8] |= 1;
  assert.throws(() => entriesOf(flagged), /encrypted/);
});

test("sizes that are absurd or lie are refused", async () => {
  const limits = { ...LIMITS, ratio_from_bytes: 10, ratio: 2 };
  assert.throws(() => entriesOf(archive("good"), limits), /fill a disk/);
  assert.throws(() => entriesOf(archive("good"), { ...LIMITS, entries: 1 }), /entries/);
  assert.throws(() => entriesOf(archive("good"), { ...LIMITS, total_bytes: 100 }), /larger than a browser can hold/);
  const bytes = archive("good");
  const entry = entriesOf(bytes).get("dossier.json");
  await assert.rejects(unpack(bytes, { ...entry, bytes: 20 }), /more than it states/);
  await assert.rejects(unpack(bytes, { ...entry, crc32: 1 }), /damaged/);
});

test("any archive cut short or changed gives an error in words, never another", async () => {
  const bytes = archive("good");
  for (let length = 0; length < bytes.length; length += 1) assert.throws(() => entriesOf(bytes.subarray(0, length)), { name: "ZipError" });
  for (let at = 0; at < bytes.length; at += 1) {
    const changed = bytes.slice();
    changed[at] ^= 0x41;
    try {
      for (const entry of entriesOf(changed).values()) await unpack(changed, entry);
    } catch (error) {
      assert.equal(error.name, "ZipError", `byte ${at}: ${error.stack}`);
    }
  }
});

test("a long entry of many blocks is joined whole", async () => {
  const long = Buffer.from(Array.from({ length: 300_000 }, (_, index) => (index * 7919) % 251));
  const packed = deflateRawSync(long);
  const header = Buffer.alloc(30);
  header.writeUInt32LE(0x04034b50);
  const entry = { method: 8, crc32: 0, packed_bytes: packed.length, bytes: long.length, header_at: 0 };
  const out = await unpack(new Uint8Array(Buffer.concat([header, packed])), { ...entry, crc32: crc32(long) });
  assert.deepEqual(Buffer.from(out), long);
});
