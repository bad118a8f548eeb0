// A curator prepares a talk without a mouse and without looking: every control is found by its role and name, as a
// screen reader finds it, and worked by keys; at every step no control in the accessibility tree is without a name.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { browser, getView, openReady } from './harness.mjs';
import { mountsFor } from './screens.mjs';
import { sendFile, serveSite } from './site.mjs';

/** Roles that a person works with (WAI-ARIA 1.2, widget roles). */
const WIDGETS = new Set(['button', 'checkbox', 'combobox', 'link', 'option', 'radio', 'slider', 'spinbutton', 'switch', 'tab', 'textbox', 'searchbox', 'menuitem', 'DisclosureTriangle']);

describe('a curator, by ear and keyboard', () => {
  let site;
  let chromium;
  let page;
  const failures = [];

  before(async () => {
    site = await serveSite(mountsFor(process.env.GANOSIS_DEMO, sendFile));
    chromium = await browser('webgl2', { coarse: true });
    page = await chromium.newPage({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
    page.setDefaultTimeout(60_000);
    page.on('pageerror', (error) => failures.push(error.message));
    await openReady(page, site.address('dossier/'), 'webgl2');
    await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.plate'));
  });
  after(async () => {
    await chromium?.close();
    await site?.stop();
  });

  /** Focus by role and name, then keys. */
  const work = async (role, name, ...keys) => {
    const found = page.getByRole(role, { name }).and(page.locator(':visible')).first();
    await found.waitFor({ state: 'visible' });
    await found.focus();
    for (const key of keys) await page.keyboard.press(key);
  };
  /** What a screen reader would find to work with, each with a name. */
  const tree = async (where) => {
    const client = await page.context().newCDPSession(page);
    const { nodes } = await client.send('Accessibility.getFullAXTree');
    await client.detach();
    const widgets = nodes.filter(({ ignored, role }) => !ignored && WIDGETS.has(role?.value));
    const nameless = widgets.filter(({ name }) => !name?.value?.trim()).map(({ role, properties }) => `${role.value} ${JSON.stringify(properties?.slice(0, 3))}`);
    assert.deepEqual(nameless, [], where);
    assert.ok(widgets.length > 10, `${where}: ${widgets.length} controls`);
  };
  const until = (field, wanted) => page.waitForFunction(([name, value]) => JSON.stringify(document.querySelector('ganosis-view').view[name]) === JSON.stringify(value), [field, wanted]);
  const heard = (pattern) => page.waitForFunction((source) => new RegExp(source).test(document.querySelector('ganosis-view').shadowRoot.querySelector('canvas').getAttribute('aria-label')), pattern.source);

  test('chooses what to compare', async () => {
    await tree('at first');
    await work('button', /^Right/, 'ArrowDown', 'End', 'Enter');
    assert.notEqual((await getView(page)).right, 'evidence-based');
    await work('button', /^Right/, 'ArrowDown', 'Home', 'ArrowDown', 'Enter');
    await heard(/As found to the left of the divider/);
    await work('slider', /^Divider between/, 'PageUp', 'PageUp');
    assert.ok((await getView(page)).position > 0.6);
    await work('combobox', 'How many are compared', 'ArrowDown');
    await until('count', 3);
    await heard(/In strips, in this order: As found/);
    await tree('three strips');
    await work('combobox', 'How many are compared', 'ArrowUp');
    await until('count', 2);
  });

  test('goes through the comparisons', async () => {
    for (const [name, id, words] of [['Blend', 'blend', /%/], ['Loupe', 'loupe', /seen through a loupe/], ['Side by side', 'pair', /Side by side: /], ['In turn', 'blink', / in turn/], ['Difference', 'difference', /Colour differences/]]) {
      await work('radio', name, ' ');
      if ((await getView(page)).compare !== id) await page.keyboard.press('Enter');
      await until('compare', id);
      await heard(words);
      await tree(name);
    }
    await work('slider', 'Only from', 'ArrowRight', 'ArrowRight');
    assert.ok((await getView(page)).difference.threshold > 0);
    await work('radio', 'Swipe', 'Enter');
    await until('compare', 'swipe');
  });

  test('reads what the colours rest on', async () => {
    await work('button', 'Label', 'Enter');
    await tree('label');
    await page.getByRole('heading', { level: 2 }).first().waitFor();
    await work('button', /claims$/, 'Enter');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.region !== null);
    await tree('a region');
    await work('button', 'Grounds', 'Enter');
    await work('radio', 'How sure', ' ');
    await until('overlay', 'certainty');
    await page.getByRole('table').first().waitFor();
    await tree('grounds');
    await work('radio', /^None/, ' ');
  });

  test('lays a band over and turns the lamp', async () => {
    await work('button', 'Layers', 'Enter');
    await work('combobox', 'A band over everything', 'ArrowDown');
    await page.waitForFunction(() => document.querySelector('ganosis-view').view.over !== null);
    await tree('layers');
    await work('combobox', 'A band over everything', 'ArrowUp');
    await until('over', null);
    await work('button', 'Light', 'Enter');
    await work('radio', /^Raking light/, ' ');
    await heard(/raking light/i);
    await tree('light');
    await work('radio', /colours as measured/, ' ');
  });

  test('shows the saved views one after the other, by the keys of a remote control', async () => {
    await work('button', 'Label', 'Enter');
    const { views } = JSON.parse(readFileSync(join(process.env.GANOSIS_DEMO, 'dossier.json'), 'utf8'));
    for (const saved of views) saved.title = saved.title.en ?? saved.title;
    assert.ok(views.length >= 3);
    const shown = async (at) => {
      const { camera, compare, pin, region } = views[at].view;
      await page.waitForFunction(([wanted, way]) => {
        const { view } = document.querySelector('ganosis-view');
        return Math.abs(view.camera.azimuth_deg - wanted.azimuth_deg) < 1e-6 && Math.abs(view.camera.distance_m - wanted.distance_m) < 1e-6 && (way === undefined || view.compare === way);
      }, [camera, compare]);
      const now = await getView(page);
      assert.deepEqual([now.pin, now.region], [pin ?? null, region ?? null], views[at].title);
      await page.waitForFunction((words) => document.querySelector('ganosis-view').shadowRoot.querySelector('.tour-steps').textContent.includes(words), `View ${at + 1} of ${views.length}: ${views[at].title}`);
    };
    await work('button', new RegExp(views[0].title), 'Enter');
    await shown(0);
    await work('button', 'The next view', 'Enter');
    await shown(1);
    await tree('a view of the tour');
    await page.locator('ganosis-view canvas').first().focus();
    for (let at = 2; at < views.length; at += 1) {
      await page.keyboard.press('PageDown');
      await shown(at);
    }
    await page.keyboard.press('PageDown');
    await shown(views.length - 1);
    await page.keyboard.press('PageUp');
    await shown(views.length - 2);
    await page.evaluate(() => { document.querySelector('ganosis-view').view = { pin: null, region: null, compare: 'swipe', light: { mode: 'as-measured' } }; });
  });

  test('measures, and keeps a reading', async () => {
    await work('button', /^Measure$/, 'Enter');
    await page.locator('ganosis-view .crosshair').waitFor({ state: 'visible' });
    await page.locator('ganosis-view .crosshair').focus();
    for (const key of ['Enter', 'Shift+ArrowRight', 'Shift+ArrowRight', 'Enter']) await page.keyboard.press(key);
    await page.locator('ganosis-view [data-measurement="1"]').filter({ hasText: /mm/ }).waitFor({ timeout: 120_000 });
    await tree('measured');
    await work('button', 'Close', 'Enter');
  });

  test('keeps views, a picture, frames and an address', async () => {
    await page.context().grantPermissions(['clipboard-read', 'clipboard-write']);
    await work('button', 'Portfolio', 'Enter');
    await tree('the portfolio');
    await work('textbox', 'Title');
    await page.keyboard.insertText('What to begin with');
    await page.keyboard.press('Enter');
    await page.getByText('The view is kept.').waitFor();
    const kept = await getView(page);
    await work('radio', 'Blend', 'Enter');
    await until('compare', 'blend');
    await work('button', /What to begin with$/, 'Enter');
    await until('compare', kept.compare);
    await work('button', 'Portfolio', 'Enter');
    if (await page.getByRole('button', { name: 'Make the picture' }).count() === 0) await work('button', 'Portfolio', 'Enter');
    const file = async (role, name) => {
      const [download] = await Promise.all([page.waitForEvent('download'), work(role, name, 'Enter')]);
      return readFileSync(await download.path());
    };
    await work('spinbutton', 'Longer side (px)', 'Control+A');
    await page.keyboard.insertText('640');
    const picture = await file('button', 'Make the picture');
    // Width of the picture: ISO/IEC 15948, 11.2.2.
    assert.equal(picture.readUInt32BE(16), 640);
    await work('spinbutton', 'Number of pictures', 'Control+A');
    await page.keyboard.insertText('2');
    const frames = await file('button', 'Numbered set (zip of PNG)');
    assert.equal(frames.toString('latin1', 0, 2), 'PK');
    await work('button', 'Copy a frame (HTML)', 'Enter');
    await page.getByText('The frame is on the clipboard').waitFor();
    const frame = await page.evaluate(async () => new DOMParser().parseFromString(await navigator.clipboard.readText(), 'text/html').querySelector('iframe').src);
    const other = await chromium.newPage();
    await other.goto(`${frame.replace('#', '&backend=webgl2#')}`);
    await other.waitForFunction(() => document.querySelector('ganosis-view')?.view?.camera, null, { timeout: 60_000 });
    await other.waitForFunction(([way, azimuth]) => {
      const { compare, camera } = document.querySelector('ganosis-view').view;
      return compare === way && Math.abs(camera.azimuth_deg - azimuth) < 1e-3;
    }, [kept.compare, kept.camera.azimuth_deg]);
    await other.close();
  });

  test('hears what changed without asking', async () => {
    await page.locator('ganosis-view canvas').first().focus();
    await page.keyboard.press('ArrowRight');
    await page.waitForFunction(() => [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('[role="status"], [aria-live]')].some((one) => /Seen from/.test(one.textContent)), null, { timeout: 10_000 });
  });

  test('no script on the page failed', () => assert.deepEqual(failures, []));
});
