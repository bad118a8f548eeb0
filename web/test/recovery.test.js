// A device that goes is replaced; one that goes as soon as it has come is not asked for for ever.
import assert from "node:assert/strict";
import { test } from "node:test";
import { Recovery } from "../src/internal/recovery.js";

/** @param {number} alive_ms how long each device lives */
async function losing(alive_ms, times) {
  const end = new AbortController();
  let now = 0;
  const clock = performance.now;
  performance.now = () => now;
  globalThis.window ??= globalThis;
  const told = { restored: 0, failed: [], frames: 0 };
  let hear = () => {};
  const recovery = new Recovery({
    stage: { pause() {}, freshCanvas() {}, canvas: {}, intent() { told.frames += 1; } }, handle: { restore: async () => {}, when_lost: (heard) => { hear = heard; } }, backend: "webgpu", signal: end.signal,
    during: (work) => work, restored: () => { told.restored += 1; }, failed: (error) => told.failed.push(error.message),
  });
  for (let turn = 0; turn < times; turn += 1) {
    hear();
    recovery.lost("lost");
    for (let step = 0; step < 4; step += 1) await Promise.resolve();
    now += alive_ms;
  }
  performance.now = clock;
  end.abort();
  return told;
}

test("a device is replaced as often as it goes after a while", async () => {
  const { restored, failed, frames } = await losing(1500, 40);
  assert.deepEqual([restored, failed], [40, []]);
  assert.equal(frames, 40, 'the device itself asks for the frame that says so');
});

test("a device that goes at once is given up after five in a row", async () => {
  const { restored, failed } = await losing(200, 9);
  assert.equal(restored, 5);
  assert.match(failed[0], /as soon as it has come/);
});
