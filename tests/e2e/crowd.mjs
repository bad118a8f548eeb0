// A dossier with thousands of findings, pins and observations, and what a step of scrolling through them computes.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { writeDossier } from './fixture.mjs';

export const CROWD = { findings: 5000, pins: 2000, observations: 50_000 };

/** Writes the dossier of the squares with as many of each as asked; the findings are made by desk-stand-in.js. */
export function writeCrowd(folder, { findings, pins, observations } = CROWD) {
  const document = writeDossier(folder);
  document.test_findings = findings;
  document.claims.push({ id: 'c-2', regions: ['column-2', 'column-3'], states: ['as-found'], certainty: 'observed', author: 'ek', date: '2025-05-02' });
  // A field of pins over the square, in a spiral of equal density (Vogel, Mathematical Biosciences 44, 1979).
  document.pins.push(...Array.from({ length: pins - 1 }, (_, n) => {
    const [radius, angle] = [0.45 * Math.sqrt((n + 1) / pins), n * 2.399963];
    const [x, y] = [radius * Math.cos(angle), radius * Math.sin(angle)];
    return { id: `n${n}`, title: `Note ${n}`, anchor: { sheet: 'front', uv: [x + 0.5, 0.5 - y], position_m: [x, y, 0], normal: [0, 0, 1] } };
  }));
  document.evidence.push(...Array.from({ length: observations }, (_, n) => ({ id: `e${n}`, technique: 'xrf', title: `Spot ${n}`, region: 'column-5', elements: ['Cu'] })));
  writeFileSync(join(folder, 'dossier.json'), JSON.stringify(document));
}

/** Scrolls the panel down; gives the largest number of `rows` that were in the page at once. */
export const scrollThrough = (page, steps, rows = '*') => page.evaluate(async ([count, selector]) => {
  const content = document.querySelector('ganosis-view').shadowRoot.querySelector('.content');
  let most = 0;
  for (let step = 0; step < count; step += 1) {
    content.scrollTop += 900;
    await new Promise((done) => { requestAnimationFrame(done); });
    most = Math.max(most, content.querySelectorAll(selector).length);
  }
  return most;
}, [steps, rows]);

/**
 * Time that the page's own thread computes for a step of scrolling, in ms, style and layout included.
 * Told by the processor's clock of that thread (Chrome DevTools Protocol, Performance), since the other
 * clock also runs while other work of the machine has the processor.
 */
export async function scrollTime(page, steps) {
  const client = await page.context().newCDPSession(page);
  await client.send('Performance.enable', { timeDomain: 'threadTicks' });
  const computed = async () => (await client.send('Performance.getMetrics')).metrics.find(({ name }) => name === 'TaskDuration').value * 1000;
  const start = await computed();
  await scrollThrough(page, steps);
  return ((await computed()) - start) / steps;
}
