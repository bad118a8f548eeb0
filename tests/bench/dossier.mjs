// The two dossiers that are measured, of one demonstration: three states of the same object, each a colour layer on two
// sheets, so six images; whole as they are, and cut into tiles. Usage: node dossier.mjs DEMONSTRATION WHOLE
import { linkSync, mkdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { pathToFileURL } from 'node:url';

/** States that have the same parts, so that each is one draw a sheet. */
const STATES = ['as-found', 'evidence-based', 'hypothesis-b'];

/** Writes the part of a demonstration that is measured; its files are those of the demonstration. @param {string} from @param {string} to */
export function writeWhole(from, to) {
  const all = JSON.parse(readFileSync(join(from, 'dossier.json'), 'utf8'));
  const states = STATES.map((id) => all.states.find((state) => state.id === id));
  if (states.some((state) => !state || state.parts.length > 0)) throw new Error(`${from} has not the states ${STATES.join(', ')} without parts`);
  const layers = states.map((state) => all.layers.find(({ id }) => id === state.layers[0]));
  const fresh = `${to}.part`;
  rmSync(fresh, { recursive: true, force: true });
  for (const file of [all.surface.file, ...layers.flatMap(({ images }) => images.map((image) => image.file))]) {
    mkdirSync(dirname(join(fresh, file)), { recursive: true });
    linkSync(join(from, file), join(fresh, file));
  }
  const { format, id, revision, title, languages, object, rights, surface, people } = all;
  const proposers = new Set(states.flatMap((state) => state.proposed_by ?? []));
  const kept = states.map((state) => ({ ...state, based_on: (state.based_on ?? []).filter((other) => STATES.includes(other)) }));
  const document = { format, id, revision, title, languages, object, rights, people: people?.filter((one) => proposers.has(one.id)), surface, layers, states: kept };
  writeFileSync(join(fresh, 'dossier.json'), `${JSON.stringify(document, null, 1)}\n`);
  rmSync(to, { recursive: true, force: true });
  renameSync(fresh, to);
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) writeWhole(process.argv[2], process.argv[3]);
