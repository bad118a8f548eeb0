// What lies over the object is seen over any object: words by 4.5:1, grips, pins, lines and rings by 3:1 (WCAG 2.2, 1.4.3 and
// 1.4.11), read from what is on the screen over white, black, red and a noisy texture.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { png, writeDossier } from './fixture.mjs';
import { BACKENDS, browser, openReady, seeing, setView, settled } from './harness.mjs';
import { decode } from './pictures.mjs';
import { serveSite } from './site.mjs';

const SIDE = 256;
/** Any number of 32 bits, mixed (the finaliser of MurmurHash3). */
const mixed = (n) => {
  let h = Math.imul(n ^ (n >>> 16), 0x85ebca6b);
  h = Math.imul(h ^ (h >>> 13), 0xc2b2ae35);
  return (h ^ (h >>> 16)) >>> 0;
};
const GROUNDS = {
  white: () => [255, 255, 255], black: () => [0, 0, 0], red: () => [255, 0, 0],
  noise: (x, y) => [0, 1, 2].map((c) => mixed(y * SIDE * 4 + x * 4 + c + 1) & 255),
};
/** The square is larger than the picture: no ground but its own is seen. */
const CAMERA = seeing(0.5);
const WORDS = 4.5;
const SIGNS = 3;
/** A sign is told by so many pixels at least: a stroke of a pixel and a half, 20 px long. */
const LEAST_PX = 30;
const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
const mean = (values) => values.reduce((sum, value) => sum + value, 0) / values.length;

