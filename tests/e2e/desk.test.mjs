// The desk in a real browser: it examines as the command does, and what is edited is neither lost nor written over.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { PATCHES, PATCH_PX, regionOf, writeDossier } from './fixture.mjs';
import { browser, facing, openReady, probe, serve, setView, snapshot } from './harness.mjs';
import { sendBytes, sendFile, serveSite } from './site.mjs';
import { zipOfFolder } from './zip.mjs';

const CAMERA = facing(2.5);

/** What the command says, without the path. */
function ganosis(...args) {
  const { stdout, stderr, status } = spawnSync(process.env.GANOSIS, args, { encoding: 'utf8', maxBuffer: 1 << 28 });
  return { stdout, stderr, status };
}
function auditOf(folder) {
  const { stdout, stderr } = ganosis('audit', '--json', folder);
  assert.ok(stdout, stderr);
  const { path: _, ...audit } = JSON.parse(stdout);
  return audit;
}
const documentIn = (folder) => JSON.parse(readFileSync(join(folder, 'dossier.json'), 'utf8'));

/** Runs `work(session, element, argument)` in the page. */
const sitting = (page, work, argument = null) => page.evaluate(`(async () => {
  const element = document.querySelector('ganosis-view');
  return (${work})(await element.edit(), element, ${JSON.stringify(argument)});
})()`);

/** Alike in everything; numbers to nine digits, since the browser's cube roots end in other last bits than the system's. */
function assertAlike(found, wanted, where = '$') {
  if (typeof wanted === 'number' && typeof found === 'number') {
    assert.ok(Math.abs(found - wanted) <= 1e-9 * Math.max(1, Math.abs(wanted)), `${where}: ${found}, wanted ${wanted}`);
  } else if (typeof wanted === 'object' && wanted !== null && typeof found === 'object' && found !== null) {
    assert.deepEqual(Object.keys(found), Object.keys(wanted), where);
    for (const key of Object.keys(wanted)) assertAlike(found[key], wanted[key], `${where}.${key}`);
  } else assert.deepEqual(found, wanted, where);
}

