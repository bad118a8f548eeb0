import test, { mock } from "node:test";
import assert from "node:assert/strict";
import { parseVtt, saidAt } from "../src/internal/tour/vtt.js";
import { Player, readingTime } from "../src/internal/tour/player.js";
import { recordingOf } from "../src/internal/tour/narration.js";

test("captions are read as the format says", () => {
  // The file of section 1.1 of WebVTT (W3C), with what else section 4 allows.
  const cues = parseVtt("\uFEFFWEBVTT - Title\r\n\r\nNOTE\r\nnot --> shown\r\n\r\n1\r\n00:11.000 --> 00:13.000\r\n<v Roger Bingham>We are in New York City\r\n\r\nSTYLE\r\n::cue { color: red }\r\n\r\n00:00:13.000 --> 01:00:16.500 align:start\r\nFish &amp; <i>chips</i>\r\nand more\r\n");
  assert.deepEqual(cues, [
    { start_s: 11, end_s: 13, text: "We are in New York City" },
    { start_s: 13, end_s: 3616.5, text: "Fish & chips\nand more" },
  ]);
  assert.equal(saidAt(cues, 12.9), "We are in New York City");
  assert.equal(saidAt(cues, 13), "Fish & chips\nand more");
  assert.equal(saidAt(cues, 10.9), "");
  assert.equal(parseVtt("WEBVTTX\n\n"), null);
  assert.equal(parseVtt("1\n00:00:01,000 --> 00:00:02,000\nx"), null);
  assert.deepEqual(parseVtt("WEBVTT\n\n00:61.000 --> 00:62.000\nno such second\n\n0:01.000 --> 0:02.000\none digit"), []);
});

test("a recording is the best of its languages", () => {
  const view = { narration: { en: { audio: "a.en.wav" }, "de-AT": { captions: "a.vtt" } } };
  assert.equal(recordingOf(view, ["de", "en"]).language, "de-AT");
  assert.equal(recordingOf(view, ["fr", "en"]).language, "en");
  assert.equal(recordingOf({}, ["en"]), null);
});

function tour(texts, more = {}) {
  const visited = [];
  const player = new Player({ count: () => texts.length, visit: (at) => visited.push(at), text: (at) => texts[at], changed: () => {}, ...more });
  return { player, visited };
}

test("it stays as long as reading takes, goes on, and ends after the last", async () => {
  mock.timers.enable({ apis: ["setTimeout", "Date"] });
  const { player, visited } = tour(["", "x".repeat(120), ""]);
  const step = async (ms) => { await settle(); mock.timers.tick(ms); await settle(); };
  player.go(0);
  player.play();
  await step(readingTime("") - 1);
  assert.deepEqual(visited, [0]);
  await step(1);
  assert.deepEqual(visited, [0, 1]);
  // 120 characters at 12 a second, after 4 seconds to look.
  assert.equal(readingTime("x".repeat(120)), 14_000);
  await step(7000);
  player.pause();
  await step(60_000);
  assert.deepEqual(visited, [0, 1], "paused");
  player.setSpeed(2);
  player.play();
  await step(3499);
  assert.deepEqual(visited, [0, 1], "7 s are left, at twice the pace");
  await step(1);
  assert.deepEqual(visited, [0, 1, 2]);
  await step(60_000);
  assert.equal(player.playing, false);
  player.play();
  await step(0);
  assert.deepEqual(visited, [0, 1, 2, 0], "from the start again");
  player.close();
  await step(60_000);
  assert.equal(visited.length, 4);
  mock.timers.reset();
});

test("round and round, and by hand never beyond the ends", async () => {
  mock.timers.enable({ apis: ["setTimeout", "Date"] });
  const { player, visited } = tour(["", ""], { round: () => true });
  player.go(0);
  player.play();
  for (let turn = 0; turn < 3; turn += 1) {
    await settle();
    mock.timers.tick(6000);
    await settle();
  }
  assert.deepEqual(visited, [0, 1, 0, 1]);
  player.pause();
  player.next();
  player.back();
  player.back();
  assert.deepEqual(visited.slice(4), [1, 0, 0]);
  mock.timers.reset();
});

test("with a voice it goes on when all is said, and the voice of a stop that is left is closed", async () => {
  const log = [];
  const ends = [];
  const { player, visited } = tour(["", ""], {
    voice: async (at) => ({ play: () => log.push(`play ${at}`), pause: () => log.push(`pause ${at}`), speed: (value) => log.push(`speed ${value}`), close: () => log.push(`close ${at}`), ended: new Promise((done) => ends.push(done)) }),
  });
  player.go(0);
  player.play();
  await settle();
  player.pause();
  player.play();
  await settle();
  ends[0]();
  await settle();
  assert.deepEqual(visited, [0, 1]);
  player.close();
  assert.deepEqual(log, ["speed 1", "play 0", "pause 0", "speed 1", "play 0", "close 0", "speed 1", "play 1", "close 1"]);
});

async function settle() {
  for (let turn = 0; turn < 10; turn += 1) await Promise.resolve();
}
