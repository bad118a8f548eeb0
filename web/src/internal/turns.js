// @ts-check
/**
 * Which elements of a page are alive. An element opens when it comes near the screen and gives its
 * graphics device back when it has been away for a while, or when another one is used on a page that
 * has many; then a still picture stands in its place.
 */

/**
 * @typedef {object} Member an element, as it is seen from here
 * @property {() => Promise<unknown>} wake opens it; settles when its picture is drawn, or cannot be
 * @property {(patience_ms: number) => Promise<boolean>} rest leaves a still, of a whole picture if that comes in time, and gives the device back; false: it cannot now
 * @property {(seen: boolean) => void} seen whether any of it is on the screen: what is not need not be drawn
 */

/** @typedef {{member: Member, near: boolean, share: number, alive: boolean, drawn: boolean, asked: number, away: number}} Entry */

/** Near is within one screen: so far a person scrolls while a dossier opens. On a page of many only what is seen opens. */
const NEAR = "100% 100%";
/** Who only scrolls past and back should find it as it was (ms): a choice of ours. */
const REST_AFTER_MS = 3000;
/** A still waits so long for what its picture lacks (ms), and so long when somebody waits for another element. Choices of ours. */
const [PATIENCE_MS, PATIENCE_WHEN_ASKED_MS] = [20_000, 1000];
/** From so many elements on, one alone has a device: two or three a phone can carry. A choice of ours. */
const MANY = 4;

/** @type {Map<Element, Entry>} */
const entries = new Map();
let asked = 0;
let turning = false;

/** @param {boolean} near which of the two it tells @param {string} margin @param {number[]} threshold */
const observer = (near, margin, threshold) => new IntersectionObserver((changes) => {
  for (const { target, isIntersecting, intersectionRatio } of changes) {
    const entry = entries.get(target);
    if (!entry) continue;
    if (near) {
      entry.near = isIntersecting;
      clearTimeout(entry.away);
      if (!isIntersecting) entry.away = window.setTimeout(() => void settle(entry), REST_AFTER_MS);
    } else {
      entry.share = isIntersecting ? Math.max(intersectionRatio, 0.01) : 0;
      entry.member.seen(isIntersecting);
    }
  }
  void turn();
}, { rootMargin: margin, threshold });

/** Made with the first element. @type {IntersectionObserver[]} */
let observers = [];

/** @param {Element} element @param {Member} member */
export function join(element, member) {
  if (observers.length === 0) observers = [observer(true, NEAR, [0]), observer(false, "0px", [0, 0.25, 0.5, 0.75, 1])];
  entries.set(element, { member, near: false, share: 0, alive: false, drawn: false, asked: 0, away: 0 });
  for (const one of observers) one.observe(element);
}

/** @param {Element} element */
export function leave(element) {
  clearTimeout(entries.get(element)?.away);
  for (const one of observers) one.unobserve(element);
  entries.delete(element);
  void turn();
}

/** Somebody uses an element: it is its turn. @param {Element} element */
export function ask(element) {
  const entry = entries.get(element);
  if (!entry || entry.alive) return;
  entry.asked = ++asked;
  void turn();
}

/** The next one to open: the last that was asked for, then what is seen most, then, among few, what is near. */
function next() {
  const waiting = [...entries.values()].filter((entry) => !entry.alive && (entry.asked > 0 || (few() ? entry.near : entry.share > 0 && !entry.drawn)));
  const rank = (/** @type {Entry} */ { asked: when, share, near }) => [when, share, Number(near)];
  return waiting.sort((a, b) => {
    const [ra, rb] = [rank(a), rank(b)];
    const at = ra.findIndex((value, index) => value !== rb[index]);
    return at < 0 ? 0 : Number(rb[at]) - Number(ra[at]);
  })[0];
}

const few = () => entries.size < MANY;

async function turn() {
  if (turning) return;
  turning = true;
  try {
    for (let entry = next(); entry; entry = next()) {
      const patience_ms = entry.asked > 0 ? PATIENCE_WHEN_ASKED_MS : PATIENCE_MS;
      entry.asked = 0;
      entry.alive = true;
      if (few()) {
        void wake(entry);
        continue;
      }
      await Promise.all([...entries.values()].filter((other) => other !== entry && other.alive).map((other) => rest(other, patience_ms)));
      await wake(entry);
    }
  } finally {
    turning = false;
  }
}

/** @param {Entry} entry */
async function wake(entry) {
  await entry.member.wake();
  entry.drawn = true;
}

/** @param {Entry} entry @param {number} patience_ms */
async function rest(entry, patience_ms) {
  if (await entry.member.rest(patience_ms)) entry.alive = false;
}

/** It is away: unless it is near again. @param {Entry} entry */
async function settle(entry) {
  if (!entry.near && entry.alive) await rest(entry, PATIENCE_MS);
}
