// What is fetched when, with a viewer that only says what it wants.
import test from "node:test";
import assert from "node:assert/strict";
import { Supplier } from "../src/internal/supply.js";

/** A viewer that wants one spectrum, and a source in which some files are missing. */
function supplying(path, absent = []) {
  const made = { wants: path, got: [], read: [], troubles: [] };
  const supplier = new Supplier({
    handle: {
      wanted: () => (made.wants ? [{ id: "spectrum:0", path: made.wants, kind: "spectrum", urgent: false }] : []),
      supply: (id, bytes) => {
        made.got.push(new TextDecoder().decode(bytes));
        made.wants = null;
      },
      fail: () => { made.wants = null; },
    },
    source: {
      read: async (file) => {
        made.read.push(file);
        if (absent.includes(file)) throw new Error(`${file} is not there`);
        return new TextEncoder().encode(file);
      },
    },
    signal: new AbortController().signal, progress() {}, changed() {}, trouble: (trouble) => made.troubles.push(trouble.detail),
  });
  const settled = async () => {
    supplier.pump();
    await new Promise((done) => { setTimeout(done); });
  };
  return Object.assign(made, { supplier, settled });
}

test("a spectrum that an edit exchanges is fetched anew", async () => {
  const made = supplying("old.csv");
  await made.settled();
  made.wants = "new.csv";
  made.supplier.renew();
  await made.settled();
  await made.settled();
  assert.deepEqual(made.got, ["old.csv", "new.csv"]);
});

test("a file that was not there is asked for once, until it is another or somebody asks again", async () => {
  const made = supplying("gone.csv", ["gone.csv"]);
  await made.settled();
  made.wants = "gone.csv";
  made.supplier.renew();
  await made.settled();
  assert.deepEqual(made.read, ["gone.csv"]);
  made.supplier.retry();
  await made.settled();
  assert.deepEqual(made.read, ["gone.csv", "gone.csv"]);
  made.wants = "here.csv";
  made.supplier.renew();
  await made.settled();
  assert.deepEqual([made.got, made.troubles.length], [["here.csv"], 2]);
});
