// The audit page and the page of partings: thousands of findings, the way to each, and paper.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { CROWD, scrollThrough, writeCrowd } from './crowd.mjs';
import { mountsWithDesk, openDossier } from './desk.mjs';
import { browser, getView, violations } from './harness.mjs';
import { serveSite } from './site.mjs';

const { findings: FINDINGS, pins: PINS } = CROWD;

describe('audit page', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-audit-'));
  let site;
  let chromium;
  const failures = [];

  before(async () => {
    writeCrowd(folder);
    site = await serveSite(mountsWithDesk(folder));
    chromium = await browser('webgl2', { coarse: true });
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  const newPage = async (options = {}) => {
    const page = await chromium.newPage({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce', ...options });
    page.on('pageerror', (error) => failures.push(error.message));
    return page;
  };

  for (const { width, colorScheme, language } of [{ width: 1280, colorScheme: 'light', language: 'en' }, { width: 360, colorScheme: 'dark', language: 'ar' }]) {
    test(`axe finds nothing on either page, ${width} px wide, ${colorScheme}, ${language}`, async () => {
      const page = await newPage({ viewport: { width, height: 800 }, colorScheme });
      const view = await openDossier(page, site, `&language=${language}`);
      for (const name of ['audit', 'partings']) {
        await view.locator(`[data-page="${name}"]`).click();
        await view.locator('.finding, .parting:not(.titles)').first().waitFor();
        assert.deepEqual(await violations(page), [], name);
        if (name === 'audit') assert.ok(await view.locator('.finding .sentence [lang="en"]').count() > 0, 'a sentence that the page has no words for is English, and says so');
      }
      await page.close();
    });
  }

  test('five thousand findings: a handful in the page, every one reached by scrolling, keys go from one to the next', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    await view.locator('[data-page="audit"]').click();
    await view.locator('.finding').first().waitFor();
    assert.match(await view.locator('.audit [role="status"]').innerText(), /5,000 findings/);
    assert.ok(await scrollThrough(page, 100, '.finding') < 40);
    const content = view.locator('.content');
    for (let tries = 0; tries < 8; tries += 1) {
      await content.evaluate((room) => { room.scrollTop = room.scrollHeight; });
      await page.waitForTimeout(60);
    }
    assert.equal(await view.locator('.finding', { hasText: `Finding ${FINDINGS - 1}` }).count(), 1, 'the last one is there at the end');
    await content.evaluate((room) => { room.scrollTop = 0; });
    await view.locator('.finding', { hasText: 'Finding 0,' }).locator('.sentence').focus();
    const focused = () => page.evaluate(() => document.querySelector('ganosis-view').shadowRoot.activeElement?.textContent ?? '');
    for (let step = 1; step <= 30; step += 1) {
      await page.keyboard.press('ArrowDown');
      assert.ok((await focused()).startsWith(`Finding ${step}`), `after ${step} steps: ${await focused()}`);
    }
    await page.close();
  });

  test('filters by severity and by rule are kept, and so is the place in the list', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    await view.locator('[data-page="audit"]').click();
    await view.locator('.finding').first().waitFor();
    await view.locator('.tally').first().click();
    assert.equal(await view.locator('.finding [data-severity="error"]').count(), 0);
    await view.locator('.filters select').selectOption('few-readings');
    assert.deepEqual([...new Set(await view.locator('.finding').evaluateAll((all) => all.map((one) => one.dataset.rule)))], ['few-readings']);
    await view.locator('.content').evaluate((room) => { room.scrollTop = 6000; });
    await page.waitForTimeout(200);
    const button = view.locator('.finding .sentence').nth(4);
    const sentence = await button.innerText();
    await button.click();
    await view.locator('.back').click();
    await view.locator('.finding').first().waitFor();
    await page.waitForTimeout(300);
    assert.equal(await view.locator('.filters select').inputValue(), 'few-readings');
    const top = await view.locator('.content').evaluate((room) => room.scrollTop);
    assert.ok(Math.abs(top - 6000) < 400, `scrolled to ${top}`);
    assert.equal(await view.locator('.finding', { hasText: sentence }).count(), 1);
    await page.close();
  });

  test('a finding leads there: the camera looks at its place and the card opens', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    const before_that = (await getView(page)).camera;
    await page.evaluate((camera) => { document.querySelector('ganosis-view').view = { camera: { ...camera, azimuth_deg: 40, target_m: [0.3, 0.2, 0] } }; }, before_that);
    await view.locator('[data-page="audit"]').click();
    await view.locator('.sentence').first().click();
    await view.locator('.claim').first().waitFor();
    await page.waitForFunction(() => Math.hypot(...document.querySelector('ganosis-view').view.camera.target_m) < 1e-6);
    const { camera, region } = await getView(page);
    assert.ok(Math.abs(camera.azimuth_deg) < 1e-6 && camera.distance_m < before_that.distance_m);
    assert.equal(region, 'column-3');
    await view.locator('.back').click();
    await view.locator('.sentence').nth(2).click();
    await view.locator('.card .evidence[open]').waitFor();
    await page.close();
  });

  test('where two states part: a row a region, and the way there', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    await view.locator('[data-page="partings"]').click();
    await view.locator('.parting:not(.titles)').first().waitFor();
    assert.equal(await view.locator('.parting:not(.titles)').count(), 2);
    assert.match(await view.locator('.parting[data-region="column-3"]').innerText(), /Column 3[\s\S]*98 cm²[\s\S]*Observed[\s\S]*Azurite[\s\S]*Measured/);
    await view.locator('.parting[data-region="column-3"] .row').click();
    assert.equal((await getView(page)).region, 'column-3');
    await page.evaluate(() => { document.querySelector('ganosis-view').view = { right: 'irr' }; });
    await view.locator('[data-page="partings"]').click();
    assert.match(await view.locator('.partings [role="status"]').innerText(), /band image/);
    await page.close();
  });

  for (const format of ['A4', 'Letter']) {
    test(`partings on paper, ${format}: all of the table within the page, without buttons and pictures cut off`, async () => {
      const page = await newPage();
      const view = await openDossier(page, site);
      await view.locator('[data-page="partings"]').click();
      await view.locator('.parting:not(.titles)').first().waitFor();
      await page.evaluate(() => { window.print = () => { globalThis.printed = true; }; });
      await view.locator('.partings .action').click();
      await page.waitForFunction(() => globalThis.printed);
      await page.emulateMedia({ media: 'print' });
      // Width of the sheet less 15 mm on either side, at 96 px an inch (CSS Values and Units Level 4).
      const width = Math.floor((((format === 'A4' ? 210 : 215.9) - 30) / 25.4) * 96);
      await page.setViewportSize({ width, height: 1000 });
      const seen = await page.evaluate(() => {
        const room = document.querySelector('ganosis-view').shadowRoot;
        const box = (one) => one.getBoundingClientRect();
        const shown = (one) => one.checkVisibility() && box(one).width > 0;
        return {
          buttons: [...room.querySelectorAll('.plate button, .stage, .wall .head button, .partings .action')].filter(shown).length,
          outside: [...room.querySelectorAll('.parting > *, .print-head *')].filter((one) => shown(one) && (box(one).right > innerWidth + 1 || box(one).left < -1)).length,
          cells: [...room.querySelectorAll('.parting > *')].filter(shown).length,
          picture: [...room.querySelectorAll('.print-picture')].filter(shown).length,
          page_height: document.scrollingElement.scrollHeight, text_bottom: Math.max(...[...room.querySelectorAll('.parting')].map((one) => box(one).bottom)),
        };
      });
      assert.deepEqual([seen.buttons, seen.outside, seen.cells, seen.picture], [0, 0, 15, 1]);
      assert.ok(seen.page_height >= seen.text_bottom - 1, 'nothing is cut off below');
      await page.evaluate(() => { window.dispatchEvent(new Event('afterprint')); });
      assert.equal(await view.locator('.print-head').count(), 0);
      await page.close();
    });
  }

  test('two thousand pins: no mark covers another, each crowd says how many it holds, and going nearer parts them', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    await page.evaluate(() => { document.querySelector('ganosis-view').view = { compare: 'one', camera: { target_m: [0, 0, 0], azimuth_deg: 0, elevation_deg: 0, distance_m: 2.2, fov_deg: 30 } }; });
    await page.waitForTimeout(500);
    const marks = () => view.locator('.pin:not([hidden])').evaluateAll((all) => all.map((one) => {
      const box = one.querySelector('.mark').getBoundingClientRect();
      return { x: box.x, y: box.y, width: box.width, height: box.height, count: Number(one.dataset.count), label: one.getAttribute('aria-label') };
    }));
    const seen = await marks();
    assert.equal(seen.reduce((sum, { count }) => sum + count, 0), PINS, 'every pin stands somewhere');
    assert.ok(seen.length < 400, `${seen.length} marks`);
    for (const [at, a] of seen.entries()) for (const b of seen.slice(at + 1)) {
      assert.ok(a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y, `${a.label} covers ${b.label}`);
    }
    assert.ok(seen.filter(({ count }) => count > 1).every(({ count, label }) => label.includes(String(count))));
    const time = await page.evaluate(async () => {
      const el = document.querySelector('ganosis-view');
      const { camera } = el.view;
      const start = performance.now();
      for (let step = 0; step < 20; step += 1) {
        el.view = { camera: { ...camera, azimuth_deg: step / 10 } };
        await new Promise((done) => { requestAnimationFrame(done); });
      }
      return (performance.now() - start) / 20;
    });
    console.log(`# a frame with ${PINS} pins, drawn without a graphics card: ${time.toFixed(1)} ms`);
    await page.evaluate(() => { const el = document.querySelector('ganosis-view'); el.view = { camera: { ...el.view.camera, azimuth_deg: 0 } }; });
    await page.waitForTimeout(200);
    await view.locator('.pin.crowd:not([hidden])').first().dispatchEvent('click');
    await page.waitForTimeout(500);
    assert.ok((await getView(page)).camera.distance_m < 2.2 * 0.7);
    assert.ok(Math.max(...(await marks()).map(({ count }) => count)) < Math.max(...seen.map(({ count }) => count)));
    await page.close();
  });

  test('fifty thousand observations of one region: a handful in the page while it is scrolled', async () => {
    const page = await newPage();
    const view = await openDossier(page, site);
    await page.evaluate(() => { document.querySelector('ganosis-view').view = { region: 'column-5' }; });
    await view.locator('details.evidence').first().waitFor();
    assert.ok(await scrollThrough(page, 100, 'details.evidence') < 60);
    await view.locator('details.evidence summary').nth(5).click();
    await view.locator('details.evidence[open] dd', { hasText: /^Cu$/ }).waitFor();
    await page.close();
  });

  test('no script on the page failed', () => assert.deepEqual(failures, []));
});
