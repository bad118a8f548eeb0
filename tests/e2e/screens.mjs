// Every screen of the page, each with the way to it, for the tests of accessibility and for the gallery.
import { execFile } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { png } from './fixture.mjs';

const root = (page) => page.locator('ganosis-view');
const press = (page, name) => root(page).locator(`[data-page="${name}"]`).click();
const view = (page, change) => page.evaluate((value) => { document.querySelector('ganosis-view').view = value; }, change);

/** The furniture that a page has when it can be used. */
const FURNITURE = { 'tablet.html': '.sill', 'colouring.html': '.bench' };
/** Somebody has touched the tablet. */
const begin = async (page) => {
  await root(page).locator('.attract').click();
  await root(page).locator('.sill h2').filter({ hasText: /./ }).waitFor();
};
const staffCode = async (page) => {
  await begin(page);
  await root(page).locator('.staff').click();
  await root(page).locator('.staff-page .pad').waitFor();
};
/** A child touches the object in the middle of the picture. */
const touchMiddle = async (page) => {
  const box = await root(page).locator('.stage > canvas').first().boundingBox();
  await page.mouse.click(box.x + box.width / 2, box.y + box.height / 2);
};

/**
 * `src` when not the dossier, `opens`: and yet something is shown; `at` the page, when not the whole one; `plain`: a page without the element.
 * @type {{name: string, src?: string, opens?: boolean, at?: string, plain?: boolean, enter: (page, dossier) => Promise<unknown>, leave?: (page) => Promise<unknown>}[]}
 */
