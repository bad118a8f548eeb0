// Drafts and the sitting of editing, with a desk and a server that only note what they are told.
import test from "node:test";
import assert from "node:assert/strict";
import { Drafts } from "../src/internal/desk/draft.js";
import { EditSession } from "../src/internal/desk/session.js";
import { SaveRefused } from "../src/internal/desk/saving.js";
import { attachmentFolder, freshId, numbered, plainName, replacing } from "../src/internal/desk/naming.js";
import { database, locks } from "./standins.js";

const AT = { address: "http://127.0.0.1/dossier/dossier.json", id: "boss" };
const draft = (text, revision = 7) => ({ revision, when: Date.now(), text, maps: [{ sheet: "crown", bytes: new Uint8Array([1, 2]) }], files: [] });
const later = (ms = 0) => new Promise((done) => { setTimeout(done, ms); });

test("a draft is offered once its tab is gone, and only for its own dossier", async () => {
  const [kept, held] = [database(), locks()];
  const first = new Drafts({ ...AT, database: kept, locks: held, tab: "1" });
  await first.keep(draft("mine"));
  const second = new Drafts({ ...AT, database: kept, locks: held, tab: "2" });
  assert.deepEqual(await second.left(), [], "the first tab is still open");
  await second.keep(draft("other"));
  await first.close();
  await later();
  const left = await second.left();
  assert.deepEqual(left.map(({ text, revision, maps }) => [text, revision, [...maps[0].bytes]]), [["mine", 7, [1, 2]]]);
  assert.deepEqual(await new Drafts({ ...AT, id: "leaf", database: kept, locks: held }).left(), []);
  await second.forget(left[0].key);
  assert.deepEqual(kept.rows("drafts").map(({ text }) => text), ["other"], "two tabs do not write over one another's");
  await second.forget();
  assert.deepEqual(kept.rows("drafts"), []);
});

test("a browser that keeps nothing is told, and stops nobody", async () => {
  const none = new Drafts({ ...AT, database: undefined, locks: undefined });
  assert.deepEqual([await none.keep(draft("x")), await none.left()], [false, []]);
  const broken = { open: () => { const request = {}; setTimeout(() => { request.error = new Error("private"); request.onerror(); }); return request; } };
  assert.equal(await new Drafts({ ...AT, database: broken, locks: undefined }).keep(draft("x")), false);
});

const DOCUMENT = { id: "boss", revision: 7, evidence: [{ id: "xrf-01", attachments: [{ file: "evidence/a.csv" }] }, { id: "xrf-12" }, { id: "mic-01" }], claims: [{ id: "c-1" }] };

/** A desk that keeps a text and a mark. */
function desk() {
  const made = {
    onoutcome: null, log: [], steps: 0, kept: 0, maps: [], document: structuredClone(DOCUMENT),
    outcome(changes) {
      const outcome = { document: made.document, text: JSON.stringify(made.document), rects: [], undo: made.steps ? "step" : null, redo: null, revision: made.steps, saved: made.steps === made.kept, ...changes };
      made.onoutcome?.(outcome);
      return outcome;
    },
    async apply(steps, label) { made.log.push(["apply", steps, label]); made.steps += 1; return made.outcome(); },
    async undo() { made.steps -= 1; return made.outcome(); },
    async files() { return ["evidence/a.csv"]; },
    async draft() { return { document: made.document, text: `draft ${made.steps}`, maps: [] }; },
    async to_save() { return { mark: made.steps, revision: 8, text: `text ${made.steps}`, maps: made.maps }; },
    async renamed(sheet, path) { return `text with ${path}`; },
    async keep(mark, revision) { made.log.push(["keep", mark, revision]); made.kept = mark; return made.outcome(); },
    async restore(left, label) { made.log.push(["restore", left.text, label]); made.steps += 1; return made.outcome(); },
  };
  return made;
}

/** A server at a revision. */
function server(revision = 7) {
  const made = {
    revision, put: [], taken: new Set(),
    async about() { return { editable: true, revision: made.revision }; },
    async has(path) { return made.taken.has(path); },
    async put_file(path) { const name = made.taken.has(path) ? path.replace(".", "-2.") : path; made.put.push(name); return name; },
    async put_document(text, from) {
      if (from !== made.revision) throw new SaveRefused("somebody else", { status: 412, revision: made.revision });
      made.put.push(text);
      made.revision += 1;
      return made.revision;
    },
  };
  return made;
}

