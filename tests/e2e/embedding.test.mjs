// The element on other people's pages: what it costs them, what they can do to it, and how many live at once.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { after, before, describe, test } from 'node:test';
import { build } from 'esbuild';
import { colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, facing, setView, settled, snapshot, violations } from './harness.mjs';
import { colourAt } from './pictures.mjs';
import { sendBytes, sendFile, serveSite } from './site.mjs';

const WEB = fileURLToPath(new URL('../../web/', import.meta.url));
/** What a page may be asked to fetch before anybody comes near the element (the limit of the project). */
const LIGHT_BYTES = 60_000;
/** A policy as strict as the element allows, with nothing inline. */
const STRICT = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; connect-src 'self'; img-src 'self' blob:; worker-src 'self'; base-uri 'none'; form-action 'none'";
/** What a page's own style sheet may do to everything on it. Lengths follow the root's size of text, as a browser's own setting for it does; the rest of the page may say what it wants. */
const HOSTILE = `body, body * { color: #f00 !important; font: italic 30px/3 cursive !important; letter-spacing: 9px !important; text-transform: uppercase !important;
  text-align: right !important; word-spacing: 1em !important; white-space: pre !important; cursor: wait !important; box-sizing: content-box !important; text-indent: 4em !important; user-select: none !important }
  div, button, p, ul, canvas { display: inline !important; margin: 40px !important; padding: 20px !important; border: 5px solid red !important }`;

