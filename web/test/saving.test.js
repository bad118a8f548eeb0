// Zip archives that are written, and what a server's answers come to.
import test from "node:test";
import assert from "node:assert/strict";
import { crc32 } from "node:zlib";
import { ZipWriter } from "../src/internal/desk/zipping.js";
import { zipped } from "../src/internal/desk/packing.js";
import { SaveRefused, Server } from "../src/internal/desk/saving.js";
import { entriesOf, unpack } from "../src/internal/zip.js";

const bytes = (text) => new TextEncoder().encode(text);
const whole = async (blob) => new Uint8Array(await blob.arrayBuffer());

test("an archive has the fields that APPNOTE.TXT 4.3 asks for, and its entries as they were", async () => {
  const writer = new ZipWriter();
  const files = { "dossier.json": bytes('{"a":1}'), "layers/ä.png": new Uint8Array(70_000).map((_, i) => i * 7), "empty.csv": new Uint8Array(0) };
  for (const [path, content] of Object.entries(files)) writer.add(path, content);
  const archive = await whole(writer.finish());
  const data = new DataView(archive.buffer);
  const end = archive.length - 22;
  assert.equal(data.getUint32(end, true), 0x06054b50);
  assert.deepEqual([data.getUint16(end + 8, true), data.getUint16(end + 10, true)], [3, 3]);
  let at = data.getUint32(end + 16, true);
  assert.equal(at + data.getUint32(end + 12, true), end, "the directory ends where the end record begins");
  for (const [path, content] of Object.entries(files)) {
    assert.equal(data.getUint32(at, true), 0x02014b50);
    const [flags, method] = [data.getUint16(at + 8, true), data.getUint16(at + 10, true)];
    assert.deepEqual([flags, method], [0x0800, 0]);
    assert.equal(data.getUint32(at + 16, true), crc32(content));
    assert.deepEqual([data.getUint32(at + 20, true), data.getUint32(at + 24, true)], [content.length, content.length]);
    const local = data.getUint32(at + 42, true);
    assert.equal(data.getUint32(local, true), 0x04034b50);
    const name = bytes(path);
    assert.deepEqual([...archive.subarray(local + 30, local + 30 + name.length)], [...name]);
    assert.deepEqual(Buffer.compare(archive.subarray(local + 30 + name.length, local + 30 + name.length + content.length), content), 0);
    at += 46 + name.length;
  }
  const entries = entriesOf(archive);
  for (const [path, content] of Object.entries(files)) assert.deepEqual(await unpack(archive, entries.get(path)), content);
});

test("an archive beyond what its fields can hold is refused", () => {
  const writer = new ZipWriter();
  const nothing = new Uint8Array(0);
  for (let i = 0; i < 0xfffe; i += 1) writer.add(String(i), nothing);
  assert.throws(() => writer.add("one more", nothing), /65,534 files|4 GiB/);
});

test("a zip of a dossier holds the edited document, the drawn map and all else as it was", async () => {
  const missing = Object.assign(new Error("missing"), { trouble: { key: "missing" } });
  const source = {
    list: () => null,
    read: async (path) => {
      if (path === "gone.csv") throw missing;
      return bytes(`content of ${path}`);
    },
  };
  const { zip, missing: gone } = await zipped({
    source, files: ["a.glb", "gone.csv", "regions/x-r8.png"], text: '{"revision":8}',
    maps: [{ sheet: "x", path: "regions/x-r8.png", bytes: bytes("drawn") }], signal: new AbortController().signal,
  });
  const archive = await whole(zip);
  const entries = entriesOf(archive);
  const text = async (path) => new TextDecoder().decode(await unpack(archive, entries.get(path)));
  assert.deepEqual([...entries.keys()], ["dossier.json", "regions/x-r8.png", "a.glb"]);
  assert.equal(await text("regions/x-r8.png"), "drawn");
  assert.equal(await text("dossier.json"), '{"revision":8}');
  assert.equal(await text("a.glb"), "content of a.glb");
  assert.deepEqual(gone, ["gone.csv"]);
  const broken = { ...source, read: async () => { throw new Error("network"); } };
  await assert.rejects(zipped({ source: broken, files: ["a.glb"], text: "{}", maps: [], signal: new AbortController().signal }), /network/);
});

/** A server that gives the answers laid out for it, and notes what it was asked. */
function server(answers, token = null) {
  const asked = [];
  const fetch = async (address, { method = "GET", headers = {}, body } = {}) => {
    asked.push({ method, path: address.replace("http://127.0.0.1/dossier/", ""), headers, body });
    const answer = answers.shift();
    if (answer instanceof Error) throw answer;
    const [status, said, type = "application/json"] = answer;
    return new Response(typeof said === "string" ? said : JSON.stringify(said), { status, headers: { "content-type": type } });
  };
  return { asked, made: new Server("http://127.0.0.1/dossier/", { token, fetch }) };
}

test("what a server says of editing is heard, and another server is known by its silence", async () => {
  const mine = server([[200, { editable: true, revision: 7 }]], "T");
  assert.deepEqual(await mine.made.about(), { editable: true, revision: 7 });
  assert.equal(mine.asked[0].path, "edit");
  assert.equal(mine.asked[0].headers.authorization, "Bearer T");
  for (const answer of [[404, "no"], [200, "<html>", "text/html"], [200, { other: 1 }], [200, "{", "application/json"], new TypeError("network")]) {
    assert.equal(await server([answer]).made.about(), null);
  }
});

test("a file goes under a free name where its own is taken", async () => {
  const { made, asked } = server([[409, { error: "taken", free: "regions/a-2.png" }], [201, { file: "regions/a-2.png" }]]);
  assert.equal(await made.put_file("regions/a b.png", bytes("x")), "regions/a-2.png");
  assert.deepEqual(asked.map(({ method, path }) => [method, path]), [["PUT", "files/regions/a%20b.png"], ["PUT", "files/regions/a-2.png"]]);
  await assert.rejects(server([[409, { error: "the document has wrong values" }]]).made.put_file("a.png", bytes("x")), /wrong values/);
});

test("a document goes with the revision it was made from, and each refusal says what it is", async () => {
  const { made, asked } = server([[200, { revision: 8 }], [412, { error: "somebody else", revision: 9 }], [422, { error: "errors", findings: [{ rule: "unknown-id" }] }], [500, "oops", "text/plain"], new TypeError("network")]);
  assert.equal(await made.put_document("{}", 7), 8);
  assert.equal(asked[0].headers["if-match"], '"7"');
  const refusals = [];
  for (let i = 0; i < 4; i += 1) refusals.push(await made.put_document("{}", 7).catch((error) => error));
  assert.ok(refusals.every((error) => error instanceof SaveRefused));
  assert.deepEqual(refusals.map(({ status, conflict }) => [status, conflict]), [[412, true], [422, false], [500, false], [0, false]]);
  assert.equal(refusals[0].revision, 9);
  assert.deepEqual(refusals[1].findings, [{ rule: "unknown-id" }]);
  assert.match(refusals[2].message, /HTTP 500/);
  assert.match(refusals[3].message, /could not be reached/);
});
