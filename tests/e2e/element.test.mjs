// The element on a page: archives, several at once, coming and going, what is shown first, when it draws.
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, getView, openReady, settled, setView, snapshot } from './harness.mjs';
import { colourAt } from './pictures.mjs';
import { sendBytes, sendFile, serveSite } from './site.mjs';
import { zipOf, zipOfFolder } from './zip.mjs';

const CAMERA = facing(2.5);
/** Elements that come and go: Chromium keeps 16 WebGL contexts alive; software devices for WebGPU are slow to make. */
const MANY = { webgl2: 20, webgpu: 8 };

/** Colour of the patch right and below of the middle (column 3, row 3). */
async function middlePatch(page) {
  const patch_px = 300 / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360)) / 6;
  return colourAt(await snapshot(page, 300, 300), 300, 150 + patch_px / 2, 150 + patch_px / 2);
}
const assertColour = (found, wanted) => wanted.forEach((value, c) => assert.ok(Math.abs(value - found[c]) <= 1, `wanted ${wanted}, found ${found}`));

/** Adds to the fixture what only some tests look at. */
function furnish(folder) {
  const document = writeDossier(folder);
  document.evidence[0].attachments = [
    { file: 'evidence.csv', media_type: 'text/csv', title: 'Spectrum' }, { file: 'state-0.png', media_type: 'image/png', title: 'Photograph' },
  ];
  document.views = [
    { id: 'v1', title: 'The spot itself', view: { pin: 'p1', position: 0.2, camera: { ...CAMERA, azimuth_deg: 25 } } },
    { id: 'v2', title: 'All of it', view: { position: 0.8, camera: CAMERA } },
    { id: 'v3', title: 'A column', view: { region: 'column-3' } },
  ];
  writeFileSync(join(folder, 'evidence.csv'), 'energy_kev,counts\n1,10\n2,30\n3,20\n');
  writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
}

