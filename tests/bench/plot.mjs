// A plot of what a bench measured, in shares of the limits. Usage: node plot.mjs latest.json latest.svg
import { readFileSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const [ROW, LEFT, WIDTH, RIGHT] = [24, 430, 420, 150];
/** Bars end here, in limits. */
const LONGEST = 2;
const text = (value) => String(value).replace(/[&<>"]/g, (sign) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[sign]);
const figure = (value) => (Math.abs(value) >= 1000 ? Math.round(value).toLocaleString('en-GB') : Number(value.toPrecision(3)).toString());

/** @param {{rows: {name: string, measured: number, limit: number | null, unit: string, within: boolean}[], about?: object[]}} bench */
export function plotOf({ rows, about = [] }) {
  const shown = rows.filter(({ limit }) => limit);
  const head = about.map((one) => Object.entries(one).map(([key, value]) => `${key.replaceAll('_', ' ')} ${value}`).join(' · '));
  const top = 56 + 16 * head.length;
  const height = top + ROW * shown.length + 28;
  const at = (share) => LEFT + (Math.min(share, LONGEST) / LONGEST) * WIDTH;
  const bars = shown.map(({ name, measured, limit, unit, within }, index) => {
    const y = top + ROW * index;
    const share = measured / limit;
    return `<text x="${LEFT - 8}" y="${y + 16}" text-anchor="end">${text(name)}</text>`
      + `<rect x="${LEFT}" y="${y + 4}" width="${(at(share) - LEFT).toFixed(1)}" height="${ROW - 8}" fill="${within ? '#5a6b7a' : '#c2571a'}"/>`
      + `<text x="${(at(share) + 6).toFixed(1)}" y="${y + 16}">${text(`${figure(measured)} of ${figure(limit)} ${unit === 'ratio' ? '' : unit}`.trim())}${within ? '' : ' (beyond)'}</text>`;
  });
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${LEFT + WIDTH + RIGHT}" height="${height}" viewBox="0 0 ${LEFT + WIDTH + RIGHT} ${height}" font-family="sans-serif" font-size="12">
<title>What was measured, in shares of its limit</title>
<rect width="100%" height="100%" fill="#fff"/>
<text x="16" y="28" font-size="16">What was measured, in shares of its limit</text>
${head.map((line, index) => `<text x="16" y="${48 + 16 * index}" fill="#555" font-size="11">${text(line)}</text>`).join('\n')}
${bars.join('\n')}
<line x1="${at(1)}" x2="${at(1)}" y1="${top - 4}" y2="${height - 20}" stroke="#000" stroke-dasharray="3 3"/>
<text x="${at(1)}" y="${height - 8}" text-anchor="middle">limit</text>
</svg>
`;
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [, , from, to] = process.argv;
  writeFileSync(to, plotOf(JSON.parse(readFileSync(from, 'utf8'))));
}
