// Accessibility of every screen (axe-core: WCAG 2 rules and best practices), and everything by keyboard alone.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { writeDossier } from './fixture.mjs';
import { browser, getView, openReady, violations } from './harness.mjs';
import { SCREENS, mountsFor, openScreen } from './screens.mjs';
import { sendFile, serveSite } from './site.mjs';

const SIZES = [{ width: 1280, height: 800 }, { width: 390, height: 844 }];
const THEMES = ['light', 'dark'];
/** Both writing directions, on each size by turns: every screen is seen in both. */
const LANGUAGES = ['en', 'ar'];

describe('screens', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-screens-'));
  let site;
  let chromium;
  const failures = [];

  before(async () => {
    const document = writeDossier(folder);
    document.views = [{ id: 'v1', title: 'The spot itself', view: { pin: 'p1', position: 0.2 } }];
    document.object = { identifier: 'SM 1', date: 'c. 1340', material: 'limestone' };
    document.description = 'Squares of colour.';
    document.evidence[0].attachments = [{ file: 'evidence.csv', media_type: 'text/csv', title: 'Spectrum' }, { file: 'state-0.png', media_type: 'image/png', title: 'Photograph' }];
    writeFileSync(join(folder, 'evidence.csv'), 'energy_kev,counts\n1,10\n2,30\n3,20\n');
    writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
    site = await serveSite(mountsFor(folder, sendFile, ['--without-pictures']));
    chromium = await browser('webgl2', { coarse: true });
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  const newPage = async (options) => {
    const page = await chromium.newPage({ reducedMotion: 'reduce', ...options });
    // Pictures are drawn in software, as a rule beside other work.
    page.setDefaultTimeout(120_000);
    page.on('pageerror', (error) => failures.push(error.message));
    return page;
  };

  for (const [turn, viewport] of SIZES.entries()) {
    test(`axe finds nothing on any screen, ${viewport.width} px wide, light and dark`, async () => {
      const whole = await newPage({ viewport, colorScheme: THEMES[0] });
      for (const [index, screen] of SCREENS.entries()) {
        const language = LANGUAGES[(index + turn) % LANGUAGES.length];
        const said = `${screen.name}, ${language}`;
        // The tablet's worker would answer for the pages after it; a catalogue's own policy keeps axe out.
        const page = screen.at ? await newPage({ viewport, colorScheme: THEMES[0], bypassCSP: screen.plain }) : whole;
        await openScreen(page, site, screen, `&backend=webgl2&language=${language}`);
        assert.deepEqual(await violations(page), [], said);
        // WCAG 2.2, 1.4.10: nothing is cut off at the side.
        const wide = await page.evaluate(() => {
          const room = document.querySelector('ganosis-view')?.shadowRoot.querySelector('.room') ?? document.body;
          return [...room.querySelectorAll('button, a, h2, p')].filter((one) => {
            const box = one.getBoundingClientRect();
            return one.checkVisibility() && box.width > 1 && !one.closest('.unseen, .pins, .pages') && (box.right > innerWidth + 1 || box.left < -1);
          }).map((one) => one.outerHTML.slice(0, 80));
        });
        assert.deepEqual(wide, [], said);
        await page.emulateMedia({ colorScheme: THEMES[1] });
        assert.deepEqual(await violations(page), [], `${said}, ${THEMES[1]}`);
        await page.emulateMedia({ colorScheme: THEMES[0] });
        await screen.leave?.(page);
        if (page !== whole) await page.close();
      }
      await whole.close();
    });
  }

  test('the text alternative follows the view', async () => {
    const page = await newPage({ viewport: SIZES[0] });
    await openReady(page, site.address('dossier/'), 'webgl2');
    const label = page.locator('ganosis-view canvas');
    const says = (text) => page.waitForFunction((words) => document.querySelector('ganosis-view').shadowRoot.querySelector('canvas').getAttribute('aria-label').includes(words), text, { timeout: 5000 });
    await says('As found to the left of the divider, Evidence-based to the right.');
    await page.evaluate(() => { const el = document.querySelector('ganosis-view'); el.view = { compare: 'one', camera: { ...el.view.camera, azimuth_deg: 90 } }; });
    await says('Shows As found.');
    await says('Seen from the right');
    await page.waitForFunction(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('[role="status"]')].some((one) => one.textContent.includes('Seen from the right')), null, { timeout: 5000 });
    assert.equal(await label.getAttribute('tabindex'), '0');
    await page.close();
  });

  test('everything by keyboard alone', async () => {
    const page = await newPage({ viewport: SIZES[0] });
    await openReady(page, site.address('dossier/'), 'webgl2');
    await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.plate'));
    const focused = () => page.evaluate(() => {
      const active = document.querySelector('ganosis-view').shadowRoot.activeElement;
      return active ? `${active.className} ${active.dataset.page ?? active.dataset.pin ?? active.dataset.compare ?? active.dataset.region ?? ''} ${active.tagName}`.toLowerCase() : '';
    });
    /** Presses Tab until the focus is where it should be; fails if it never gets there. */
    const tabTo = async (pattern, key = 'Tab') => {
      for (let step = 0; step < 60; step += 1) {
        if (pattern.test(await focused())) return;
        await page.keyboard.press(key);
      }
      assert.fail(`${key} never reaches ${pattern}`);
    };
    const text = () => page.locator('ganosis-view .wall').innerText();

    await page.evaluate(() => { document.querySelector('ganosis-view').view = { pin: null, position: 0.5 }; });
    await tabTo(/canvas/);
    const start = await getView(page);
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('+');
    await page.keyboard.press('Shift+ArrowUp');
    const moved = (await getView(page)).camera;
    assert.notEqual(moved.azimuth_deg, start.camera.azimuth_deg);
    assert.ok(moved.distance_m < start.camera.distance_m);
    assert.notDeepEqual(moved.target_m, start.camera.target_m);
    await page.keyboard.press('Home');
    await page.waitForFunction(([azimuth]) => document.querySelector('ganosis-view').view.camera.azimuth_deg === azimuth, [start.camera.azimuth_deg]);
    await page.keyboard.press(']');
    await page.keyboard.press('.');
    const turned = await getView(page);
    assert.ok(turned.position > 0.5 && turned.angle_deg > 0);

    await tabTo(/^pin p1/);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.pin === 'p1');
    assert.match(await text(), /Copper was found here/);
    assert.match(await focused(), /h2/, 'the card has the focus');
    await tabTo(/summary/);
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.pin === null);
    assert.match(await focused(), /^pin p1/, 'and gives it back');

    await tabTo(/^divider/);
    const { position } = await getView(page);
    await page.keyboard.press('ArrowRight');
    assert.ok((await getView(page)).position > position);
    await page.keyboard.press('End');
    assert.equal((await getView(page)).position, 1);

    await tabTo(/^choose/);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Enter');
    assert.equal((await getView(page)).left, 'evidence');
    assert.match(await focused(), /^choose/);

    await tabTo(/swipe button/);
    await page.keyboard.press('ArrowRight');
    await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.plate').dataset.compare === 'blend');
    await tabTo(/input/);
    await page.keyboard.press('Home');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.position === 0);

    await tabTo(/^page label/);
    await page.keyboard.press('Enter');
    await tabTo(/^row column-3/);
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.region === 'column-3');
    assert.match(await text(), /Copper at the spot/);
    await page.keyboard.press('Escape');
    await tabTo(/^page light/);
    await page.keyboard.press('Enter');
    await tabTo(/^ *input/);
    await page.keyboard.press('ArrowDown');
    assert.equal((await getView(page)).light.mode, 'raking');
    await page.keyboard.press('Escape');
    await tabTo(/^page about/);
    await page.keyboard.press('Enter');
    assert.match(await text(), /WebGL 2/);
    await page.close();
  });

  for (const [width, height, percent] of [[390, 844, 100], [360, 640, 100], [390, 844, 200], [1280, 800, 200]]) {
    test(`nothing covers the scale, and lists can be chosen from, ${width} px wide with text of ${percent} %`, async () => {
      const page = await newPage({ viewport: { width, height } });
      await openReady(page, site.address('dossier/'), 'webgl2');
      const view = page.locator('ganosis-view');
      await view.locator('.plate').waitFor();
      await page.evaluate((size) => { document.documentElement.style.fontSize = `${size}%`; document.querySelector('ganosis-view').view = { pin: null, light: { mode: 'raking' } }; }, percent);
      await view.locator('.stamp').waitFor();
      const apart = (a, b) => a.x + a.width <= b.x + 0.5 || b.x + b.width <= a.x + 0.5 || a.y + a.height <= b.y + 0.5 || b.y + b.height <= a.y + 0.5;
      for (const open of [false, true]) {
        if (open) await view.locator('[data-page="light"]').click();
        const [stamp, scale] = [await view.locator('.stamp').boundingBox(), await view.locator('.scale-room').boundingBox()];
        assert.ok(apart(stamp, scale), `${JSON.stringify(stamp)} ${JSON.stringify(scale)}`);
        assert.ok(scale.x >= 0 && scale.x + scale.width <= width && stamp.x >= 0, JSON.stringify(scale));
      }
      await page.keyboard.press('Escape');
      for (const end of ['left', 'right']) {
        await view.locator(`.end.${end} .choose`).click();
        // What is at the middle of the first and the last choice is that choice.
        const reached = await view.locator(`.end.${end} [role="option"]`).evaluateAll((all) => [all[0], all.at(-1)].map((option) => {
          option.scrollIntoView({ block: 'nearest' });
          const box = option.getBoundingClientRect();
          return option.contains(option.getRootNode().elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
        }));
        assert.deepEqual(reached, [true, true], end);
        await page.keyboard.press('Escape');
      }
      await page.close();
    });
  }

  test('no script on the page failed', () => assert.deepEqual(failures, []));
});