for (const backend of Object.keys(BACKENDS)) {
  describe(`contrast over any object on ${backend}`, () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-contrast-'));
    let site;
    let chromium;
    let page;
    let reader;

    before(async () => {
      const document = writeDossier(folder);
      const names = Object.keys(GROUNDS);
      for (const [name, colour] of Object.entries(GROUNDS)) writeFileSync(join(folder, `${name}.png`), png(SIDE, SIDE, 3, colour));
      document.layers = names.map((id) => ({ id, kind: 'colour', title: id, colour_space: 'srgb', images: [{ sheet: 'front', file: `${id}.png`, width_px: SIDE, height_px: SIDE }] }));
      document.states = names.map((id) => ({ id: `s-${id}`, kind: 'hypothetical', title: id, layers: [id] }));
      document.claims = [];
      document.pins = [{ id: 'p1', title: 'A spot', text: 'Here.', anchor: { sheet: 'front', uv: [0.4, 0.4], position_m: [-0.1, 0.1, 0], normal: [0, 0, 1] } }];
      writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
      site = await serveSite({ dossier: folder });
      chromium = await browser(backend);
      page = await chromium.newPage({ viewport: { width: 900, height: 760 }, reducedMotion: 'reduce' });
      reader = await chromium.newPage();
      await openReady(page, site.address('dossier/'), backend);
      await settled(page);
    });
    after(async () => {
      await chromium?.close();
      await site?.stop();
      rmSync(folder, { recursive: true, force: true });
    });

    /** Luminance of what is on the screen: a function of a place in it. */
    const screen = async () => {
      const bytes = await page.screenshot({ timeout: 120_000 });
      const { width, text } = await reader.evaluate(async (data) => {
        const bitmap = await createImageBitmap(await (await fetch(`data:image/png;base64,${data}`)).blob(), { colorSpaceConversion: 'none' });
        const drawing = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
        drawing.drawImage(bitmap, 0, 0);
        const { data: all } = drawing.getImageData(0, 0, bitmap.width, bitmap.height);
        let codes = '';
        for (let at = 0; at < all.length; at += 8192) codes += String.fromCharCode(...all.subarray(at, at + 8192));
        return { width: bitmap.width, text: btoa(codes) };
      }, bytes.toString('base64'));
      const pixels = Buffer.from(text, 'base64');
      return (x, y) => [0.2126, 0.7152, 0.0722].reduce((sum, share, c) => sum + share * decode(pixels[4 * (y * width + x) + c]), 0);
    };
    const show = async (name, view) => {
      await setView(page, { left: `s-${name}`, right: `s-${name}`, third: `s-${name}`, fourth: `s-${name}`, count: 2, position: 0.5, angle_deg: 0, camera: CAMERA, pin: null, region: null, light: { mode: 'as-measured' }, ...view });
      await settled(page);
    };
    const root = () => page.locator('ganosis-view');
    const boxes = (selector) => root().locator(selector).evaluateAll((all) => all.filter((one) => one.checkVisibility()).map((one) => one.getBoundingClientRect()).map(({ x, y, width, height }) => ({ x, y, width, height })));
    const within = ({ x, y, width, height }, inset = 0) => {
      const places = [];
      for (let v = Math.ceil(y + inset); v < y + height - inset - 1; v += 1) for (let u = Math.ceil(x + inset); u < x + width - inset - 1; u += 1) places.push([u, v]);
      return places;
    };
    const hide = (hidden) => root().evaluate((one, value) => {
      for (const part of one.shadowRoot.querySelectorAll('.pins, .divider, .stem, .lamp-grip, .lamp-ring, .scale-room, .said, .panes, .measured-tags, svg.sketch')) part.style.visibility = value ? 'hidden' : '';
    }, hidden);

    /** Words in a box of their own: the ink against the nearest of what is around it. */
    const words = (at, box, what) => {
      const all = within(box, 2).map(([x, y]) => at(x, y)).sort((a, b) => a - b);
      assert.ok(all.length > 50, what);
      const part = (from, to) => mean(all.slice(Math.floor(from * all.length), Math.max(Math.floor(from * all.length) + 1, Math.floor(to * all.length))));
      const light = all[all.length >> 1] > 0.18;
      const got = light ? ratio(part(0, 0.01), part(0.35, 0.4)) : ratio(part(0.99, 1), part(0.6, 0.65));
      assert.ok(got >= WORDS, `${what}: ${got.toFixed(2)}:1`);
    };
    /** A sign: enough of what it changes stands out from what it lies on. */
    const sign = (at, bare, box, what) => {
      const places = within(box);
      const ground = mean(places.map(([x, y]) => bare(x, y)));
      const changed = places.filter(([x, y]) => ratio(at(x, y), bare(x, y)) > 1.1);
      const told = changed.filter(([x, y]) => ratio(at(x, y), ground) >= SIGNS).length;
      assert.ok(told >= LEAST_PX, `${what}: ${told} of ${changed.length} pixels stand out`);
    };

    for (const name of Object.keys(GROUNDS)) {
      test(`over ${name}`, async () => {
        await show(name, { compare: 'swipe' });
        const looks = {
          // The steps lie on a ground of their own, as words do.
          swipe: { signs: ['.divider', '.pin'], words: ['.pin .mark', '.scale-bar', '.step'] },
          loupe: { view: { loupe: { x: 0.5, y: 0.5, radius: 0.25, softness: 0 } }, signs: ['.stem'], words: [] },
          pair: { view: { count: 4 }, signs: [], words: ['.pane .caption'] },
          one: { view: { light: { mode: 'raking', azimuth_deg: -30, elevation_deg: 30, distance_m: 1, softness: 0, strength: 1 } }, signs: ['.lamp-grip.lamp', '.lamp-grip.bead'], words: ['.stamp'] },
        };
        for (const [compare, { view, signs, words: texts }] of Object.entries(looks)) {
          await show(name, { compare, ...view });
          const canvas = await root().locator('.stage canvas').boundingBox();
          const at = await screen();
          await hide(true);
          const bare = await screen();
          const found = {};
          for (const selector of [...signs, ...texts]) found[selector] = await boxes(selector);
          await hide(false);
          for (const selector of signs) {
            assert.ok(found[selector].length > 0, selector);
            for (const box of found[selector]) sign(at, bare, box, `${selector} over ${name}`);
          }
          for (const selector of texts) {
            assert.ok(found[selector].length > 0, selector);
            for (const box of found[selector]) words(at, box, `${selector} over ${name}`);
          }
          // The divider and the rim of the glass are drawn with the object: across them lies something light and something dark.
          const middle = { swipe: [canvas.width / 2, canvas.height * 0.2], loupe: [canvas.width / 2 + 0.25 * Math.min(canvas.width, canvas.height), canvas.height / 2] }[compare];
          if (middle) {
            const [x, y] = [Math.round(canvas.x + middle[0]), Math.round(canvas.y + middle[1])];
            const across = Array.from({ length: 9 }, (_, i) => mean(Array.from({ length: 20 }, (__, j) => at(x - 4 + i, y - 10 + j))));
            const beside = mean([-14, -12, 12, 14].flatMap((dx) => Array.from({ length: 20 }, (_, j) => at(x + dx, y - 10 + j))));
            const most = Math.max(...across.map((value) => ratio(value, beside)));
            assert.ok(most >= SIGNS, `${compare} line over ${name}: ${most.toFixed(2)}:1`);
          }
        }
      });
    }
  });
}
