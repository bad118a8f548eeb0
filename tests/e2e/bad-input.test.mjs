// Input that is wrong: each time a message that names the file and says what to do, and a page that goes on working.
import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32, deflateSync } from 'node:zlib';
import { after, before, describe, test } from 'node:test';
import { colourOf, png, squareGlb, writeDossier } from './fixture.mjs';
import { browser, facing, settled, setView, snapshot } from './harness.mjs';
import { colourAt } from './pictures.mjs';
import { sendBytes, sendFile, serveSite } from './site.mjs';

const CAMERA = facing(2.5);

/** A GLB of the square with some bytes of its binary chunk changed. @param change {(bin: DataView) => void} */
function changedGlb(change) {
  const bytes = squareGlb();
  const bin = 20 + bytes.readUInt32LE(12) + 8;
  change(new DataView(bytes.buffer, bytes.byteOffset + bin));
  return bytes;
}

/** A PNG whose header says one size and whose data are of another (ISO/IEC 15948). */
function lyingPng(width, height, channels) {
  const bytes = Buffer.from(png(8, 8, channels, () => [90, 90, 90]));
  bytes.writeUInt32BE(width, 16);
  bytes.writeUInt32BE(height, 20);
  bytes.writeUInt32BE(crc32(bytes.subarray(12, 29)), 29);
  return bytes;
}

/** A small file that unpacks to a very large picture. */
function bombPng() {
  const side = 30_000;
  const row = Buffer.alloc(1 + side);
  const chunk = (type, data) => {
    const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
    const out = Buffer.alloc(body.length + 8);
    out.writeUInt32BE(data.length, 0);
    body.copy(out, 4);
    out.writeUInt32BE(crc32(body), body.length + 4);
    return out;
  };
  const header = Buffer.alloc(13);
  header.writeUInt32BE(side, 0);
  header.writeUInt32BE(side, 4);
  header.set([8, 0, 0, 0, 0], 8);
  const data = deflateSync(Buffer.concat(Array.from({ length: 64 }, () => row)));
  return Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), chunk('IHDR', header), chunk('IDAT', data), chunk('IEND', Buffer.alloc(0))]);
}

/** Files that make the whole unreadable: what is served in their place, and what the page must say. */
const NOTHING_TO_SHOW = {
  'a mesh cut short': ['square.glb', squareGlb().subarray(0, 100), /square\.glb.*(cut|short|end)/is],
  'an empty mesh': ['square.glb', Buffer.alloc(0), /square\.glb/],
  'an index beyond the vertices': ['square.glb', changedGlb((bin) => bin.setUint16(128, 9999, true)), /square\.glb.*ind(ex|ices)/is],
  'positions that are no numbers': ['square.glb', changedGlb((bin) => { for (let i = 0; i < 12; i += 1) bin.setFloat32(4 * i, NaN, true); }), /square\.glb.*(not a number|no number|NaN|finite)/is],
  'a web page in place of a mesh': ['square.glb', Buffer.from('<!doctype html><title>Not found</title>'), /square\.glb/],
  'a missing mesh': ['square.glb', null, /square\.glb/],
  'a dossier that is not JSON': ['dossier.json', Buffer.from('{"format": '), /dossier\.json.*line 1/is],
  'a web page in place of a dossier': ['dossier.json', Buffer.from('<!doctype html><title>Sign in</title>'), /dossier\.json/],
  'a dossier of a later format': ['dossier.json', Buffer.from('{"format": "ganosis-dossier/9", "id": "x"}'), /dossier\.json.*ganosis-dossier\/9/is],
  'no dossier': ['dossier.json', null, /dossier\.json/],
  'a server that refuses': ['dossier.json', 503, /dossier\.json/],
};

/** Files that the rest can be shown without. */
const SHOWN_WITHOUT = {
  'a missing colour image': ['state-1.png', null],
  'a colour image of 0 × 0': ['state-1.png', lyingPng(0, 0, 3)],
  'a colour image whose header lies': ['state-1.png', lyingPng(4000, 4000, 3)],
  'a colour image of absurd size': ['state-1.png', lyingPng(2 ** 31 - 1, 2 ** 31 - 1, 3)],
  'a colour image that is text': ['state-1.png', Buffer.from('not a picture')],
  'a missing band image': ['band.png', null],
  'a band image of 0 × 0': ['band.png', lyingPng(0, 0, 1)],
  'a band image whose header lies': ['band.png', lyingPng(64, 64, 1)],
  'a band image of absurd size': ['band.png', lyingPng(2 ** 31 - 1, 2 ** 31 - 1, 1)],
  'a band image that unpacks to a gigabyte': ['band.png', bombPng()],
  'a band image in colour': ['band.png', png(8, 8, 3, () => [1, 2, 3])],
  'a missing region map': ['regions.png', null],
  'a region map whose header lies': ['regions.png', lyingPng(64, 64, 1)],
};

