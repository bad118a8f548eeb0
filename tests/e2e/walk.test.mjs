// The tour on the wall: stop by stop, by itself, with narration and captions, and all of it without sound.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, getView, openReady, settled, violations } from './harness.mjs';
import { MODULES, serveSite } from './site.mjs';

/** A tone of 440 Hz as WAV (RIFF, PCM of 16 bits, one channel). */
function wav(seconds, rate = 8000) {
  const count = Math.round(seconds * rate);
  const out = Buffer.alloc(44 + count * 2);
  out.write('RIFF', 0);
  out.writeUInt32LE(36 + count * 2, 4);
  out.write('WAVEfmt ', 8);
  [16, 0x10001, rate, rate * 2, 0x100002].forEach((value, index) => out.writeUInt32LE(value, 16 + index * 4));
  out.write('data', 36);
  out.writeUInt32LE(count * 2, 40);
  for (let at = 0; at < count; at += 1) out.writeInt16LE(Math.round(8000 * Math.sin((2 * Math.PI * 440 * at) / rate)), 44 + at * 2);
  return out;
}

const VTT = 'WEBVTT\n\nNOTE for the maker\n\none\n00:00.000 --> 00:00.900\n<v Speaker>Six columns &amp; six rows.\n\n00:00:00.900 --> 00:00:10.000 line:0\n<i>Copper</i> lies\nin the third.\n';