async function sitting({ kept = database(), held = locks(), tab = "a", at = server(), about = { editable: true, revision: 7, file_types: ["csv", "png"], largest_file_bytes: 1000 }, document = DOCUMENT } = {}) {
  const shown = { log: [], replace_document: (text) => shown.log.push(text), ensure_labels: (...values) => shown.log.push(values), patch_labels: (...values) => shown.log.push(values) };
  const source = { added: new Map(), list: () => null, add: (path, bytes) => source.added.set(path, bytes) };
  const made = desk();
  const ended = new AbortController();
  const session = await EditSession.begin({
    desk: made, source, document: structuredClone(document), shown, server: at, about, signal: ended.signal,
    drafts: new Drafts({ ...AT, database: kept, locks: held, tab }),
  });
  return { session, desk: made, shown, source, server: at, kept, held, ended };
}

test("what changes is shown, told, and kept as a draft until it is saved", async () => {
  const { session, desk: made, shown, server: at, kept } = await sitting();
  let told = 0;
  const quiet = session.onchange(() => { told += 1; });
  await session.apply([{ op: "set", path: "/title", value: "T" }], "title");
  assert.deepEqual([session.canUndo, session.saved, session.where, told], ["step", false, "server", 1]);
  assert.equal(shown.log.length, 1);
  const texels = new Uint16Array([5]);
  made.outcome({ document: null, text: null, rects: [{ sheet: "crown", x: 1, y: 2, width: 1, height: 1, map_width: 4, map_height: 4, texels }] });
  assert.deepEqual(shown.log.slice(1), [["crown", 4, 4], ["crown", 1, 2, 1, 1, texels]]);
  assert.deepEqual(kept.rows("drafts"), [], "not at every stroke");
  await later(700);
  assert.deepEqual(kept.rows("drafts").map(({ text, revision }) => [text, revision]), [["draft 1", 7]]);
  quiet();
  await session.save();
  assert.deepEqual([session.saved, session.revision, told], [true, 8, 2]);
  assert.deepEqual([at.put, made.log.at(-1)], [["text 1"], ["keep", 1, 8]]);
  await later(700);
  assert.deepEqual(kept.rows("drafts"), [], "what is saved needs no draft");
  await session.close();
});

test("a map whose name is taken is named otherwise in the document", async () => {
  const { session, desk: made, server: at } = await sitting();
  await session.apply([], "step");
  made.maps = [{ sheet: "crown", path: "regions/crown-r8.png", bytes: new Uint8Array(1) }];
  at.taken.add("regions/crown-r8.png");
  await session.save();
  assert.deepEqual(at.put, ["regions/crown-r8-2.png", "text with regions/crown-r8-2.png"]);
  await session.close();
});

test("two tabs do not save over one another: the later is told, and has lost nothing", async () => {
  const [kept, held, at] = [database(), locks(), server()];
  const first = await sitting({ kept, held, at, tab: "a" });
  const second = await sitting({ kept, held, at, tab: "b" });
  await first.session.apply([], "one");
  await second.session.apply([], "two");
  await first.session.save();
  const before = [...at.put];
  await assert.rejects(second.session.save(), (error) => error.conflict);
  assert.deepEqual(second.session.conflict, { revision: 8 });
  assert.deepEqual([at.put, second.session.saved, second.session.revision], [before, false, 7]);
  await first.session.close();
  await second.session.close();
  await later();
  // Opened again, at the other's revision: the draft is offered and said to be of an older one.
  const third = await sitting({ kept, held, at, tab: "c", document: { ...DOCUMENT, revision: 8 } });
  assert.deepEqual([third.session.draft.revision, third.session.draft.outdated], [7, true]);
  await third.session.restore("Draft");
  assert.deepEqual([third.desk.log.at(-1), third.session.draft], [["restore", "draft 1", "Draft"], null]);
  // Taken up, it still must not pass for one made from what the other saved.
  await assert.rejects(third.session.save(), (error) => error.conflict);
  await third.session.close();
});

test("a draft that is thrown away is not offered again", async () => {
  const [kept, held] = [database(), locks()];
  const first = await sitting({ kept, held });
  await first.session.apply([], "one");
  await first.session.close();
  await later();
  const second = await sitting({ kept, held, tab: "b" });
  assert.equal(second.session.draft.outdated, false);
  await second.session.discard();
  assert.equal(second.session.draft, null);
  await second.session.close();
  assert.equal((await sitting({ kept, held, tab: "c" })).session.draft, null);
});