describe('bad input gets a message and leaves the page working', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-bad-'));
  /** File served otherwise: bytes, a status, null (404), or a function that answers. */
  let instead = {};
  let site;
  let chromium;
  let page;
  let count = 0;
  const failures = [];

  before(async () => {
    writeDossier(folder);
    site = await serveSite({
      dossier: folder,
      trial: async (response, path) => {
        const file = path.split('/').slice(1).join('/');
        if (!(file in instead)) return sendFile(response, folder, file);
        const other = instead[file];
        if (typeof other === 'function') return other(response);
        if (typeof other === 'number' || other === null) return response.writeHead(other ?? 404).end('no');
        return sendBytes(response, other);
      },
    });
    chromium = await browser('webgl2', { coarse: true });
    page = await chromium.newPage({ viewport: { width: 800, height: 600 } });
    page.on('pageerror', (error) => failures.push(error.message));
    await page.goto(`${site.origin}/?backend=webgl2`);
    await page.waitForFunction(() => customElements.get('ganosis-view') && document.querySelector('ganosis-view'));
    await page.evaluate(() => document.querySelector('ganosis-view').setAttribute('patience', '1'));
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  const open = (src) => page.evaluate(async (address) => {
    const element = document.querySelector('ganosis-view');
    element.setAttribute('src', address);
    return element.ready.then(() => null, (error) => error.message);
  }, src);
  const trial = (changes) => {
    instead = changes;
    count += 1;
    return open(`trial/${count}/`);
  };
  const failure = () => page.locator('ganosis-view .failure').innerText();
  const goesOn = async () => {
    assert.equal(await open(`dossier/?${count}`), null);
    assert.equal(await page.locator('ganosis-view .failure').count(), 0);
    assert.deepEqual(failures.splice(0), []);
  };

  for (const [name, [file, content, says]] of Object.entries(NOTHING_TO_SHOW)) {
    test(name, async () => {
      const rejected = await trial({ [file]: content });
      const text = await failure();
      assert.match(text, says);
      assert.ok(rejected.includes(file), `ready says why: ${rejected}`);
      assert.ok(await page.locator('ganosis-view .failure .action').isVisible(), 'and offers to try again');
      await goesOn();
    });
  }

  for (const [name, [file, content]] of Object.entries(SHOWN_WITHOUT)) {
    test(name, async () => {
      assert.equal(await trial({ [file]: content }), null);
      const notice = page.locator('ganosis-view .notice');
      await notice.waitFor({ timeout: 10_000 });
      await notice.locator('summary').click();
      assert.ok((await notice.innerText()).includes(file));
      // Patch of the first state in the middle of the square, upper left of it.
      await setView(page, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA });
      const pixels = await snapshot(page, 300, 300);
      const patch_px = 300 / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360)) / 6;
      const found = colourAt(pixels, 300, 150 - patch_px / 2, 150 - patch_px / 2);
      colourOf(0, 2, 2).forEach((value, c) => assert.ok(Math.abs(value - found[c]) <= 1, `${found}`));
      await goesOn();
    });
  }

  test('a server that falls silent is told of, and tried again', async () => {
    for (const [file, begin] of [['dossier.json', false], ['square.glb', true], ['state-0.png', true]]) {
      let silent = true;
      const bytes = readFileSync(join(folder, file));
      const answer = (response) => {
        if (!silent) return sendBytes(response, bytes);
        response.writeHead(200, { 'content-length': bytes.length });
        if (begin) response.write(bytes.subarray(0, 50));
        return null;
      };
      const rejected = await trial({ [file]: answer });
      const place = page.locator(file === 'state-0.png' ? 'ganosis-view .notice' : 'ganosis-view .failure');
      await place.waitFor({ timeout: 10_000 });
      if (file === 'state-0.png') await place.locator('summary').click();
      else assert.match(rejected, /nothing for 1 second/);
      assert.match(await place.innerText(), new RegExp(`${file.replace('.', '\\.')}[^]*nothing for 1 second|nothing for 1 second[^]*${file.replace('.', '\\.')}`));
      silent = false;
      await place.getByRole('button', { name: 'Try again' }).click();
      await place.waitFor({ state: 'detached', timeout: 10_000 });
      await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-ready]'));
      await setView(page, { left: 'as-found', right: 'as-found', compare: 'one', camera: CAMERA });
      await settled(page, 30_000);
      const found = colourAt(await snapshot(page, 300, 300), 300, 130, 130);
      colourOf(0, 2, 2).forEach((value, c) => assert.ok(Math.abs(value - found[c]) <= 1, `${file}: ${found}`));
    }
    await goesOn();
  });

  test('a view that names what is not there is refused, and the view stays', async () => {
    await trial({});
    const before = await page.evaluate(() => document.querySelector('ganosis-view').view);
    const said = await page.evaluate(() => {
      try {
        document.querySelector('ganosis-view').view = { left: 'no-such-state' };
        return null;
      } catch (error) {
        return error.message;
      }
    });
    assert.match(said, /no-such-state/);
    assert.deepEqual(await page.evaluate(() => document.querySelector('ganosis-view').view), before);
    await goesOn();
  });
});