for (const backend of Object.keys(BACKENDS)) {
  describe(`the tour on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-walk-'));
    let site;
    let chromium;
    const failures = [];

    before(async () => {
      const document = writeDossier(folder);
      document.languages = ['en', 'de'];
      document.views = [
        { id: 'v1', title: { en: 'All of it', de: 'Das Ganze' }, text: { en: 'Every square.', de: 'Jedes Feld.' }, view: { left: 'as-found', compare: 'one', camera: facing(2.5) }, narration: { en: { audio: 'one.wav', captions: 'one.vtt' } } },
        { id: 'v2', title: { en: 'The spot' }, text: { en: 'Copper here.' }, view: { left: 'evidence', compare: 'one', pin: 'p1', camera: { ...facing(1.5), azimuth_deg: 20 } } },
      ];
      writeFileSync(join(folder, 'one.wav'), wav(2));
      writeFileSync(join(folder, 'one.vtt'), VTT);
      writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
      site = await serveSite({ dossier: folder, modules: MODULES });
      chromium = await browser(backend, { coarse: true });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    test('stop by stop, by itself, and all of it in writing', async () => {
      const page = await chromium.newPage({ viewport: { width: 1180, height: 820 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, `${site.address('dossier/')}&language=en`, backend);
      await settled(page);
      const wall = page.locator('ganosis-view .wall');
      const press = (key) => wall.locator(`[data-tour="${key}"]`).click();
      await page.locator('ganosis-view [data-page="label"]').click();
      await press('begin');
      await wall.locator('.stop-title', { hasText: 'All of it' }).waitFor();
      await wall.getByText('Stop 1 of 2').waitFor();
      assert.deepEqual(await violations(page), []);
      // What is said stands in writing, before anything sounds.
      await wall.locator('.transcript', { hasText: 'Six columns & six rows. Copper lies in the third.' }).waitFor();
      // As the browser's own reader of WebVTT has it.
      const theirs = await page.evaluate((text) => new Promise((done) => {
        const video = document.createElement('video');
        const track = document.createElement('track');
        track.src = URL.createObjectURL(new Blob([text], { type: 'text/vtt' }));
        track.addEventListener('load', () => done([...track.track.cues].map((cue) => ({ start_s: cue.startTime, end_s: cue.endTime, text: cue.getCueAsHTML().textContent }))));
        video.append(track);
        track.track.mode = 'hidden';
        document.body.append(video);
      }), VTT);
      const ours = await page.evaluate(async (text) => (await import('/modules/tour/vtt.js')).parseVtt(text), VTT);
      assert.deepEqual(ours, theirs);

      await press('next');
      await wall.locator('.stop-title', { hasText: 'The spot' }).waitFor();
      const spot = await getView(page);
      assert.deepEqual([spot.left, spot.pin, Math.round(spot.camera.azimuth_deg)], ['evidence', 'p1', 20]);
      await press('back');
      await wall.locator('.prose', { hasText: 'Every square.' }).waitFor();
      assert.equal((await getView(page)).pin, null);
      // By itself: the voice's words as it speaks, then the next stop.
      await press('play');
      await wall.locator('.spoken', { hasText: 'Copper lies' }).waitFor({ timeout: 20_000 });
      await wall.locator('.stop-title', { hasText: 'The spot' }).waitFor({ timeout: 30_000 });
      // Whoever takes the object in hand is left alone with it.
      assert.equal(await wall.locator('[data-tour="play"]').getAttribute('aria-pressed'), 'true');
      const box = await page.locator('ganosis-view .stage canvas').boundingBox();
      await page.mouse.click(box.x + 5, box.y + 5);
      assert.equal(await wall.locator('[data-tour="play"]').getAttribute('aria-pressed'), 'false');
      await page.close();
    });

    test('the page of the tour, a presenter\'s keys and the steps beside a card are one walk', async () => {
      const page = await chromium.newPage({ viewport: { width: 1100, height: 760 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, `${site.address('dossier/')}&language=en`, backend);
      await settled(page);
      const wall = page.locator('ganosis-view .wall');
      await page.locator('ganosis-view canvas').focus();
      await page.keyboard.press('PageDown');
      await page.keyboard.press('PageDown');
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.pin === 'p1');
      assert.match(await wall.locator('.tour-steps').textContent(), /View 2 of 2/);
      // The tour goes on where the keys were, and the keys go on in it.
      await page.locator('ganosis-view [data-page="label"]').click();
      await wall.locator('[data-tour="begin"]').click();
      await wall.locator('.stop-title', { hasText: 'The spot' }).waitFor();
      await wall.locator('.stop-count', { hasText: 'Stop 2 of 2' }).waitFor();
      assert.equal(await wall.locator('.tour-steps').isVisible(), false, 'it has steps of its own');
      await wall.locator('.stop-title').focus();
      await page.locator('ganosis-view canvas').focus();
      await page.keyboard.press('PageUp');
      await wall.locator('.stop-count', { hasText: 'Stop 1 of 2' }).waitFor();
      await wall.locator('[data-tour="next"]').click();
      await wall.locator('.stop-count', { hasText: 'Stop 2 of 2' }).waitFor();
      // Another language leaves it where it is.
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { language: 'de' }; });
      await wall.locator('.stop-count', { hasText: 'Station 2 von 2' }).waitFor();
      await page.locator('ganosis-view [data-page="light"]').click();
      assert.match(await wall.locator('.tour-steps').textContent(), /2 \/ 2/);
      await page.locator('ganosis-view canvas').focus();
      await page.keyboard.press('PageUp');
      await page.waitForFunction(() => document.querySelector('ganosis-view').view.pin === null);
      assert.match(await wall.locator('.tour-steps').textContent(), /1 \/ 2/);
      await page.close();
    });

    test('a text that a language lacks is shown in another, and said to be', async () => {
      const page = await chromium.newPage({ viewport: { width: 390, height: 844 }, reducedMotion: 'reduce' });
      page.on('pageerror', (error) => failures.push(error.message));
      await openReady(page, `${site.address('dossier/')}&language=de`, backend);
      const wall = page.locator('ganosis-view .wall');
      await page.locator('ganosis-view [data-page="label"]').click();
      await wall.locator('[data-tour="begin"]').click();
      await wall.locator('.prose', { hasText: 'Jedes Feld.' }).waitFor();
      await wall.locator('[data-tour="next"]').click();
      await wall.locator('.prose', { hasText: 'Copper here.' }).waitFor();
      await wall.getByText('Diesen Text gibt es nur auf Englisch.').waitFor();
      assert.equal(await wall.locator('.prose').first().getAttribute('lang'), 'en');
      assert.deepEqual(await violations(page), []);
      await page.close();
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}
