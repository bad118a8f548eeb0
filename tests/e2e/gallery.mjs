// Pictures of every screen at several sizes, themes and languages, to be looked at.
//   GANOSIS_GALLERY=folder GANOSIS_DEMO=dossier GANOSIS_VIEWER=site node tests/e2e/gallery.mjs [regular expression of names]
// A screen is opened once for each language and device, and then shown in all its sizes and colours: opening costs most.
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { browser } from './harness.mjs';
import { SCREENS, mountsFor, openScreen } from './screens.mjs';
import { sendFile, serveSite } from './site.mjs';

const SIZES = { desk: [1440, 900], tablet: [820, 1180], lying: [1180, 820], phone: [390, 844], small: [360, 640], large: [2560, 1440] };
const ALL = Object.keys(SIZES);
/** Pages of the wall that somebody may print. */
const PRINTED = ['label', 'grounds', 'audit', 'partings', 'layers', 'light', 'measure', 'kept', 'portfolio', 'region', 'evidence', 'about', 'tour', 'lesson', 'catalogue'];
/** For each language and device: sizes, theme, size of text in percent, colours forced by the system, on paper, which screens. */
const LOOKS = {
  'en webgl2': [
    { sizes: ALL },
    { sizes: ['desk', 'tablet', 'phone'], theme: 'dark' },
    { sizes: ['desk', 'tablet', 'phone'], text_percent: 200 },
    { sizes: ['desk', 'phone'], theme: 'dark', forced: true },
    { sizes: ['desk'], print: true, only: PRINTED },
  ],
  'ar webgl2': [
    { sizes: ALL },
    { sizes: ['desk', 'phone'], theme: 'dark' },
    { sizes: ['phone'], text_percent: 200 },
    { sizes: ['desk'], print: true, only: PRINTED },
  ],
  'de webgl2': [{ sizes: ['desk', 'tablet', 'phone'] }, { sizes: ['phone'], text_percent: 200 }],
  'es webgl2': [{ sizes: ['desk', 'tablet', 'phone'] }],
  'en webgpu': [{ sizes: ALL }, { sizes: ['desk', 'phone'], theme: 'dark' }],
  'ar webgpu': [{ sizes: ['desk', 'phone'] }],
};

const folder = process.env.GANOSIS_GALLERY;
if (!folder) throw new Error('set GANOSIS_GALLERY to the folder for the pictures');
const wanted = new RegExp(process.argv[2] ?? '');
mkdirSync(folder, { recursive: true });

/** What is asked for of a screen: the name of each picture and how it is shown. */
function shots(screen, language, backend) {
  const looks = LOOKS[`${language} ${backend}`].filter(({ only }) => !only || only.includes(screen.name));
  return looks.flatMap(({ sizes, theme = 'light', text_percent = 100, forced = false, print = false }) => sizes.map((size) => {
    const parts = [size, theme, language, text_percent !== 100 && `text${text_percent}`, forced && 'forced', print && 'paper', backend !== 'webgl2' && backend, screen.name];
    return { name: parts.filter(Boolean).join('-'), size: SIZES[size], theme, text_percent, forced, print };
  })).filter(({ name }) => wanted.test(name));
}

const site = await serveSite(mountsFor(process.env.GANOSIS_DEMO, sendFile));
try {
  for (const look of Object.keys(LOOKS)) {
    const [language, backend] = look.split(' ');
    if (!SCREENS.some((screen) => shots(screen, language, backend).length > 0)) continue;
    const chromium = await browser(backend);
    for (const screen of SCREENS) {
      const asked = shots(screen, language, backend);
      if (asked.length === 0) continue;
      const [width, height] = asked[0].size;
      const page = await chromium.newPage({ viewport: { width, height }, reducedMotion: 'reduce' });
      // Pictures are drawn in software, as a rule beside other work.
      page.setDefaultTimeout(180_000);
      try {
        await openScreen(page, site, screen, `&backend=${backend}&language=${language}`);
        for (const { name, size, theme, text_percent, forced, print } of asked) {
          await page.setViewportSize({ width: size[0], height: size[1] });
          await page.emulateMedia({ colorScheme: theme, forcedColors: forced ? 'active' : 'none', media: print ? 'print' : 'screen' });
          // As a browser's own setting for the size of text: the root's font size.
          await page.evaluate(async (percent) => {
            document.documentElement.style.fontSize = `${percent}%`;
            await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 150))); });
          }, text_percent);
          await page.screenshot({ path: join(folder, `${name}.png`), timeout: 120_000, fullPage: print });
        }
      } catch (error) {
        console.log(`${asked[0].name}: ${error.message.split('\n')[0]}`);
      }
      await screen.leave?.(page)?.catch(() => {});
      await page.close();
    }
    await chromium.close();
  }
} finally {
  await site.stop();
}