test("an attachment gets a free name, goes to the server first, and comes back with the draft", async () => {
  const [kept, held] = [database(), locks()];
  const { session, server: at, source } = await sitting({ kept, held });
  at.taken.add("evidence/b.csv");
  const path = await session.attach(new File(["x"], "B.csv".toLowerCase()));
  assert.equal(path, "evidence/b-2.csv");
  assert.ok(source.added.has(path));
  await assert.rejects(session.attach(new File(["x"], "a.exe")), /csv, png/);
  await assert.rejects(session.attach(new File([new Uint8Array(2000)], "large.png")), /larger/);
  await session.apply([], "evidence");
  await session.close();
  await later();
  const next = await sitting({ kept, held, tab: "b" });
  await next.session.restore();
  assert.ok(next.source.added.has(path));
  await next.session.save();
  assert.deepEqual(next.server.put.slice(0, 1), [path]);
  await next.session.close();
});

test("without a server, or without its token, saving is a download and says why", async () => {
  const none = await sitting({ about: null });
  assert.deepEqual([none.session.where, none.session.why], ["zip", null]);
  const closed = await sitting({ about: { editable: false, why: "Opened to be looked at." } });
  assert.deepEqual([closed.session.where, closed.session.why], ["zip", "Opened to be looked at."]);
  const locked = await sitting({ about: { editable: true, token_needed: true, token_accepted: false } });
  assert.equal(locked.session.where, "zip");
});

test("a sitting that is closed twice is over, with its draft, for both", async () => {
  const { session, kept } = await sitting();
  await session.apply([], "one");
  void session.close();
  await session.close();
  assert.deepEqual(kept.rows("drafts").map(({ text }) => text), ["draft 1"]);
});

test("a download that is under way says so and is not begun again", async () => {
  const { session, desk: made } = await sitting({ about: null });
  let asked = 0;
  let fail;
  made.files = () => { asked += 1; return new Promise((_, refuse) => { fail = refuse; }); };
  const first = session.save();
  assert.equal(session.saving, true);
  await session.save();
  fail(new Error("no files"));
  await assert.rejects(first, /no files/);
  assert.deepEqual([session.saving, asked], [false, 1]);
  await session.close();
});

test("what is drawn goes onto the parts that the picture shows, in every pane of it", async () => {
  const { session, desk: made, shown } = await sitting();
  const asked = [];
  made.draw = async (_, { states }) => { asked.push(states); };
  const view = { left: "a", right: "irr", third: "c", fourth: "d", count: 4, compare: "pair" };
  const changes = [{}, { count: 2 }, { fourth: "a" }, { compare: "swipe", count: 3 }, { compare: "blend" }, { compare: "loupe" }, { compare: "one" }, { compare: "one", left: "irr" }];
  for (const change of changes) {
    shown.view = () => ({ ...view, ...change });
    await session.draw("stroke", {});
  }
  assert.deepEqual(asked, [["a", "irr", "c", "d"], ["a", "irr"], ["a", "irr", "c"], ["a", "irr", "c"], ["a", "irr", "c"], ["a", "irr"], ["a"], ["irr"]]);
  await session.close();
});

test("ids and names follow the habit of the dossier", () => {
  assert.equal(freshId(DOCUMENT, "claim"), "c-2");
  assert.equal(freshId(DOCUMENT, "evidence"), "xrf-13");
  assert.equal(freshId(DOCUMENT, "evidence", "mic"), "mic-02");
  assert.equal(freshId(DOCUMENT, "evidence", "sem"), "sem-1");
  assert.equal(freshId({ pins: [{ id: "p-bill" }, { id: "pin-1" }] }, "pin"), "pin-2");
  assert.equal(freshId({}, "person"), "person-1");
  assert.deepEqual(["Größe 3µm?.PNG", "../../etc/passwd", "...", "دراسة.csv"].map(plainName), ["Gro-e-3-m.png", "etc-passwd", "file", "file.csv"]);
  assert.equal(attachmentFolder(DOCUMENT), "evidence/");
  assert.equal(attachmentFolder({}), "evidence/");
  assert.deepEqual([numbered("a/b.csv", 2), numbered("a.d/b", 3)], ["a/b-2.csv", "a.d/b-3"]);
  assert.deepEqual(replacing({ "a/b": [{ file: "x" }, "y"], "c~": "x" }, "x", "z"), [
    { op: "set", path: "/a~1b/0/file", value: "z" }, { op: "set", path: "/c~0", value: "z" },
  ]);
});
