// Pages with a desk whose answers a test knows, and the way into its screens.
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { sendFile } from './site.mjs';

const STAND_IN = fileURLToPath(new URL('./', import.meta.url));

/** The mounts of a dossier whose desk is the stand-in. @param {string} folder of the dossier */
export const mountsWithDesk = (folder) => ({
  dossier: folder,
  internal: (response, path) => (path === 'desk/worker.js' ? sendFile(response, STAND_IN, 'desk-stand-in.js') : sendFile(response, join(process.env.GANOSIS_VIEWER, 'internal'), path)),
});

/** Opens the dossier, ready, with nothing open beside it. */
export async function openDossier(page, site, options = '') {
  await page.goto('about:blank');
  await page.goto(`${site.address('dossier/')}&backend=webgl2${options}`);
  await page.waitForFunction(() => document.querySelector('ganosis-view')?.shadowRoot?.querySelector('[data-ready] .plate'), null, { timeout: 60_000 });
  await page.evaluate(async () => {
    const el = document.querySelector('ganosis-view');
    el.view = { pin: null, region: null, compare: 'swipe', left: 'as-found', right: 'evidence' };
    await new Promise((done) => { requestAnimationFrame(() => requestAnimationFrame(done)); });
  });
  return page.locator('ganosis-view');
}