for (const backend of Object.keys(BACKENDS)) {
  describe(`embedding on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-embedding-'));
    let site;
    let chromium;
    const failures = [];

    /** A page of somebody's own, under the strict policy. */
    const pages = {};
    const servePage = (response, path) => {
      response.setHeader('content-security-policy', STRICT);
      if (path === 'hostile.css') return sendBytes(response, Buffer.from(HOSTILE), 'text/css');
      if (path === 'page.css') return sendBytes(response, Buffer.from('body { margin: 0 } ganosis-view { display: block; block-size: 360px } .far { block-size: 5000px } .low { block-size: 120px }'), 'text/css');
      return sendBytes(response, Buffer.from(pages[path]), 'text/html');
    };
    const head = (more = '') => `<!doctype html><html lang="en"><meta charset="utf-8"><title>A page</title><link rel="stylesheet" href="page.css">${more}<script type="module" src="../viewer/ganosis-view.js"></script>`;
    const element = (more = '') => `<ganosis-view src="../dossier/" backend="${backend}" ${more}></ganosis-view>`;

    before(async () => {
      const document = writeDossier(folder);
      document.views = [{ id: 'v-near', title: 'Near', view: { left: 'evidence', compare: 'one', camera: facing(0.9) } }];
      writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
      site = await serveSite({ dossier: folder, viewer: process.env.GANOSIS_VIEWER, page: servePage });
      chromium = await browser(backend);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });
    const newPage = async (options = {}) => {
      const page = await chromium.newPage({ viewport: { width: 900, height: 700 }, reducedMotion: 'reduce', ...options });
      page.on('pageerror', (error) => failures.push(error.message));
      // The frame's page has an empty icon, so that no browser asks for one; this policy refuses even that.
      page.on('console', (message) => { if (/Content Security Policy/i.test(message.text()) && !message.text().includes("'data:,'")) failures.push(message.text()); });
      return page;
    };
    const allReady = (page) => page.evaluate(() => Promise.all([...document.querySelectorAll('ganosis-view')].map((one) => one.ready)));

    test('far from the screen it costs a page next to nothing, and nothing moves when it comes', async () => {
      pages.far = `${head()}<p>Before</p><div class="far"></div>${element('poster="../dossier/state-0.png" alt="Squares"')}<p id="under">After</p>`;
      const page = await newPage();
      const fetched = [];
      page.on('response', (response) => { if (response.url().includes('/viewer/') || response.url().includes('/dossier/')) fetched.push(response); });
      await page.addInitScript(() => {
        globalThis.shifts = [];
        new PerformanceObserver((list) => globalThis.shifts.push(...list.getEntries().map(({ value, sources }) => [value, ...sources.map(({ node }) => node?.outerHTML?.slice(0, 80) ?? node?.nodeName)]))).observe({ type: 'layout-shift', buffered: true });
        globalThis.known = Object.keys(globalThis);
      });
      await page.goto(`${site.origin}/page/far`);
      await page.waitForTimeout(800);
      const sizes = await Promise.all(fetched.map(async (response) => (await response.body()).length));
      const bytes = sizes.reduce((sum, one) => sum + one, 0);
      assert.ok(bytes > 0 && bytes <= LIGHT_BYTES, `${bytes} bytes: ${fetched.map((one) => one.url())}`);
      assert.deepEqual(fetched.map((one) => new URL(one.url()).pathname.replace(/-[\w-]{8}\.js$/, '.js')).sort(), ['/viewer/ganosis-view.js', '/viewer/internal/parts/ganosis-view.js']);
      const blocking = await page.evaluate(() => performance.getEntriesByType('resource').filter((one) => one.renderBlockingStatus === 'blocking').map((one) => one.name).filter((name) => name.includes('/viewer/')));
      assert.deepEqual(blocking, [], 'nothing of it keeps the page from being painted');
      // Nothing is asked for until it is near: then the poster is there before the object.
      site.mounts.dossier = async (response, path) => {
        if (path !== 'state-0.png' && path !== 'dossier.json') await new Promise((done) => { setTimeout(done, 700); });
        await sendFile(response, folder, path);
      };
      await page.evaluate(() => document.querySelector('#under').scrollIntoView());
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[part="poster"]')?.naturalWidth > 0);
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[part="poster"]').alt), 'Squares');
      await allReady(page);
      site.mounts.dossier = folder;
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[part="poster"]')), null);
      await page.waitForTimeout(300);
      assert.deepEqual(await page.evaluate(() => globalThis.shifts), [], 'layout shifts');
      assert.deepEqual(await page.evaluate(() => [document.adoptedStyleSheets.length, document.styleSheets.length, document.querySelectorAll('style').length]), [0, 1, 0], 'no style of the page is ours');
      assert.deepEqual(await page.evaluate(() => Object.keys(globalThis).filter((name) => !globalThis.known.includes(name) && name !== 'known')), [], 'no global');
      await page.close();
    });

    test('a hostile style sheet and a strict policy change nothing inside', async () => {
      const CAMERA = facing(2.5);
      const look = async (name) => {
        const page = await newPage();
        await page.goto(`${site.origin}/page/${name}`);
        await allReady(page);
        await settled(page);
        await setView(page, { left: 'as-found', compare: 'one', camera: CAMERA });
        const found = await page.evaluate(() => {
          const room = document.querySelector('ganosis-view').shadowRoot;
          const of = (selector) => {
            const style = getComputedStyle(room.querySelector(selector));
            return ['color', 'fontSize', 'fontStyle', 'fontFamily', 'lineHeight', 'letterSpacing', 'wordSpacing', 'textTransform', 'textIndent', 'whiteSpace', 'textAlign', 'boxSizing', 'display', 'margin', 'padding', 'cursor'].map((name) => `${name} ${style[name]}`);
          };
          return { styles: ['.room', '.plate', '.choose .title', '.page', '.stage canvas'].map(of) };
        });
        const bytes = await snapshot(page, 300, 300);
        const patch_px = 300 / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360)) / 6;
        const wanted = colourOf(0, 3, 3);
        colourAt(bytes, 300, 150 + patch_px / 2, 150 + patch_px / 2).slice(0, 3).forEach((value, c) => assert.ok(Math.abs(value - wanted[c]) <= 1, `${value}, wanted ${wanted[c]}`));
        await page.close();
        return found;
      };
      pages.plain = `${head()}${element()}`;
      pages.hostile = `${head('<link rel="stylesheet" href="hostile.css">')}${element()}`;
      const [plain, hostile] = [await look('plain'), await look('hostile')];
      assert.deepEqual(hostile.styles, plain.styles);
    });

    test('attributes say what is seen, now and later; parts and properties style it', async () => {
      pages.attributes = `${head()}${element('view="v-near" position="0.25" controls="compare"')}`;
      const page = await newPage();
      await page.goto(`${site.origin}/page/attributes`);
      await allReady(page);
      const told = await page.evaluate(async () => {
        const one = document.querySelector('ganosis-view');
        const seen = () => [one.view.left, one.view.compare, one.view.position, one.view.language];
        const shown = (selector) => one.shadowRoot.querySelector(selector)?.checkVisibility() ?? false;
        const steps = [[...seen(), Number(one.view.camera.distance_m.toFixed(3)), shown('.plate'), shown('.pages')]];
        one.setAttribute('state', 'as-found');
        steps.push(seen());
        one.setAttribute('compare', 'blend');
        one.setAttribute('language', 'de');
        one.setAttribute('controls', 'none');
        await new Promise((done) => { setTimeout(done, 500); });
        steps.push([...seen(), shown('.plate')]);
        one.setAttribute('controls', 'full');
        one.style.setProperty('--ganosis-ink', 'rgb(0, 0, 102)');
        steps.push([shown('.pages'), getComputedStyle(one.shadowRoot.querySelector('.choose .title')).color, one.shadowRoot.querySelectorAll('[part]').length >= 4]);
        return steps;
      });
      assert.deepEqual(told, [
        ['evidence', 'one', 0.25, 'en', 0.9, true, false], ['as-found', 'one', 0.25, 'en'], ['as-found', 'blend', 0.25, 'de', false], [true, 'rgb(0, 0, 102)', true],
      ]);
      await page.close();
    });

    test('ten elements share one module and one device; only what is seen is drawn', async () => {
      pages.ten = `${head()}${Array.from({ length: 10 }, (_, index) => `<p>${index}</p>${element(`class="low" controls="none" left="as-found" right="evidence" compare="swipe" position="${index / 10}"`)}`).join('')}`;
      const page = await newPage();
      const asked = [];
      page.on('request', (request) => { if (request.url().endsWith('.wasm')) asked.push(request.url()); });
      await page.addInitScript(() => {
        globalThis.contexts = [];
        globalThis.devices = 0;
        globalThis.most = 0;
        globalThis.drawn = 0;
        globalThis.drawn_unseen = 0;
        const told = () => {
          globalThis.most = Math.max(globalThis.most, globalThis.devices + globalThis.contexts.filter((one) => !one.isContextLost()).length);
        };
        /** Every drawing while the element that it is for cannot be seen. */
        const draws = (canvas) => {
          globalThis.drawn += 1;
          const box = canvas?.getRootNode().host?.getBoundingClientRect();
          if (box && (box.bottom <= 0 || box.top >= innerHeight)) globalThis.drawn_unseen += 1;
        };
        const count = (type, names, canvas) => {
          for (const name of names) {
            const method = type?.prototype[name];
            if (method) type.prototype[name] = function counted(...values) { draws(canvas(this)); return method.apply(this, values); };
          }
        };
        const own = HTMLCanvasElement.prototype.getContext;
        let shown = null;
        HTMLCanvasElement.prototype.getContext = function counted(kind, ...rest) {
          const context = own.call(this, kind, ...rest);
          if (kind === 'webgl2' && context && !globalThis.contexts.includes(context)) globalThis.contexts.push(context);
          if (kind === 'webgpu') shown = this;
          told();
          return context;
        };
        count(globalThis.WebGL2RenderingContext, ['drawElements', 'drawElementsInstanced', 'drawArrays', 'drawArraysInstanced'], (context) => context.canvas);
        // With one device at a time what is drawn is for the canvas that was last given a context.
        count(globalThis.GPURenderPassEncoder, ['draw', 'drawIndexed'], () => shown);
        const request = globalThis.GPUAdapter?.prototype.requestDevice;
        if (request) {
          globalThis.GPUAdapter.prototype.requestDevice = async function counted(...values) {
            const device = await request.apply(this, values);
            globalThis.devices += 1;
            told();
            void device.lost.then(() => { globalThis.devices -= 1; });
            return device;
          };
        }
      });
      await page.goto(`${site.origin}/page/ten`);
      const states = () => page.evaluate(() => [...document.querySelectorAll('ganosis-view')].map((one) => (one.resting ? 'rests' : one.view ? 'lives' : 'waits')));
      // Whoever scrolls down sees one after the other come; those below wait for it.
      await page.evaluate(() => document.querySelector('ganosis-view').ready);
      assert.equal((await states()).at(-1), 'waits');
      for (let index = 0; index < 10; index += 1) {
        await page.evaluate((at) => {
          const one = document.querySelectorAll('ganosis-view')[at];
          one.scrollIntoView({ block: 'center' });
          return one.ready;
        }, index);
      }
      await page.waitForFunction(() => [...document.querySelectorAll('ganosis-view')].filter((one) => !one.resting).length <= 1, null, { timeout: 30_000 });
      assert.ok((await states()).every((state) => state !== 'waits'));
      assert.equal(await page.evaluate(() => globalThis.most), 1, 'never two devices at once');
      assert.ok(await page.evaluate(() => globalThis.drawn) > 0);
      assert.equal(await page.evaluate(() => globalThis.drawn_unseen), 0, 'nothing is drawn that is not in view');
      // Each that is in view shows its own picture, alive or not: patches left and right of its divider.
      const reader = await chromium.newPage();
      for (const top of [0, 500, 1000]) {
        await page.evaluate((y) => scrollTo(0, y), top);
        await page.waitForTimeout(500);
        const places = [];
        for (let index = 0; index < 10; index += 1) {
          const one = page.locator('ganosis-view').nth(index);
          const box = await one.boundingBox();
          if (box.y < 0 || box.y + box.height > 700) continue;
          const { camera, position } = await page.evaluate((at) => document.querySelectorAll('ganosis-view')[at].view, index);
          assert.equal(position, index / 10);
          const scale = box.height / (2 * camera.distance_m * Math.tan((camera.fov_deg * Math.PI) / 360));
          for (const [column, row] of [[0, 2], [1, 3], [4, 2], [5, 3]]) {
            const x = box.x + box.width / 2 + ((column + 0.5) / 6 - 0.5) * scale;
            const divider = box.x + box.width * position;
            // The divider's line and grip lie over what is within a few pixels of it.
            if (Math.abs(x - divider) > 30) places.push({ index, x, y: box.y + box.height / 2 + ((row + 0.5) / 6 - 0.5) * scale, wanted: colourOf(x < divider ? 0 : 1, column, row) });
          }
        }
        assert.ok(new Set(places.map(({ index }) => index)).size >= 3, 'several are in view');
        const image = (await page.screenshot()).toString('base64');
        const found = await reader.evaluate(async ([text, all]) => {
          const bitmap = await createImageBitmap(new Blob([Uint8Array.from(atob(text), (one) => one.charCodeAt(0))], { type: 'image/png' }), { colorSpaceConversion: 'none' });
          const drawing = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
          drawing.drawImage(bitmap, 0, 0);
          return all.map(({ x, y }) => [...drawing.getImageData(Math.round(x), Math.round(y), 1, 1).data.subarray(0, 3)]);
        }, [image, places]);
        for (const [at, { index, wanted }] of places.entries()) {
          // A still goes through the browser's own colour management once more: two codes.
          assert.ok(wanted.every((value, c) => Math.abs(value - found[at][c]) <= 2), `element ${index}: wanted ${wanted}, found ${found[at]}`);
        }
      }
      await reader.close();
      const modules = asked.map((url) => url.split('/').pop()).sort();
      assert.deepEqual(modules, ['porter_bg.wasm', `viewer-${backend}_bg.wasm`], 'each module is fetched once');
      // A view set on one that rests is drawn, and kept when it rests again.
      await page.evaluate(() => scrollTo(0, 0));
      const view = await page.evaluate(async () => {
        const [first, second] = document.querySelectorAll('ganosis-view');
        first.view = { position: 0.77 };
        await first.snapshot({ width: 20, height: 20 });
        const alive = [...document.querySelectorAll('ganosis-view')].filter((one) => !one.resting).length;
        await second.snapshot({ width: 20, height: 20 });
        return [first.resting, first.view.position, second.resting, alive];
      });
      assert.deepEqual(view, [true, 0.77, false, 1]);
      // The one alive is out of sight: a changed view draws nothing until it is seen.
      await page.evaluate(() => scrollTo(0, 600));
      await page.waitForTimeout(300);
      const unseen = await page.evaluate(async () => {
        const second = document.querySelectorAll('ganosis-view')[1];
        const start = globalThis.drawn;
        second.view = { position: 0.33 };
        await new Promise((done) => { setTimeout(done, 300); });
        const away = globalThis.drawn - start;
        scrollTo(0, 0);
        await new Promise((done) => { setTimeout(done, 500); });
        return [second.resting, away, globalThis.drawn - start > 0];
      });
      assert.deepEqual(unseen, [false, 0, true]);
      // A still is taken up by pressing on it.
      await page.locator('ganosis-view').first().locator('.wake').press('Enter');
      await page.waitForFunction(() => !document.querySelector('ganosis-view').resting);
      await page.evaluate(() => document.querySelector('ganosis-view').ready);
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').view.position), 0.77);
      assert.deepEqual((await violations(page)).filter((line) => !/^(region|page-has-heading-one|landmark)/.test(line)), []);
      await page.close();
    });

    test('an element far away gives its device back and comes again with its view', async () => {
      pages.away = `${head()}${element()}<div class="far"></div>`;
      const page = await newPage();
      await page.goto(`${site.origin}/page/away`);
      await allReady(page);
      await page.evaluate(() => { document.querySelector('ganosis-view').view = { position: 0.61, left: 'evidence' }; });
      await page.evaluate(() => scrollTo(0, 5000));
      await page.waitForFunction(() => document.querySelector('ganosis-view').resting, null, { timeout: 20_000 });
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').dossier.id), 'patches');
      await page.evaluate(() => scrollTo(0, 0));
      await page.waitForFunction(() => !document.querySelector('ganosis-view').resting, null, { timeout: 20_000 });
      await allReady(page);
      assert.deepEqual(await page.evaluate(() => { const { position, left } = document.querySelector('ganosis-view').view; return [position, left]; }), [0.61, 'evidence']);
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.room').length), 1);
      await page.close();
    });

    test('a frame answers the one page that its address names', async () => {
      const anywhere = async (response, path) => {
        response.setHeader('content-security-policy', STRICT.replace("base-uri", "frame-ancestors *; base-uri"));
        await sendFile(response, process.env.GANOSIS_VIEWER, path);
      };
      const theirs = await serveSite({ dossier: folder, viewer: anywhere });
      site.mounts.around = (response) => {
        response.setHeader('content-security-policy', `default-src 'none'; frame-src ${theirs.origin}`);
        sendBytes(response, Buffer.from('<!doctype html><title>Around</title><iframe title="The object" width="700" height="500"></iframe>'), 'text/html');
      };
      const page = await newPage();
      const open = async (named) => {
        await page.goto(`${site.origin}/around`);
        return page.evaluate(([origin, name, kind]) => new Promise((done) => {
          globalThis.heard = [];
          const frame = document.querySelector('iframe');
          addEventListener('message', ({ data, source }) => {
            if (source !== frame.contentWindow) return;
            globalThis.heard.push(data);
            if (data.tell === 'ready') done('ready');
          });
          const query = new URLSearchParams({ src: '../dossier/', controls: 'none', backend: kind, ...(name && { page: name }) });
          frame.src = `${origin}/viewer/embed.html?${query}`;
          setTimeout(() => done('silence'), name === location.origin ? 60_000 : 6000);
        }), [theirs.origin, named, backend]);
      };
      const ask = (message) => page.evaluate(([origin, question]) => new Promise((done) => {
        addEventListener('message', ({ data }) => { if (data.id === question.id) done(data.answer instanceof Blob ? data.answer.type : data.refused ?? data.answer); });
        document.querySelector('iframe').contentWindow.postMessage(question, origin);
        setTimeout(() => done('silence'), 5000);
      }), [theirs.origin, message]);
      assert.equal(await open(site.origin), 'ready');
      assert.equal(await page.evaluate(() => globalThis.heard.find(({ tell }) => tell === 'ready').dossier.id), 'patches');
      assert.equal((await ask({ ganosis: 1, id: 1, ask: 'set-view', view: { left: 'evidence', compare: 'one' } })).left, 'evidence');
      assert.equal((await ask({ ganosis: 1, id: 2, ask: 'view' })).compare, 'one');
      assert.equal(await ask({ ganosis: 1, id: 3, ask: 'picture', width: 40, height: 30 }), 'image/png');
      assert.match(await ask({ ganosis: 1, id: 4, ask: 'constructor' }), /knows no question/);
      assert.match(await ask({ ganosis: 1, id: 5, ask: 'picture', width: 1e6, height: 1 }), /up to 2048/);
      assert.equal(await ask({ ganosis: 2, id: 6, ask: 'view' }), 'silence', 'another version');
      assert.equal(await open('https://elsewhere.example'), 'silence');
      assert.equal(await ask({ ganosis: 1, id: 7, ask: 'view' }), 'silence');
      assert.deepEqual(await page.evaluate(() => globalThis.heard), []);
      await page.close();
      await theirs.stop();
    });

    test('no script on the page failed', () => assert.deepEqual(failures, []));
  });
}

describe('examples and the package', () => {
  const room = mkdtempSync(join(tmpdir(), 'ganosis-package-'));
  after(() => rmSync(room, { recursive: true, force: true }));

  test('the pages around the element work as they stand, also in React', { skip: !process.env.GANOSIS_DEMO && 'GANOSIS_DEMO is not set' }, async () => {
    const examples = join(room, 'examples');
    cpSync(join(WEB, 'examples'), examples, { recursive: true });
    await build({ entryPoints: [join(WEB, 'examples/react/boss.jsx')], outfile: join(examples, 'react/boss.js'), bundle: true, format: 'esm', jsx: 'automatic', logLevel: 'error', nodePaths: [fileURLToPath(new URL('node_modules', import.meta.url))], define: { 'process.env.NODE_ENV': '"production"' } });
    const site = await serveSite({ examples: async (response, path) => {
      response.setHeader('content-security-policy', `${STRICT}; frame-src 'self'`);
      await sendFile(response, examples, path);
    }, viewer: process.env.GANOSIS_VIEWER, 'sallowmere-boss': process.env.GANOSIS_DEMO });
    const chromium = await browser('webgl2');
    const failures = [];
    try {
      const page = await chromium.newPage({ viewport: { width: 1000, height: 800 }, reducedMotion: 'reduce' });
      // Two large dossiers on one page, drawn by software, keep a page busy.
      page.setDefaultTimeout(120_000);
      page.on('pageerror', (error) => failures.push(error.message));
      await page.goto(`${site.origin}/examples/plain.html`);
      await page.waitForFunction(() => document.querySelector('ganosis-view').ready);
      await page.evaluate(() => document.querySelector('ganosis-view').ready);
      await page.locator('button', { hasText: 'Two hypotheses' }).click();
      assert.deepEqual(await page.evaluate(() => { const { left, right } = document.querySelector('#whole').view; return [left, right]; }), ['hypothesis-a', 'hypothesis-b']);
      assert.deepEqual(await violations(page), []);

      await page.goto(`${site.origin}/examples/course.html`);
      const seen = page.locator('#seen');
      await seen.filter({ hasText: /\w/ }).waitFor({ timeout: 60_000 });
      await page.locator('button', { hasText: 'Two opinions' }).click();
      await seen.filter({ hasText: 'O. M.' }).waitFor();
      await page.locator('button', { hasText: 'As found' }).click();
      await seen.filter({ hasText: 'As found' }).waitFor();

      await page.goto(`${site.origin}/examples/react/boss.html`);
      await page.waitForFunction(() => document.querySelector('ganosis-view')?.dossier);
      await page.evaluate(() => document.querySelector('ganosis-view').ready);
      await page.locator('button', { hasText: 'By the evidence' }).click();
      await page.locator('output', { hasText: 'evidence-based' }).waitFor();
      assert.equal(await page.evaluate(() => document.querySelector('ganosis-view').view.compare), 'one');
      assert.deepEqual(failures, []);
    } finally {
      await chromium.close();
      await site.stop();
    }
  });

  test('the package packs, installs, resolves and types', () => {
    const npm = (folder, ...args) => execFileSync('npm', args, { cwd: folder, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
    const [{ filename, files }] = JSON.parse(npm(process.env.GANOSIS_VIEWER, 'pack', '--json', '--pack-destination', room));
    const paths = files.map(({ path }) => path);
    for (const needed of ['ganosis-view.js', 'index.d.ts', 'types.d.ts', 'custom-elements.json', 'README.md', 'viewer/viewer-webgl2_bg.wasm', 'styles/room.css', 'messages/ar.json']) assert.ok(paths.includes(needed), needed);
    const user = join(room, 'user');
    mkdirSync(user);
    writeFileSync(join(user, 'package.json'), '{"name": "user", "private": true, "type": "module"}');
    npm(user, 'install', '--offline', '--no-audit', '--no-fund', join(room, filename));
    const resolved = execFileSync('node', ['--input-type=module', '-e', 'console.log(import.meta.resolve("ganosis-view"), import.meta.resolve("ganosis-view/custom-elements.json"))'], { cwd: user, encoding: 'utf8' });
    assert.match(resolved, /ganosis-view\/ganosis-view\.js .*custom-elements\.json/);
    const tsc = (source) => {
      writeFileSync(join(user, 'page.ts'), source);
      try {
        execFileSync(join(WEB, 'node_modules/.bin/tsc'), ['--noEmit', '--strict', '--module', 'esnext', '--moduleResolution', 'bundler', '--target', 'es2022', '--lib', 'es2023,dom,dom.iterable', '--types', '', 'page.ts'], { cwd: user, encoding: 'utf8' });
        return '';
      } catch (error) {
        return error.stdout;
      }
    };
    assert.equal(tsc(`import "ganosis-view"; import { GanosisView, type View } from "ganosis-view";
      const one = document.querySelector("ganosis-view")!;
      one.addEventListener("viewchange", ({ detail }) => { const view: View = detail; one.view = { left: view.right }; });
      const made: GanosisView = new GanosisView(); export const shown: string | undefined = made.dossier?.title;`.replace('const made: GanosisView', 'const made')), '');
    assert.match(tsc('const one = document.querySelector("ganosis-view")!; import "ganosis-view"; one.view = { left: 3 };'), /not assignable/);
    const manifest = JSON.parse(readFileSync(join(user, 'node_modules/ganosis-view/custom-elements.json'), 'utf8'));
    assert.equal(manifest.modules[0].declarations[0].tagName, 'ganosis-view');
  });
});
