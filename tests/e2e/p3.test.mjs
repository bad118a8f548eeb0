// On a screen of Display P3 the picture shows the same colours as the page's own sRGB beside it: on
// WebGPU through a canvas of Display P3, on WebGL 2 through one of sRGB.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { chromium } from 'playwright-core';
import { PATCHES, colourOf, writeDossier } from './fixture.mjs';
import { BACKENDS, CHROMIUM, facing, openReady, serve, setView } from './harness.mjs';

const FOV_DEG = 27;
const DISTANCE_M = 2.6;

/** Puts squares of the page's own colour beside the middles of the patches. */
function layBeside(items) {
  for (const [x, y, code] of items) {
    const square = document.createElement('div');
    square.style.cssText = `position:fixed;left:${x + 4}px;top:${y - 6}px;width:12px;height:12px;background:rgb(${code.join(' ')});z-index:9;pointer-events:none`;
    document.body.append(square);
  }
}

/** Pixels of a picture, on a page without a policy. */
async function pixelsOf([base64, points]) {
  const bitmap = await createImageBitmap(await (await fetch(`data:image/png;base64,${base64}`)).blob(), { colorSpaceConversion: 'none' });
  const drawing = new OffscreenCanvas(bitmap.width, bitmap.height).getContext('2d');
  drawing.drawImage(bitmap, 0, 0);
  return points.map(([x, y]) => [...drawing.getImageData(Math.round(x), Math.round(y), 1, 1).data.slice(0, 3)]);
}

for (const backend of Object.keys(BACKENDS)) {
  test(`on a screen of Display P3, ${backend}`, async () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-p3-'));
    writeDossier(folder);
    const site = await serve(folder);
    const wide = await chromium.launch({
      executablePath: CHROMIUM, args: ['--no-sandbox', '--hide-scrollbars', '--force-color-profile=display-p3-d65', ...BACKENDS[backend]],
    });
    try {
      const page = await wide.newPage({ viewport: { width: 600, height: 700 } });
      await openReady(page, site.address, backend);
      await setView(page, {
        left: 'as-found', right: 'as-found', compare: 'one',
        camera: facing(DISTANCE_M, FOV_DEG),
      });
      await page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.querySelector('[data-page="about"]').click());
      const gamut = backend === 'webgpu' ? 'Display P3' : 'sRGB';
      await page.waitForFunction((name) => document.querySelector('ganosis-view').shadowRoot.querySelector('.wall').innerText.includes(name), gamut);
      await page.keyboard.press('Escape');
      await page.waitForTimeout(300);
      const box = await page.evaluate(() => {
        const { width, height } = document.querySelector('ganosis-view').shadowRoot.querySelector('canvas').getBoundingClientRect();
        return { width, height };
      });
      const scale = box.height / (2 * DISTANCE_M * Math.tan((FOV_DEG / 2) * (Math.PI / 180)));
      const items = [];
      for (let row = 0; row < PATCHES; row += 1) for (let column = 0; column < PATCHES; column += 1) {
        const place = (i) => ((i + 0.5) / PATCHES - 0.5) * scale;
        items.push([box.width / 2 + place(column), box.height / 2 + place(row), colourOf(0, column, row)]);
      }
      await page.evaluate(layBeside, items);
      const picture = (await page.screenshot()).toString('base64');
      const plain = await wide.newPage();
      const points = items.flatMap(([x, y]) => [[x - 4, y], [x + 10, y]]);
      const found = await plain.evaluate(pixelsOf, [picture, points]);
      for (const [i, [, , code]] of items.entries()) {
        const [canvas, beside] = [found[2 * i], found[2 * i + 1]];
        // One code for the canvas's rounding, one for the page's.
        assert.ok(canvas.every((v, c) => Math.abs(v - beside[c]) <= 2), `${code}: canvas ${canvas}, page ${beside}`);
      }
    } finally {
      await wide.close();
      site.stop();
      rmSync(folder, { recursive: true, force: true });
    }
  });
}