export const SCREENS = [
  { name: 'swipe', enter: (page) => view(page, { compare: 'swipe', position: 0.5 }) },
  { name: 'slanted', enter: (page) => view(page, { compare: 'swipe', position: 0.4, angle_deg: 35 }) },
  { name: 'one', enter: (page) => view(page, { compare: 'one' }) },
  { name: 'blend', enter: (page) => view(page, { compare: 'blend', position: 0.35 }) },
  {
    name: 'band', enter: async (page, dossier) => {
      const band = dossier.layers.find(({ kind }) => kind === 'band');
      if (band) await view(page, { compare: 'swipe', right: band.id });
    },
  },
  { name: 'strips', enter: (page) => view(page, { compare: 'swipe', count: 4, position: 0.35, further: [0.5, 0.65], angle_deg: 10 }) },
  { name: 'mixture', enter: (page) => view(page, { compare: 'blend', count: 3, shares: [0.5, 0.3, 0.2] }) },
  { name: 'loupe', enter: (page) => view(page, { compare: 'loupe', loupe: { x: 0.45, y: 0.45, radius: 0.25, softness: 0.2 } }) },
  { name: 'pair', enter: (page) => view(page, { compare: 'pair', count: 2 }) },
  { name: 'four', enter: (page) => view(page, { compare: 'pair', count: 4 }) },
  { name: 'blink', enter: (page) => view(page, { compare: 'blink' }) },
  {
    name: 'states', enter: async (page) => {
      await root(page).locator('.end.left .choose').click();
      await page.waitForFunction(() => {
        const all = [...document.querySelector('ganosis-view').shadowRoot.querySelectorAll('.end.left .likeness img')];
        return all.length > 0 && all.every((one) => !one.hidden);
      }, null, { timeout: 60_000 });
    },
  },
  { name: 'layers', enter: async (page, dossier) => { const band = dossier.layers.find(({ kind }) => kind === 'band'); await press(page, 'layers'); if (band) await view(page, { compare: 'one', over: band.id, layers: { [band.id]: { opacity: 0.6, ends: [0.1, 0.8], map: 'grey', lines: 8 } } }); } },
  { name: 'label', enter: (page) => press(page, 'label') },
  { name: 'light', enter: async (page) => { await press(page, 'light'); await view(page, { light: { mode: 'raking', azimuth_deg: -60, elevation_deg: 20 } }); } },
  {
    name: 'two-lamps', enter: (page) => view(page, {
      light: {
        mode: 'raking', azimuth_deg: -40, elevation_deg: 35, distance_m: 0.4, softness: 0.3, strength: 1, relief: 2,
        second: { azimuth_deg: 60, elevation_deg: 5, distance_m: 0, softness: 0, strength: 0.6 },
      },
    }),
  },
  { name: 'daylight', enter: (page) => view(page, { light: { mode: 'daylight', relief: 1, second: { strength: 0 }, occlusion: 0.8 } }) },
  { name: 'section', enter: (page) => view(page, { light: { mode: 'as-measured', relief: 1, occlusion: 0 }, section: { azimuth_deg: 90, elevation_deg: 0, position: 0.1 } }) },
  {
    name: 'lamp', enter: async (page) => {
      await press(page, 'light');
      await view(page, { light: { mode: 'as-measured', azimuth_deg: -60, elevation_deg: 20 }, section: null, lamp: { id: 'A', adapted: false } });
    },
  },
  { name: 'difference', enter: (page) => view(page, { compare: 'difference', lamp: null, difference: { threshold: 3, full_scale: 20 } }) },
  {
    name: 'grounds', enter: async (page) => {
      await press(page, 'grounds');
      await view(page, { compare: 'swipe', overlay: 'certainty' });
    },
  },
  {
    name: 'audit', enter: async (page) => {
      await view(page, { overlay: null });
      await press(page, 'audit');
      await root(page).locator('.audit :is(.filters, .findings .prose)').first().waitFor({ timeout: 120_000 });
    },
  },
  {
    name: 'partings', enter: async (page) => {
      await press(page, 'partings');
      await root(page).locator('.parting-table').first().waitFor({ timeout: 120_000 });
    },
  },
  { name: 'point', enter: async (page) => { await view(page, { compare: 'swipe', overlay: null }); await page.mouse.click(60, 60); await page.locator('ganosis-view').click({ position: { x: 170, y: 200 } }); } },
  {
    name: 'measure', enter: async (page) => {
      await view(page, { compare: 'one', overlay: null });
      await press(page, 'measure');
      await root(page).locator('.measure [data-set][aria-pressed="true"]').waitFor();
      const box = await root(page).locator('.stage canvas').boundingBox();
      const click = (x, y) => page.mouse.click(box.x + box.width * x, box.y + box.height * y);
      await click(0.42, 0.4);
      await click(0.58, 0.55);
      await root(page).locator('[data-measurement="1"]').waitFor({ timeout: 120_000 });
      await root(page).locator('.measure input[value="profile"]').check();
      await click(0.4, 0.6);
      await click(0.6, 0.5);
      await root(page).locator('[data-measurement="2"]').waitFor({ timeout: 120_000 });
      await root(page).locator('.measure input[value="loop"]').check();
      for (const [x, y] of [[0.47, 0.3], [0.55, 0.32], [0.53, 0.4]]) await click(x, y);
    },
  },
  {
    name: 'kept', enter: async (page) => {
      await view(page, { compare: 'one', overlay: null });
      // From the middle in shares of the height, by which the picture keeps its scale when the card opens.
      for (const x of [-0.11, 0.11]) {
        const box = await root(page).locator('.stage canvas').boundingBox();
        await page.mouse.click(box.x + box.width / 2 + box.height * x, box.y + box.height * 0.63);
        await root(page).locator('[data-keep="keep"]').click();
        // The picture takes the room that the card leaves it in the next frame.
        await page.evaluate(() => new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); }));
      }
      await root(page).locator('[data-keep="compare"]').click();
      await root(page).locator('.kept tbody').first().waitFor({ timeout: 120_000 });
      await root(page).locator('.kept').evaluate((part) => part.scrollIntoView());
    },
  },
  {
    name: 'photographs', enter: async (page) => {
      await view(page, { compare: 'one', overlay: null });
      await press(page, 'measure');
      await root(page).locator('[data-photographs]').click();
      const file = png(300, 200, 3, (x, y) => [60 + x / 2, 60 + y / 2, 90]);
      await root(page).locator('.photographs input[type="file"]').first().setInputFiles({ name: 'slab.png', mimeType: 'image/png', buffer: file });
      await root(page).locator('.photo-canvas').waitFor({ timeout: 120_000 });
      for (let at = 1; at <= 6; at += 1) {
        // Where the pages lie they may have been moved meanwhile.
        await root(page).locator('.photo-canvas').scrollIntoViewIfNeeded();
        const pane = await root(page).locator('.photo-canvas').boundingBox();
        const stage = await root(page).locator('.stage > canvas').first().boundingBox();
        const [x, y] = [[0.38, 0.4], [0.62, 0.42], [0.6, 0.6], [0.4, 0.58], [0.5, 0.5], [0.55, 0.38]][at - 1];
        await page.mouse.click(pane.x + pane.width * x, pane.y + pane.height * y);
        await page.mouse.click(stage.x + stage.width / 2 + stage.height * (x - 0.5), stage.y + stage.height * y);
        await root(page).locator(`[data-pair="${at}"]`).waitFor();
      }
    },
  },
  { name: 'about', enter: (page) => press(page, 'about') },
  {
    name: 'portfolio', enter: async (page) => {
      await press(page, 'portfolio');
      for (const title of ['Der Reiher von links', 'What the light tells']) {
        await root(page).locator('.views-part .entry-form input').fill(title);
        await root(page).locator('[data-keep="own"]').click();
      }
    },
  },
  {
    name: 'picture', enter: async (page) => {
      await press(page, 'portfolio');
      await root(page).locator('.picture-part h3').evaluate((one) => one.scrollIntoView());
    },
  },
  {
    name: 'moving', enter: async (page) => {
      await press(page, 'portfolio');
      await root(page).locator('.preview summary').click();
      await root(page).locator('.moving-part input[type="number"]').first().fill('6');
      await root(page).locator('.moving-part select').first().selectOption('blend');
      await root(page).locator('.moving-part h3').evaluate((one) => one.scrollIntoView());
      await page.waitForTimeout(400);
    },
  },
  { name: 'pin', enter: (page, dossier) => view(page, { pin: dossier.pins[0].id }) },
  {
    name: 'evidence', enter: async (page, dossier) => {
      await view(page, { pin: dossier.pins[0].id });
      const all = root(page).locator('.wall details.evidence');
      await all.first().waitFor();
      await all.evaluateAll((list) => { for (const one of list) one.open = true; });
      await page.waitForTimeout(400);
      await all.first().evaluate((one) => one.scrollIntoView());
    },
  },
  { name: 'region', enter: (page, dossier) => view(page, { region: dossier.regions[2].id }) },
  { name: 'tour', enter: async (page) => { await press(page, 'label'); await root(page).locator('[data-tour="begin"]').click(); await root(page).locator('.tour-page .stop-title').filter({ hasText: /./ }).waitFor(); } },
  { name: 'tablet-nobody', at: 'tablet.html', enter: (page) => root(page).locator('.attract .line').filter({ hasText: /./ }).waitFor() },
  { name: 'tablet', at: 'tablet.html', enter: begin },
  { name: 'tablet-stop', at: 'tablet.html', enter: async (page) => { await begin(page); await root(page).locator('.cord [data-stop]').last().click(); await root(page).locator('.sill [data-state]').last().click(); } },
  { name: 'tablet-pin', at: 'tablet.html', enter: async (page, dossier) => { await begin(page); await view(page, { pin: dossier.pins[0].id }); await root(page).locator('.wall h2').first().waitFor(); } },
  {
    name: 'tablet-asks', at: 'tablet.html', enter: async (page) => {
      await begin(page);
      // 75 of the usual 90 seconds have gone, and no more go.
      await page.evaluate(() => { const at = performance.now() + 75_000; performance.now = () => at; });
      await root(page).locator('.still-there').waitFor();
    },
  },
  { name: 'tablet-code', at: 'tablet.html', enter: staffCode },
  {
    name: 'tablet-staff', at: 'tablet.html', enter: async (page) => {
      await staffCode(page);
      for (const digit of ['2', '7', '1', '8', 'enter']) await root(page).locator(`.staff-page [data-digit="${digit}"]`).click();
      await root(page).locator('.staff-page .facts').waitFor();
    },
  },
  { name: 'colouring', at: 'colouring.html', enter: (page) => root(page).locator('.shell').first().waitFor() },
  {
    name: 'colouring-part', at: 'colouring.html', enter: async (page) => {
      await root(page).locator('.shell').nth(1).click();
      await root(page).locator('[data-do="part"]').click();
      await touchMiddle(page);
      await root(page).locator('[data-do="undo"]:not([disabled])').waitFor();
    },
  },
  { name: 'colouring-brush', at: 'colouring.html', enter: (page) => root(page).locator('[data-do="brush"]').click() },
  {
    name: 'colouring-found', at: 'colouring.html', enter: async (page) => {
      await root(page).locator('[data-do="ask"]').click();
      await touchMiddle(page);
      await root(page).locator('.answer').waitFor();
    },
  },
  { name: 'colouring-beside', at: 'colouring.html', enter: (page) => root(page).locator('[data-against]').last().click() },
  { name: 'lesson', at: 'colouring.html', enter: async (page) => { await root(page).locator('[data-do="teacher"]').click(); await root(page).locator('.wall .questions').waitFor(); } },
  { name: 'frame', at: 'embed.html', enter: async () => {} },
  { name: 'catalogue', at: 'catalogue/', plain: true, enter: (page) => page.locator('h1').waitFor() },
  { name: 'failure', src: 'absent/', enter: (page) => root(page).locator('.failure').waitFor() },
  { name: 'loading', src: 'silent/', enter: (page) => root(page).locator('.loading').waitFor() },
  { name: 'empty', src: '', enter: (page) => root(page).locator('.failure').waitFor() },
  {
    name: 'notice', src: 'partly/', opens: true, enter: async (page) => {
      const notice = root(page).locator('.notice summary');
      await notice.waitFor();
      await notice.click();
    },
  },
  { name: 'slow', src: 'slow/', enter: (page) => root(page).locator('.loading .amount').filter({ hasText: /\d|[\u0660-\u0669]/ }).waitFor() },
  { name: 'busy', src: 'busy/', opens: true, enter: async (page, dossier) => { await view(page, { compare: 'swipe', right: dossier.states.at(-1).id }); } },
  {
    // The network goes away; what was not fetched by then cannot come.
    name: 'offline', enter: async (page) => {
      await page.context().setOffline(true);
      await press(page, 'measure');
      await press(page, 'audit');
      await page.waitForTimeout(500);
    }, leave: (page) => page.context().setOffline(false),
  },
  // A mesh alone: no regions, no bands, no pins, no claims.
  { name: 'mesh', src: 'mesh/object.glb', opens: true, enter: (page) => press(page, 'label') },
  { name: 'mesh-layers', src: 'mesh/object.glb', opens: true, enter: (page) => press(page, 'layers') },
  { name: 'mesh-grounds', src: 'mesh/object.glb', opens: true, enter: (page) => press(page, 'grounds') },
  { name: 'mesh-light', src: 'mesh/object.glb', opens: true, enter: async (page) => { await press(page, 'light'); await view(page, { light: { mode: 'daylight', relief: 3, occlusion: 0.8 } }); } },
];