for (const backend of Object.keys(BACKENDS)) {
  describe(`the element on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-element-'));
    let site;
    let chromium;
    const failures = [];

    before(async () => {
      furnish(folder);
      const archives = {
        'boss.zip': zipOfFolder(folder, 'boss'),
        'climbs.zip': zipOf([['dossier.json', readFileSync(join(folder, 'dossier.json'))], ['../outside.txt', Buffer.from('x')]]),
        'cut.zip': zipOfFolder(folder, 'boss').subarray(0, 2000),
        'other.zip': zipOf([['notes.txt', Buffer.from('x')]]),
      };
      site = await serveSite({ dossier: folder, archives: (response, path) => sendBytes(response, archives[path], 'application/zip') });
      chromium = await browser(backend, { coarse: true });
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    const newPage = async (options = {}) => {
      const page = await chromium.newPage({ viewport: { width: 900, height: 700 }, ...options });
      page.on('pageerror', (error) => failures.push(error.message));
      return page;
    };

    test('a zip is opened like a folder, with its attachments', async () => {
      const page = await newPage();
      await openReady(page, site.address('archives/boss.zip'), backend);
      await setView(page, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA });
      assertColour(await middlePatch(page), colourOf(0, 3, 3));
      await setView(page, { pin: 'p1' });
      const wall = page.locator('ganosis-view .wall');
      await wall.locator('.plot').waitFor();
      const image = wall.locator('figure img');
      await image.scrollIntoViewIfNeeded();
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('figure img').naturalWidth === 384);
      assert.match(await wall.locator('figcaption a').first().getAttribute('href'), /^blob:/);
      await page.close();
    });

    test('archives that are harmful, cut or something else get a message', async () => {
      const page = await newPage();
      for (const [name, says] of [['climbs', /leads out of the archive/], ['cut', /not a whole zip/], ['other', /no dossier\.json/]]) {
        await page.goto(`${site.address(`archives/${name}.zip`)}&backend=${backend}`);
        const text = await page.locator('ganosis-view .failure').innerText();
        assert.match(text, says);
        assert.match(text, new RegExp(`${name}\\.zip`));
      }
      await page.close();
    });

    test('two elements on one page keep their own views', async () => {
      const page = await newPage();
      site.mounts.two = (response) => sendBytes(response, Buffer.from(`<!doctype html><title>Two</title><script type="module" src="/ganosis-view.js"></script>${'<ganosis-view src="/dossier/"></ganosis-view>'.repeat(2)}`), 'text/html');
      await page.goto(`${site.origin}/two`);
      await page.evaluate(() => Promise.all([...document.querySelectorAll('ganosis-view')].map((element) => element.ready)));
      const views = await page.evaluate(async () => {
        const [first, second] = document.querySelectorAll('ganosis-view');
        first.view = { left: 'evidence', compare: 'one' };
        second.view = { left: 'as-found', position: 0.3 };
        await new Promise((done) => { setTimeout(done, 100); });
        return [first.view, second.view].map(({ left, compare, position }) => [left, compare, position]);
      });
      assert.deepEqual(views[0].slice(0, 2), ['evidence', 'one']);
      assert.deepEqual(views[1], ['as-found', 'swipe', 0.3]);
      await page.close();
    });

    test('many that come and go leave the first alive', async () => {
      const page = await newPage();
      const said = [];
      page.on('console', (message) => said.push(message.text()));
      await openReady(page, site.address('dossier/'), backend);
      await setView(page, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA });
      const outcomes = await page.evaluate(async ([count, name]) => {
        const outcomes = [];
        for (let index = 0; index < count; index += 1) {
          const element = document.createElement('ganosis-view');
          element.setAttribute('src', 'dossier/');
          element.setAttribute('backend', name);
          element.style.blockSize = '300px';
          document.body.append(element);
          if (index % 4 !== 3) await element.ready;
          // One of four goes while it still opens, one while it is asked for a picture.
          const asked = index % 4 === 2 ? element.snapshot({ width: 50, height: 50 }).then(() => 'a picture', (error) => error.name) : null;
          const waiting = element.ready.then(() => 'ready', (error) => error.name);
          element.remove();
          outcomes.push(await waiting);
          if (asked) await asked;
        }
        return outcomes;
      }, [MANY[backend], backend]);
      assert.equal(outcomes.length, MANY[backend]);
      outcomes.forEach((outcome, index) => assert.equal(outcome, index % 4 === 3 ? 'AbortError' : 'ready'));
      assert.deepEqual(said.filter((text) => /too many active/i.test(text)), []);
      assertColour(await middlePatch(page), colourOf(0, 3, 3));
      await page.close();
    });

    test('an element that is moved on the page opens again, with its view', async () => {
      const page = await newPage();
      await openReady(page, site.address('dossier/'), backend);
      const found = await page.evaluate(async () => {
        const element = document.querySelector('ganosis-view');
        element.removeAttribute('address');
        element.remove();
        document.body.append(element);
        await element.ready;
        return element.dossier.id;
      });
      assert.equal(found, 'patches');
      await page.close();
    });

    test('the first state is shown before the other layers arrive', async () => {
      const page = await newPage();
      let release = () => {};
      const held = new Promise((done) => { release = done; });
      site.mounts.slow = async (response, path) => {
        if (/state-1|band|regions/.test(path)) await held;
        await sendFile(response, folder, path);
      };
      await openReady(page, site.address('slow/'), backend);
      await setView(page, { left: 'as-found', right: 'evidence', compare: 'one', camera: CAMERA });
      assertColour(await middlePatch(page), colourOf(0, 3, 3));
      assert.ok(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-busy]') !== null), 'and the page says that more is coming');
      release();
      await settled(page, 30_000);
      await setView(page, { left: 'evidence' });
      assertColour(await middlePatch(page), colourOf(1, 3, 3));
      await page.close();
    });

    test('progress is told in bytes while the surface comes', async () => {
      const page = await newPage();
      let release = () => {};
      const held = new Promise((done) => { release = done; });
      const mesh = readFileSync(join(folder, 'square.glb'));
      site.mounts.slow = async (response, path) => {
        if (path !== 'square.glb') return sendFile(response, folder, path);
        response.writeHead(200, { 'content-length': mesh.length });
        response.write(mesh.subarray(0, 500));
        await held;
        return response.end(mesh.subarray(500));
      };
      await page.goto(`${site.address('slow/')}&backend=${backend}`);
      await page.locator('ganosis-view .loading .amount').filter({ hasText: /0\.5 kB of/ }).waitFor();
      release();
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-ready]'));
      await page.close();
    });

    test('a saved view that names a pin opens its card', async () => {
      const page = await newPage();
      await openReady(page, site.address('dossier/'), backend);
      await page.evaluate(() => {
        globalThis.opened = [];
        document.querySelector('ganosis-view').addEventListener('pinopen', ({ detail }) => globalThis.opened.push(detail.pin));
      });
      const visit = async (name) => {
        await page.locator('ganosis-view [data-page="label"]').click();
        await page.locator('ganosis-view .list.views .row', { hasText: name }).click();
      };
      const wall = page.locator('ganosis-view .wall');
      await visit('The spot itself');
      await wall.getByText('Copper was found here.').waitFor();
      await page.waitForFunction(() => Math.abs(document.querySelector('ganosis-view').view.camera.azimuth_deg - 25) < 1e-6);
      assert.equal((await getView(page)).pin, 'p1');
      assert.equal((await getView(page)).position, 0.2);
      assert.deepEqual(await page.evaluate(() => globalThis.opened), ['p1']);
      await visit('A column');
      await wall.getByText('Copper at the spot.').waitFor();
      await visit('All of it');
      const view = await getView(page);
      assert.deepEqual([view.pin, view.region, view.position], [null, null, 0.8]);
      await page.close();
    });

    test('it draws only when something has changed', async () => {
      const page = await newPage({ reducedMotion: 'reduce' });
      await page.addInitScript(() => {
        globalThis.drawn = 0;
        const count = (type, names) => {
          for (const name of names) {
            const own = type?.prototype[name];
            if (own) type.prototype[name] = function counted(...values) { globalThis.drawn += 1; return own.apply(this, values); };
          }
        };
        count(globalThis.WebGL2RenderingContext, ['drawElements', 'drawElementsInstanced', 'drawArrays', 'drawArraysInstanced']);
        count(globalThis.GPURenderPassEncoder, ['draw', 'drawIndexed']);
      });
      await openReady(page, site.address('dossier/'), backend);
      await settled(page, 30_000);
      // What comes after the picture (the tree by which places are found) is drawn once more, later where processors are
      // busy: quiet for a second is quiet.
      await page.waitForFunction(() => {
        if (globalThis.drawn !== globalThis.drawn_before) [globalThis.drawn_before, globalThis.quiet_since] = [globalThis.drawn, performance.now()];
        return performance.now() - globalThis.quiet_since > 1000;
      }, null, { timeout: 30_000, polling: 100 });
      const drawnDuring = async (act) => {
        const start = await page.evaluate(() => globalThis.drawn);
        await act();
        await page.waitForTimeout(700);
        return (await page.evaluate(() => globalThis.drawn)) - start;
      };
      assert.ok(await page.evaluate(() => globalThis.drawn) > 0, 'drawing is counted');
      assert.equal(await drawnDuring(async () => {}), 0, 'standing still');
      assert.equal(await drawnDuring(() => page.mouse.move(200, 200, { steps: 5 })), 0, 'a pointer that only passes');
      assert.equal(await drawnDuring(() => page.evaluate(() => { const el = document.querySelector('ganosis-view'); el.view = el.view; })), 0, 'the same view again');
      await page.locator('ganosis-view canvas').first().focus();
      const one = await drawnDuring(() => page.keyboard.press('ArrowLeft'));
      assert.ok(one > 0, 'a key');
      assert.equal(await drawnDuring(async () => {}), 0, 'and then nothing again');
      const three = await drawnDuring(async () => { for (const key of ['ArrowLeft', 'ArrowUp', 'ArrowRight']) { await page.keyboard.press(key); await page.waitForTimeout(60); } });
      assert.ok(three <= 3 * one, `three keys drew ${three}, one drew ${one}`);
      await page.close();
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}