describe('the desk', () => {
  const folders = [];
  const stops = [];
  const failures = [];
  let chromium;

  /** A dossier of its own for a test, served by the command. */
  async function served(...more) {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-desk-'));
    folders.push(folder);
    writeDossier(folder);
    const { address, stop } = await serve(folder, ...more);
    stops.push(stop);
    return { folder, address };
  }

  before(async () => { chromium = await browser('webgl2', { coarse: true }); });
  after(async () => {
    await chromium?.close();
    for (const stop of stops) stop();
    for (const folder of folders) rmSync(folder, { recursive: true, force: true });
  });

  const open = async (address, context = chromium) => {
    const page = await context.newPage({ ...(context === chromium && { viewport: { width: 900, height: 700 } }) });
    page.on('pageerror', (error) => failures.push(error.message));
    page.on('dialog', (dialog) => void dialog.accept());
    await openReady(page, address, 'webgl2');
    return page;
  };

  test('the audit in the browser is that of the command, also of a zip', async () => {
    const { folder, address } = await served();
    const site = await serveSite({ archives: (response) => sendBytes(response, zipOfFolder(folder, 'patches'), 'application/zip') });
    stops.push(site.stop);
    const wanted = auditOf(folder);
    assert.ok(wanted.findings.length > 0);
    for (const where of [address, site.address('archives/patches.zip')]) {
      const page = await open(where);
      const loaded = await page.evaluate(() => performance.getEntriesByType('resource').some(({ name }) => name.includes('desk_bg')));
      assert.equal(loaded, false, 'the desk is not part of the first load');
      const audit = await page.evaluate(async () => (await document.querySelector('ganosis-view').desk()).audit());
      assertAlike(audit, wanted);
      await page.close();
    }
  });

  test('the audit of the demonstration is that of the command', { skip: !process.env.GANOSIS_DEMO && 'set GANOSIS_DEMO to a dossier' }, async () => {
    const wanted = auditOf(process.env.GANOSIS_DEMO);
    const { address, stop } = await serve(process.env.GANOSIS_DEMO);
    stops.push(stop);
    const page = await open(address);
    const [audit, partings, hints, areas] = await page.evaluate(async () => {
      const element = document.querySelector('ganosis-view');
      const desk = await element.desk();
      const { states } = element.dossier;
      return [await desk.audit(), await desk.compare(states.at(-2).id, states.at(-1).id), await desk.hints('xrf-01'), await desk.areas()];
    });
    assertAlike(audit, wanted);
    assert.ok(partings.some(({ looks_different, area_cm2 }) => looks_different && area_cm2 > 0));
    assert.match(hints.sentence, /consistent with/);
    assert.ok(areas.regions.length > 5 && areas.regions.every(({ area_m2 }) => area_m2 > 0));
    await page.close();
  });

  test('findings are told in the language of the page, with its numbers', { skip: !process.env.GANOSIS_DEMO && 'set GANOSIS_DEMO to a dossier' }, async () => {
    const wanted = auditOf(process.env.GANOSIS_DEMO).findings.filter(({ rule }) => rule === 'painted-colour');
    assert.ok(wanted.length > 0, 'the demonstration has a region painted otherwise than claimed');
    const { address, stop } = await serve(process.env.GANOSIS_DEMO);
    stops.push(stop);
    const ways = {
      // The decimal comma of DIN 1333, the quotation marks of the Duden.
      de: { comma: ',', begins: /^Im Zustand „[^“]+“ \(/, settles: /^Den Bereich aus der Palette neu bemalen/, figure: /^Median \d+,\d/ },
      ar: { begins: /^في الحالة «/, settles: /لوحة الألوان/, figure: /^الوسيط / },
    };
    for (const [language, { comma, begins, settles, figure }] of Object.entries(ways)) {
      const where = new URL(address);
      where.searchParams.set('language', language);
      const page = await open(where);
      const view = page.locator('ganosis-view');
      await view.locator('[data-page="audit"]').click();
      await view.locator('.finding[data-rule="painted-colour"]').first().waitFor({ timeout: 120_000 });
      for (const { about, measures: [{ value }] } of wanted.slice(0, 1)) {
        const entry = view.locator(`.finding[data-about="${about}"]`);
        const said = (await entry.locator('.sentence').innerText()).replace(/[\u2066-\u2069]/g, '');
        assert.match(said, begins, language);
        // Arabic without a region is written with European digits or its own, as the browser has it.
        const number = new Intl.NumberFormat(language, { minimumFractionDigits: 1, maximumFractionDigits: 1 }).format(value);
        assert.ok(said.includes(number), `${language}: ${said} has no ${number}`);
        if (language === 'de') assert.equal(number, value.toFixed(1).replace('.', comma));
        assert.match(await entry.locator('.settles > span').last().innerText(), settles);
        assert.match(await entry.locator('.figures').innerText(), figure);
      }
      assert.equal(await view.locator('.audit [lang="en"]').count(), 0, `${language}: nothing is told in English`);
      await page.close();
    }
  });

  test('a step shows at once, is taken back, and is refused where it would bring an error', async () => {
    const { folder, address } = await served('--edit');
    const page = await open(address);
    const said = await sitting(page, async (session, element) => {
      const titles = () => [element.dossier.title, session.canUndo, session.canRedo, session.saved];
      const told = [titles()];
      await session.apply([{ op: 'set', path: '/title', value: 'Other patches' }, { op: 'insert', path: '/regions/-', value: { id: 'column-7', number: 7, title: 'Seven' } }], 'title');
      told.push(titles(), element.dossier.regions.length);
      await session.undo();
      told.push(titles(), element.dossier.regions.length);
      await session.redo();
      told.push(titles());
      const refused = await session.apply([{ op: 'insert', path: '/claims/0/evidence/-', value: 'xrf-9' }], 'claim').catch((error) => error);
      told.push([refused.message, refused.findings.map(({ rule }) => rule)], titles());
      return told;
    });
    const [opened, edited, seven, undone, six, redone, refusal, stays] = said;
    assert.deepEqual(opened, ['Patches of known colour', null, null, true]);
    assert.deepEqual([edited, seven], [['Other patches', 'title', null, false], 7]);
    assert.deepEqual([undone, six], [['Patches of known colour', null, 'title', true], 6]);
    assert.deepEqual([redone, stays], [edited, edited]);
    assert.match(refusal[0], /xrf-9/);
    assert.deepEqual(refusal[1], ['unknown-id']);
    assert.equal(documentIn(folder).revision, 1, 'nothing is written before it is saved');
    await page.close();
  });

  test('two tabs cannot save over one another unseen', async () => {
    const { folder, address } = await served('--edit');
    const context = await chromium.newContext({ viewport: { width: 900, height: 700 } });
    const [first, second] = [await open(address, context), await open(address, context)];
    const title = (page, value) => sitting(page, (session, _, text) => session.apply([{ op: 'set', path: '/title', value: text }], 'title').then(() => null), value);
    await title(first, 'By the first');
    await title(second, 'By the second');
    await sitting(first, (session) => session.save());
    const outcome = await sitting(second, async (session) => {
      const error = await session.save().catch((reason) => reason);
      return [error.status, session.conflict, session.saved, session.document.title];
    });
    assert.deepEqual(outcome, [412, { revision: 2 }, false, 'By the second']);
    const { title: saved, revision } = documentIn(folder);
    assert.deepEqual([saved, revision], ['By the first', 2]);
    // Theirs is loaded; mine is kept as a draft that is said to be of an older revision.
    await second.evaluate(async () => {
      const session = await document.querySelector('ganosis-view').edit();
      await session.load_theirs();
    });
    await second.waitForFunction(() => document.querySelector('ganosis-view').dossier?.title === 'By the first', null, { timeout: 60_000 });
    const draft = await sitting(second, ({ draft: left }) => left && [left.revision, left.outdated]);
    assert.deepEqual(draft, [1, true]);
    await context.close();
  });

  test('a draft survives its tab, and is offered before it counts', async () => {
    const { folder, address } = await served('--edit');
    const context = await chromium.newContext({ viewport: { width: 900, height: 700 } });
    const first = await open(address, context);
    const region = await sitting(first, async (session, element) => {
      await session.apply([{ op: 'set', path: '/title', value: 'A draft' }], 'title');
      await session.draw('grow', { number: 4, mm: 30, over: 'all' });
      await session.attach(new File(['a,b\n'], 'spectrum.csv'));
      // Drafts are written half a second after the last change.
      await new Promise((done) => { setTimeout(done, 2500); });
      return (await element.probe(450, 350)) !== null;
    });
    assert.equal(region, true);
    await first.close({ runBeforeUnload: false });
    const second = await open(address, context);
    const found = await sitting(second, async (session, element) => {
      const before = [session.draft !== null, session.draft?.outdated, element.dossier.title];
      await session.restore('Draft');
      return [before, element.dossier.title, session.canUndo, session.draft];
    });
    assert.deepEqual(found, [[true, false, 'Patches of known colour'], 'A draft', 'Draft', null]);
    await sitting(second, (session) => session.save());
    const { title, revision, region_map: map } = documentIn(folder);
    assert.deepEqual([title, revision, map.images[0].file], ['A draft', 2, 'regions-r2.png']);
    assert.ok(readdirSync(join(folder, 'evidence')).includes('spectrum.csv'));
    assert.equal(ganosis('check', folder).status, 0);
    await context.close();
  });

  test('what was changed a moment before the element left the page is offered too', async () => {
    const { address } = await served('--edit');
    const context = await chromium.newContext({ viewport: { width: 900, height: 700 } });
    const first = await open(address, context);
    await sitting(first, async (session, element) => {
      await session.apply([{ op: 'set', path: '/title', value: 'At the last moment' }], 'title');
      element.remove();
    });
    const second = await open(address, context);
    const found = await sitting(second, async (session, element) => {
      await session.restore('Draft');
      return element.dossier.title;
    });
    assert.equal(found, 'At the last moment');
    await context.close();
  });

  test('a dossier that is only looked at is downloaded as a zip that the command finds clean', async () => {
    const { folder, address } = await served();
    const page = await open(address);
    const waits = page.waitForEvent('download');
    const where = await sitting(page, async (session) => {
      await session.apply([{ op: 'set', path: '/title', value: 'Taken home' }], 'title');
      await session.draw('grow', { number: 1, mm: 30, over: 'all' });
      await session.save();
      return [session.where, session.saved, session.why];
    });
    assert.deepEqual(where.slice(0, 2), ['zip', true]);
    assert.match(where[2], /ganosis open PATH --edit/);
    const download = await waits;
    const zip = join(folder, 'taken.zip');
    await download.saveAs(zip);
    const checked = ganosis('check', zip);
    assert.equal(checked.status, 0, checked.stdout);
    assert.equal(download.suggestedFilename(), 'patches.zip');
    // The map in it is the drawn one: column 1 has grown by 30 mm, a texel more or less.
    const site = await serveSite({ archives: (response) => sendBytes(response, readFileSync(zip), 'application/zip') });
    stops.push(site.stop);
    const taken = await open(site.address('archives/taken.zip'));
    const { regions, title } = await taken.evaluate(async () => {
      const element = document.querySelector('ganosis-view');
      return { ...(await (await element.desk()).areas()), title: element.dossier.title };
    });
    const area = (number) => regions.find((region) => region.number === number).area_m2;
    assert.ok(Math.abs(area(1) - (1 / PATCHES + 0.03)) < 1 / (PATCHES * PATCH_PX), `${area(1)} m²`);
    assert.ok(Math.abs(area(2) - (1 / PATCHES - 0.03)) < 1 / (PATCHES * PATCH_PX), `${area(2)} m²`);
    assert.equal(title, 'Taken home');
    await taken.close();
    assert.equal(documentIn(folder).title.en, 'Patches of known colour');
    await page.close();
  });

  test('a stroke shows on the canvas at once, and is there after saving and loading again', async () => {
    const { folder, address } = await served('--edit');
    const before = readFileSync(join(folder, 'regions.png'));
    const page = await open(address);
    const view = { left: 'evidence', right: 'evidence', compare: 'one', camera: CAMERA, region: 'column-2' };
    // The bar of editing takes room of the canvas: places are measured once it stands.
    await sitting(page, () => null);
    await setView(page, view);
    await page.waitForFunction(async () => (await document.querySelector('ganosis-view').probe(450, 350))?.region);
    const bare = await snapshot(page, 300, 300);
    const centre = await page.evaluate(() => {
      const { width, height } = document.querySelector('ganosis-view').shadowRoot.querySelector('canvas').getBoundingClientRect();
      return [width / 2, height / 2];
    });
    // The middle lies on the edge of columns 3 and 4: a little to the right is column 4.
    const at = [centre[0] + 8, centre[1]];
    assert.equal((await probe(page, ...at)).region, `column-${regionOf(3)}`);
    await sitting(page, async (session, element, [x, y]) => {
      const { anchor } = await element.probe(x, y);
      await session.draw('stroke', { points: [{ position: anchor.position_m, normal: anchor.normal }], radius_mm: 60, number: 2, over: 'all' });
    }, at);
    assert.equal((await probe(page, ...at)).region, 'column-2');
    await setView(page, view);
    const drawn = await snapshot(page, 300, 300);
    // Pixels that differ lie within the brush of 60 mm, or in the outline of the region, some pixels wide.
    const px_per_m = 300 / (2 * CAMERA.distance_m * Math.tan((CAMERA.fov_deg * Math.PI) / 360));
    const middle = [150 + (at[0] - centre[0]) * 150 / centre[1], 150];
    const reach = 0.06 * px_per_m + 4;
    let differing = 0;
    let farthest = 0;
    for (let i = 0; i < drawn.length; i += 4) {
      if (drawn[i] === bare[i] && drawn[i + 1] === bare[i + 1] && drawn[i + 2] === bare[i + 2]) continue;
      differing += 1;
      const [px, py] = [(i / 4) % 300, Math.floor(i / 1200)];
      farthest = Math.max(farthest, Math.hypot(px + 0.5 - middle[0], py + 0.5 - middle[1]));
    }
    assert.ok(farthest <= reach, `something ${farthest} px away has changed, ${reach} are within the brush`);
    assert.ok(differing > 20, `${differing} pixels show the stroke`);
    await sitting(page, (session) => session.undo().then(() => null));
    assert.deepEqual(Buffer.compare(await snapshot(page, 300, 300), bare), 0, 'undone, the picture is as it was');
    await sitting(page, async (session) => { await session.redo(); await session.save(); });
    assert.deepEqual(readFileSync(join(folder, 'regions.png')), before, 'the map before is not written over');
    const { region_map: map, revision } = documentIn(folder);
    assert.deepEqual([map.images[0].file, map.images[0].width_px, revision], ['regions-r2.png', 384, 2]);
    // A second save of nothing new writes no further map.
    await sitting(page, async (session) => {
      await session.apply([{ op: 'set', path: '/notice', value: 'Again' }], 'notice');
      await session.save();
    });
    assert.deepEqual(readdirSync(folder).filter((name) => name.startsWith('regions')), ['regions-r2.png', 'regions.png']);
    await page.close();
    const again = await open(address);
    await setView(again, view);
    await sitting(again, () => null);
    await again.waitForFunction(async ([x, y]) => (await document.querySelector('ganosis-view').probe(x, y))?.region === 'column-2', at);
    assert.deepEqual(Buffer.compare(await snapshot(again, 300, 300), drawn), 0);
    await again.close();
  });

  test('writing asks for the token, which the address gives once and then no more', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'ganosis-desk-'));
    folders.push(folder);
    writeDossier(folder);
    const { address, stop } = await serve(folder, '--edit', '--listen', '0.0.0.0');
    stops.push(stop);
    const token = new URL(address).hash;
    assert.match(token, /token=/);
    const page = await open(address);
    assert.equal(await page.evaluate(() => location.hash.includes('token')), false);
    const where = await sitting(page, async (session) => {
      await session.apply([{ op: 'set', path: '/title', value: 'With a token' }], 'title');
      await session.save();
      return session.where;
    });
    assert.equal(where, 'server');
    assert.equal(documentIn(folder).title, 'With a token');
    // Without it, saving is a download.
    const other = await chromium.newContext();
    const stranger = await open(address.replace(token, ''), other);
    assert.equal(await sitting(stranger, (session) => session.where), 'zip');
    await other.close();
  });

  test('a page of another origin examines too, when its policy lets workers be made', async () => {
    const { folder } = await served();
    const viewer = process.env.GANOSIS_VIEWER;
    const open_to_all = (from) => async (response, path) => {
      response.setHeader('access-control-allow-origin', '*');
      await sendFile(response, from, path);
    };
    const theirs = await serveSite({ viewer: open_to_all(viewer), dossier: open_to_all(folder) });
    const page_text = `<!doctype html><title>Elsewhere</title><script type="module" src="${theirs.origin}/viewer/ganosis-view.js"></script>
      <ganosis-view src="${theirs.origin}/dossier/" backend="webgl2"></ganosis-view>`;
    const policy = `default-src 'none'; script-src ${theirs.origin} 'wasm-unsafe-eval'; connect-src ${theirs.origin}; worker-src blob:; img-src blob: data:`;
    const ours = await serveSite({ page: (response) => {
      response.setHeader('content-security-policy', policy);
      sendBytes(response, Buffer.from(page_text), 'text/html');
    } });
    stops.push(theirs.stop, ours.stop);
    assert.notEqual(theirs.origin, ours.origin);
    const page = await chromium.newPage({ viewport: { width: 900, height: 700 } });
    page.on('pageerror', (error) => failures.push(error.message));
    await page.goto(`${ours.origin}/page`);
    await page.waitForFunction(() => document.querySelector('ganosis-view')?.ready, null, { timeout: 60_000 });
    await page.evaluate(() => document.querySelector('ganosis-view').ready);
    assertAlike(await page.evaluate(async () => (await document.querySelector('ganosis-view').desk()).audit()), auditOf(folder));
    assert.equal(await sitting(page, (session) => session.where), 'zip');
    await page.close();
  });

  test('nothing went wrong on any page', () => {
    assert.deepEqual(failures, []);
  });
});