/** Opens a screen by itself. @param site of serveSite, with the mounts of `mountsFor` */
export async function openScreen(page, site, screen, options = '') {
  const src = screen.src ?? 'dossier/';
  await page.goto('about:blank');
  if (screen.plain) {
    await page.goto(`${site.origin}/${screen.at}${new URLSearchParams(options).get('language') ?? 'en'}/`);
    await screen.enter(page, null);
    return;
  }
  await page.goto(`${site.origin}/${screen.at ?? ''}?src=${encodeURIComponent(src)}${options}`);
  await page.waitForFunction(() => customElements.get('ganosis-view') && document.querySelector('ganosis-view').shadowRoot.querySelector('.room'));
  const opens = screen.opens ?? screen.src === undefined;
  if (opens) {
    const furniture = FURNITURE[screen.at] ?? '.plate';
    await page.waitForFunction((selector) => document.querySelector('ganosis-view').shadowRoot.querySelector(`[data-ready] ${selector}`), furniture, { timeout: 60_000 });
  }
  // The first saved view may open a card; each screen begins without.
  if (opens) await view(page, { pin: null, region: null });
  const dossier = await page.evaluate(() => document.querySelector('ganosis-view').dossier);
  await screen.enter(page, dossier);
}

/**
 * Catalogues of two dossiers, one a language, made when first asked for.
 * @param {string} folder of a dossier @param {string[]} more for `ganosis publish`
 */
