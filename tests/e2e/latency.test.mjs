// What a hand does is seen in the next frame, and a picture that nobody touches costs nothing; on both backends.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, openReady, seeing, settled, setView } from './harness.mjs';
import { serveSite } from './site.mjs';

/** Height of the picture at the square of one metre. */
const SEEN_M = 1.2;
const CAMERA = seeing(SEEN_M);
/** How long nobody touches the page. */
const IDLE_MS = 10_000;
/** Share of a processor that the page may take meanwhile: it listens, twice a second, for a lost device. A choice of ours. */
const IDLE_SHARE = 0.01;

for (const backend of Object.keys(BACKENDS)) {
  describe(`latency on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-latency-'));
    let site;
    let chromium;
    let page;

    before(async () => {
      writeDossier(folder);
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 1000, height: 760 }, reducedMotion: 'reduce' });
      await openReady(page, site.address('dossier/'), backend);
      await settled(page);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    test('a divider that is dragged stands in the next frame where the pointer is', async () => {
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'swipe', count: 2, position: 0.5, angle_deg: 0, camera: CAMERA, light: { mode: 'as-measured' } });
      const box = await page.locator('ganosis-view canvas').first().boundingBox();
      // A patch right of the middle, which the divider is drawn across.
      const [column, row] = [4, 1];
      const place = (i, extent) => extent / 2 + (((i + 0.5) / PATCHES - 0.5) / SEEN_M) * box.height;
      const [x, y] = [place(column, box.width), place(row, box.height)];
      await page.mouse.move(box.x + box.width / 2, box.y + y);
      await page.mouse.down();
      await page.waitForTimeout(300);
      await page.evaluate(([px, py]) => {
        const canvas = document.querySelector('ganosis-view').shadowRoot.querySelector('canvas');
        const copy = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
        window.seen = [];
        let last = Number.NaN;
        // After the page's own listeners, so that this callback comes after theirs in the same frame.
        window.addEventListener('pointermove', (event) => {
          const [moved, ratio] = [event.clientX, window.devicePixelRatio];
          // A pointer that stays changes nothing, and nothing is drawn.
          if (moved === last) return;
          last = moved;
          requestAnimationFrame(() => {
            // While its frame is being made a canvas still has what was drawn to it.
            copy.drawImage(canvas, px * ratio, py * ratio, 1, 1, 0, 0, 1, 1);
            window.seen.push({ moved, ms: performance.now() - event.timeStamp, colour: [...copy.getImageData(0, 0, 1, 1).data.slice(0, 3)] });
          });
        });
      }, [x, y]);
      const steps = [0.55, 0.6, 0.7, 0.8, 0.95].map((share) => box.x + share * box.width);
      for (const step of steps) {
        await page.mouse.move(step, box.y + y);
        await page.waitForTimeout(150);
      }
      await page.mouse.up();
      const seen = await page.evaluate(() => window.seen);
      assert.ok(seen.length >= steps.length, JSON.stringify(seen));
      const sides = seen.map(({ moved, colour }) => {
        const side = moved - box.x > x ? 0 : 1;
        const wanted = colourOf(side, column, row);
        assert.ok(colour.every((v, c) => Math.abs(v - wanted[c]) <= 1), `pointer at ${moved - box.x}, patch at ${x}: wanted ${wanted}, got ${colour}`);
        return side;
      });
      assert.deepEqual(new Set(sides), new Set([0, 1]), 'the divider passed over the patch');
      const slowest = Math.max(...seen.map(({ ms }) => ms));
      console.log(`# from the pointer to the frame that shows it, at most, without a graphics card: ${slowest.toFixed(0)} ms`);
    });

    test('a page that nobody touches draws nothing and takes no time', async () => {
      await page.mouse.move(500, 700);
      await page.waitForTimeout(1000);
      const client = await page.context().newCDPSession(page);
      await client.send('Performance.enable', { timeDomain: 'threadTicks' });
      const computed = async () => (await client.send('Performance.getMetrics')).metrics.find(({ name }) => name === 'TaskDuration').value * 1000;
      await page.evaluate(() => {
        window.frames_asked = 0;
        const ask = window.requestAnimationFrame;
        window.requestAnimationFrame = (act) => { window.frames_asked += 1; return ask(act); };
      });
      const start = await computed();
      await page.waitForTimeout(IDLE_MS);
      const spent = (await computed()) - start;
      assert.equal(await page.evaluate(() => window.frames_asked), 0);
      assert.ok(spent < IDLE_SHARE * IDLE_MS, `${spent} ms of ${IDLE_MS}`);
    });
  });
}
