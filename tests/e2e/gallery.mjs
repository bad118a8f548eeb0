// Pictures of every screen at several sizes, themes and languages, to be looked at.
//   GANOSIS_GALLERY=folder GANOSIS_DEMO=dossier GANOSIS_VIEWER=site node tests/e2e/gallery.mjs [regular expression of names]
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { browser } from './harness.mjs';
import { SCREENS, mountsFor, openScreen } from './screens.mjs';
import { sendFile, serveSite } from './site.mjs';

const SIZES = { desk: [1440, 900], tablet: [820, 1180], phone: [390, 844], small: [360, 640] };
/** Sizes, theme, language, text size in percent, backend, and which screens. */
const LOOKS = [
  { sizes: ['desk', 'tablet', 'phone', 'small'], theme: 'light', language: 'en' },
  { sizes: ['desk', 'phone'], theme: 'dark', language: 'en' },
  { sizes: ['desk', 'phone'], theme: 'light', language: 'ar' },
  { sizes: ['desk', 'phone'], theme: 'light', language: 'en', text_percent: 200 },
  { sizes: ['desk'], theme: 'light', language: 'en', backend: 'webgpu', only: ['swipe', 'band', 'region'] },
];

const folder = process.env.GANOSIS_GALLERY;
if (!folder) throw new Error('set GANOSIS_GALLERY to the folder for the pictures');
const [wanted = ''] = process.argv.slice(2);
mkdirSync(folder, { recursive: true });
const site = await serveSite(mountsFor(process.env.GANOSIS_DEMO, sendFile));
try {
  for (const { sizes, theme, language, text_percent = 100, backend = 'webgl2', only } of LOOKS) {
    const chromium = await browser(backend);
    for (const size of sizes) {
      const [width, height] = SIZES[size];
      const look = [size, theme, language, text_percent === 100 ? '' : `text${text_percent}`, backend === 'webgl2' ? '' : backend].filter(Boolean).join('-');
      const page = await chromium.newPage({ viewport: { width, height }, colorScheme: theme, reducedMotion: 'reduce' });
      // As a browser's own setting for the size of text: the root's font size.
      if (text_percent !== 100) {
        await page.addInitScript((percent) => document.addEventListener('DOMContentLoaded', () => { document.documentElement.style.fontSize = `${percent}%`; }), text_percent);
      }
      for (const screen of SCREENS.filter(({ name }) => !only || only.includes(name))) {
        const name = `${look}-${screen.name}`;
        if (!new RegExp(wanted).test(name)) continue;
        try {
          await openScreen(page, site, screen, `&backend=${backend}&language=${language}`);
          await page.waitForTimeout(500);
          await page.screenshot({ path: join(folder, `${name}.png`), timeout: 120_000 });
        } catch (error) {
          console.log(`${name}: ${error.message.split('\n')[0]}`);
        }
      }
      await page.close();
    }
    await chromium.close();
  }
} finally {
  await site.stop();
}