function catalogues(folder, more) {
  const made = new Map();
  const work = mkdtempSync(join(tmpdir(), 'ganosis-catalogue-'));
  process.on('exit', () => rmSync(work, { recursive: true, force: true }));
  const make = async (language) => {
    const dossiers = ['one', 'two'].map((id) => {
      const copy = join(work, language, id);
      cpSync(folder, copy, { recursive: true });
      const document = JSON.parse(readFileSync(join(folder, 'dossier.json'), 'utf8'));
      writeFileSync(join(copy, 'dossier.json'), JSON.stringify({ ...document, id, languages: [language, ...(document.languages ?? []).filter((other) => other !== language)] }));
      return copy;
    });
    const site = join(work, language, 'site');
    await promisify(execFile)(process.env.GANOSIS, ['publish', ...dossiers, '--to', site, '--viewer', process.env.GANOSIS_VIEWER, ...more]);
    return site;
  };
  return (language) => {
    if (!made.has(language)) made.set(language, make(language));
    return made.get(language);
  };
}

/** What a site must offer for all screens. @param {string} folder of a dossier @param sendFile of site.mjs @param {string[]} [publishing] options of the catalogue */
export const mountsFor = (folder, sendFile, publishing = []) => {
  const catalogue = catalogues(folder, publishing);
  return {
    dossier: folder,
    catalogue: async (response, path) => {
      const [language, ...rest] = path.split('/');
      const asked = rest.join('/');
      return sendFile(response, await catalogue(language), asked === '' || asked.endsWith('/') ? `${asked}index.html` : asked);
    },
    absent: (response) => response.writeHead(404).end(),
    silent: () => {},
    // Everything but images, which begin and never end.
    slow: (response, path) => (/\.(json|glb|gltf|bin)$/.test(path) ? sendFile(response, folder, path) : response.writeHead(200, { 'content-type': 'image/png', 'content-length': 4e6 }).write(Buffer.alloc(1e6))),
    // What is not there at first never comes.
    busy: (response, path) => (/hypothesis|state-1/.test(path) ? undefined : sendFile(response, folder, path)),
    mesh: (response) => sendFile(response, folder, JSON.parse(readFileSync(join(folder, 'dossier.json'), 'utf8')).surface.file),
    partly: (response, path) => (/evidence|state-1|uvl|hypothesis-b/.test(path) ? response.writeHead(404).end() : sendFile(response, folder, path)),
  };
};
