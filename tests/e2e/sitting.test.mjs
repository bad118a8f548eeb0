// A scientist's sitting, whole: a new spot, a claim from it, a review and a drawn region, with the command's own server and
// the audit as it is; then two people at one dossier, and a browser that went away.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { writeDossier } from './fixture.mjs';
import { browser, facing, onScreen, openReady, serve } from './harness.mjs';

const CAMERA = facing(2.6, 30);

describe('a sitting', () => {
  const folder = mkdtempSync(join(tmpdir(), 'ganosis-sitting-'));
  const failures = [];
  let site;
  let chromium;

  before(async () => {
    writeDossier(folder);
    site = await serve(folder, '--edit');
    chromium = await browser('webgl2', { coarse: true });
  });
  after(async () => {
    await chromium?.close();
    site?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  const document = () => JSON.parse(readFileSync(join(folder, 'dossier.json'), 'utf8'));
  const audit = () => JSON.parse(spawnSync(process.env.GANOSIS, ['audit', '--json', folder], { encoding: 'utf8' }).stdout);

  /** A page of a person of its own, with editing begun. */
  const sit = async (context) => {
    const page = await (context ?? await chromium.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' })).newPage();
    page.on('pageerror', (error) => failures.push(error.message));
    page.on('dialog', (dialog) => void dialog.accept());
    await openReady(page, site.address, 'webgl2');
    await page.evaluate((camera) => { document.querySelector('ganosis-view').view = { camera, compare: 'one', left: 'evidence', pin: null, region: null }; }, CAMERA);
    const view = page.locator('ganosis-view');
    await view.locator('[data-page="editing"]').click();
    await view.locator('.edit-bar').waitFor({ timeout: 60_000 });
    return { page, view };
  };
  const place = (view, x_m, y_m) => onScreen(view, CAMERA, x_m, y_m);
  const save = async (view) => {
    await view.locator('.edit-bar [data-do="save"]').click();
    await view.locator('.edit-bar', { hasText: 'All is saved' }).waitFor({ timeout: 30_000 });
  };

  test('a new spot, a claim and a review are saved, and the command reads them', async () => {
    const { page, view } = await sit();
    await view.locator('.edit-bar [data-add="evidence"]').click();
    await page.mouse.click(...await place(view, 0.1, 0.2));
    await view.locator('.place [role="status"]', { hasText: 'Set on' }).waitFor();
    await page.keyboard.type('cu');
    await page.keyboard.press('Enter');
    await view.locator('.card .evidence[open]').waitFor({ timeout: 30_000 });
    await view.locator('[data-begin="claim"]').click();
    await view.locator('.suggestions [data-pigment="azurite"]').click();
    await view.locator('.content form button[type=submit]').click();
    await view.locator('.claim[data-certainty="measured"]').waitFor({ timeout: 30_000 });
    await view.locator('[data-verdict="dispute"]').click();
    await page.keyboard.type('The spot lies on a repair.');
    await page.keyboard.press('Control+Enter');
    await view.locator('.review[data-verdict="dispute"]').waitFor({ timeout: 30_000 });
    await save(view);

    const { evidence, claims } = document();
    const spot = evidence.at(-1);
    assert.deepEqual([spot.technique, spot.elements, spot.region], ['xrf', ['Cu'], 'column-4']);
    assert.ok(Math.abs(spot.anchor.position_m[0] - 0.1) < 0.003 && Math.abs(spot.anchor.position_m[1] - 0.2) < 0.003, JSON.stringify(spot.anchor));
    const claim = claims.at(-1);
    assert.deepEqual([claim.regions, claim.pigment, claim.certainty, claim.evidence], [['column-4'], 'azurite', 'measured', [spot.id]]);
    assert.equal(claim.reviews[0].verdict, 'dispute');
    // The command finds the dispute that nobody has answered.
    assert.ok(audit().findings.some(({ place, message }) => place.claim === claim.id && /disput/i.test(message)), JSON.stringify(audit().findings.map(({ rule }) => rule)));
    assert.equal(spawnSync(process.env.GANOSIS, ['check', folder]).status, 0);
    await page.context().close();
  });

  test('of two people the second to save is told, and loses nothing', async () => {
    const one = await sit();
    const two = await sit();
    const addPerson = async ({ view }, name) => {
      await view.locator('.edit-bar [data-page="workbench"]').click();
      await view.locator('details[data-group="person"] summary').click();
      await view.locator('[data-group="person"] [data-add]').click();
      await view.locator('.entry-form input').first().fill(name);
      await view.locator('.content form button[type=submit]').click();
    };
    await addPerson(one, 'A. B.');
    await addPerson(two, 'C. D.');
    await save(one.view);
    await two.view.locator('.edit-bar [data-do="save"]').click();
    await two.view.getByText(/Somebody else has saved/).first().waitFor({ timeout: 30_000 });
    const names = document().people.map(({ name }) => name);
    assert.ok(names.includes('A. B.') && !names.includes('C. D.'), String(names));
    await one.page.context().close();
    await two.page.context().close();
  });

  test('what was not saved when the tab went away is offered the next time', async () => {
    const context = await chromium.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' });
    const { page, view } = await sit(context);
    await view.locator('.edit-bar [data-add="pin"]').click();
    await page.mouse.click(...await place(view, -0.2, 0.1));
    await view.locator('.place [role="status"]', { hasText: 'Set on' }).waitFor();
    await view.locator('.entry-form input').first().fill('Left behind');
    await view.locator('.content form button[type=submit]').click();
    await page.waitForFunction(() => document.querySelector('ganosis-view').dossier.pins.some(({ title }) => title === 'Left behind'));
    await page.waitForTimeout(1500);
    await page.close();
    const again = await sit(context);
    await again.view.locator('[data-do="restore"]').click({ timeout: 30_000 });
    await again.page.waitForFunction(() => document.querySelector('ganosis-view').dossier.pins.some(({ title }) => title === 'Left behind'));
    await context.close();
  });

  test('notes go out as Web Annotations and come back changed', async () => {
    const { page, view } = await sit();
    const draft = view.locator('[data-do="discard"]');
    if (await draft.count()) await draft.click();
    await view.locator('.edit-bar [data-page="workbench"]').click();
    await view.locator('details[data-group="notes"] summary').click();
    const coming = page.waitForEvent('download');
    await view.locator('[data-do="notes-out"]').click();
    const notes = JSON.parse(readFileSync(await (await coming).path(), 'utf8'));
    // W3C Web Annotation Data Model (2017), 3.1 and 5: the context, and pages of annotations.
    assert.ok([notes['@context']].flat().includes('http://www.w3.org/ns/anno.jsonld'), JSON.stringify(notes).slice(0, 200));
    const text = JSON.stringify(notes).replace('Copper was found here.', 'Copper was found here, twice.');
    assert.ok(text.includes('twice'));
    await view.locator('[data-do="notes-file"]').setInputFiles({ name: 'notes.jsonld', mimeType: 'application/ld+json', buffer: Buffer.from(text) });
    await view.locator('[data-group="notes"] [role="status"]', { hasText: /0 added, 1 changed/ }).waitFor({ timeout: 30_000 });
    await save(view);
    assert.match(JSON.stringify(document().pins.find(({ id }) => id === 'p1')), /found here, twice/);
    await page.context().close();
  });

  test('a micrograph of known width has its bar', async () => {
    const found = document();
    found.evidence[0].attachments = [{ file: 'state-0.png', media_type: 'image/png', title: 'Grains', width_mm: 2 }];
    writeFileSync(join(folder, 'dossier.json'), JSON.stringify(found));
    const page = await (await chromium.newContext({ viewport: { width: 1280, height: 800 }, reducedMotion: 'reduce' })).newPage();
    await page.goto(`${site.address}&backend=webgl2&language=en#pin=p1`);
    const view = page.locator('ganosis-view');
    const observation = view.locator('.wall details.evidence').first();
    await observation.waitFor({ timeout: 60_000 });
    if (await observation.getAttribute('open') === null) await observation.locator('summary').first().click();
    const scale = view.locator('.picture-scale');
    await scale.waitFor();
    assert.match(await scale.getAttribute('aria-label'), /500\s?µm/);
    await page.waitForFunction(() => document.querySelector('ganosis-view').shadowRoot.querySelector('.scaled img')?.complete);
    const [bar, image] = [await scale.locator('.bar').boundingBox(), await view.locator('.scaled img').boundingBox()];
    // Half a millimetre of two.
    assert.ok(Math.abs(bar.width / image.width - 0.25) < 0.01, `${bar.width} of ${image.width}`);
    await page.context().close();
  });

  test('nothing broke on the way', () => assert.deepEqual(failures, []));
});
