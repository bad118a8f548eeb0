// What scripts of a site import, by their text.
import { readFileSync } from 'node:fs';
import { join, posix } from 'node:path';

/** A script and all that comes with it at once, not what it imports when it is needed. @param {string} site its folder @param {string} path of the script on it @param {Set<string>} [found] to add to */
export function importedBy(site, path, found = new Set()) {
  if (found.has(path)) return found;
  found.add(path);
  for (const [, name] of readFileSync(join(site, path), 'utf8').matchAll(/(?:from|import)\s*["'`](\.[^"'`]+\.js)["'`]/g)) importedBy(site, posix.join(posix.dirname(path), name), found);
  return found;
}
