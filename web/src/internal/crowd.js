// @ts-check
/**
 * Pins that would lie on one another stand together under one mark. Greedy by
 * distance on the screen: who led a group before leads it again, and a pin
 * leaves its group only when it is clearly farther away than it was let in, so
 * that nothing flickers while the object turns. No DOM here.
 */

/** Nearer than this to a group a pin joins it (CSS px): marks of 44 px would overlap. */
export const JOIN_PX = 40;
/** Farther than this it leaves (CSS px). */
export const PART_PX = 56;
/** Nearer than this two groups become one (CSS px): marks just do not cover one another. */
export const MEET_PX = 30;

/** @typedef {{id: string, x: number, y: number, shown: boolean}} PinPlace CSS px */
/** @typedef {{lead: string, x: number, y: number, members: string[]}} Group `members` begins with the lead */

/**
 * @param {readonly PinPlace[]} places in the order of the dossier
 * @param {ReadonlyMap<string, string>} before lead of each pin, as `leadsOf` gives it
 * @param {string | null} [open] this pin always stands alone
 * @returns {Group[]}
 */
export function crowd(places, before, open = null) {
  /** @type {Map<number, Group[]>} */
  const grid = new Map();
  /** @type {Group[]} */
  const groups = [];
  const cell = (/** @type {number} */ x, /** @type {number} */ y) => Math.floor(x / PART_PX) * 65536 + Math.floor(y / PART_PX);
  /** @param {PinPlace} pin */
  const nearest = (pin) => {
    /** @type {Group | null} */
    let best = null;
    let least = Infinity;
    for (let dx = -1; dx <= 1; dx += 1) {
      for (let dy = -1; dy <= 1; dy += 1) {
        for (const group of grid.get(cell(pin.x + dx * PART_PX, pin.y + dy * PART_PX)) ?? []) {
          const distance = Math.hypot(pin.x - group.x, pin.y - group.y);
          const own = before.get(pin.id);
          if (own === group.lead && distance < PART_PX) return group;
          if (distance < (own === pin.id ? MEET_PX : JOIN_PX) && distance < least) [best, least] = [group, distance];
        }
      }
    }
    return best;
  };
  /** @param {PinPlace} pin @param {boolean} alone */
  const found = (pin, alone) => {
    const group = { lead: pin.id, x: pin.x, y: pin.y, members: [pin.id] };
    groups.push(group);
    if (alone) return;
    const key = cell(pin.x, pin.y);
    const there = grid.get(key);
    if (there) there.push(group);
    else grid.set(key, [group]);
  };
  const shown = places.filter((pin) => pin.shown);
  const led = (/** @type {PinPlace} */ pin) => before.get(pin.id) === pin.id;
  for (const pin of shown) if (pin.id === open) found(pin, true);
  for (const pin of [...shown.filter(led), ...shown.filter((one) => !led(one))]) {
    if (pin.id === open) continue;
    const group = nearest(pin);
    if (group) group.members.push(pin.id);
    else found(pin, false);
  }
  return groups;
}

/** @param {readonly Group[]} groups @returns {Map<string, string>} lead of each pin that is shown */
export function leadsOf(groups) {
  return new Map(groups.flatMap(({ lead, members }) => members.map((member) => /** @type {[string, string]} */ ([member, lead]))));
}
