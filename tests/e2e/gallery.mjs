// Pictures of every screen at several sizes, themes and languages, to be looked at.
//   GANOSIS_GALLERY=folder GANOSIS_DEMO=dossier GANOSIS_VIEWER=site node tests/e2e/gallery.mjs [regular expression of names]
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { browser } from './harness.mjs';
import { SCREENS, mountsFor, openScreen } from './screens.mjs';
import { sendFile, serveSite } from './site.mjs';

const SIZES = { desk: [1440, 900], tablet: [820, 1180], lying: [1180, 820], phone: [390, 844], small: [360, 640], large: [2560, 1440] };
/** Pages of the wall that somebody may print. */
const PRINTED = ['label', 'grounds', 'audit', 'partings', 'layers', 'light', 'measure', 'kept', 'portfolio', 'region', 'evidence', 'about'];
/** Sizes, theme, language, text size in percent, colours forced by the system, on paper, backend, and which screens. */
const LOOKS = [
  { sizes: Object.keys(SIZES), theme: 'light', language: 'en' },
  { sizes: ['desk', 'tablet', 'phone'], theme: 'dark', language: 'en' },
  { sizes: Object.keys(SIZES), theme: 'light', language: 'ar' },
  { sizes: ['phone'], theme: 'dark', language: 'ar' },
  { sizes: ['desk', 'tablet', 'phone'], theme: 'light', language: 'de' },
  { sizes: ['desk', 'tablet', 'phone'], theme: 'light', language: 'es' },
  { sizes: ['desk', 'tablet', 'phone'], theme: 'light', language: 'en', text_percent: 200 },
  { sizes: ['phone'], theme: 'light', language: 'ar', text_percent: 200 },
  { sizes: ['desk', 'phone'], theme: 'dark', language: 'en', forced: true },
  { sizes: ['desk'], theme: 'light', language: 'en', print: true, only: PRINTED },
  { sizes: ['desk'], theme: 'light', language: 'ar', print: true, only: PRINTED },
  { sizes: Object.keys(SIZES), theme: 'light', language: 'en', backend: 'webgpu' },
  { sizes: ['desk', 'phone'], theme: 'light', language: 'ar', backend: 'webgpu' },
];

const folder = process.env.GANOSIS_GALLERY;
if (!folder) throw new Error('set GANOSIS_GALLERY to the folder for the pictures');
const [wanted = ''] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
const site = await serveSite(mountsFor(process.env.GANOSIS_DEMO, sendFile));
try {
  for (const { sizes, theme, language, text_percent = 100, forced = false, print = false, backend = 'webgl2', only } of LOOKS) {
    const named = (size, screen = '') => [size, theme, language, text_percent === 100 ? '' : `text${text_percent}`, forced ? 'forced' : '', print ? 'paper' : '', backend === 'webgl2' ? '' : backend, screen].filter(Boolean).join('-');
    const asked = (size) => SCREENS.filter(({ name }) => (!only || only.includes(name)) && new RegExp(wanted).test(named(size, name)));
    if (!sizes.some((size) => asked(size).length > 0)) continue;
    const chromium = await browser(backend);
    for (const size of sizes) {
      const [width, height] = SIZES[size];
      const page = await chromium.newPage({ viewport: { width, height }, colorScheme: theme, reducedMotion: 'reduce', ...(forced && { forcedColors: 'active' }) });
      // As a browser's own setting for the size of text: the root's font size.
      if (text_percent !== 100) {
        await page.addInitScript((percent) => document.addEventListener('DOMContentLoaded', () => { document.documentElement.style.fontSize = `${percent}%`; }), text_percent);
      }
      for (const screen of asked(size)) {
        const name = named(size, screen.name);
        try {
          await openScreen(page, site, screen, `&backend=${backend}&language=${language}`);
          await page.waitForTimeout(500);
          if (print) await page.emulateMedia({ media: 'print' });
          await page.screenshot({ path: join(folder, `${name}.png`), timeout: 120_000, fullPage: print });
          if (print) await page.emulateMedia({ media: null });
        } catch (error) {
          console.log(`${name}: ${error.message.split('\n')[0]}`);
        }
        await screen.leave?.(page);
      }
      await page.close();
    }
    await chromium.close();
  }
} finally {
  await site.stop();
}
