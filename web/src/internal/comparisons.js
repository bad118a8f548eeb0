// @ts-check
/**
 * The comparisons on offer. A further one is a row here, a `compare.<id>`
 * message, an icon of that name, its part in the renderer, and where a range
 * input is not enough its controls in `panels/plate.js`.
 */

/**
 * @typedef {object} Control a range input beside the choice
 * @property {"position" | "angle_deg" | "loupe.radius" | "loupe.softness"} field of the view
 * @property {string} label message key
 * @property {number} min
 * @property {number} max
 * @property {number} step
 * @property {"percent" | "degree"} unit
 */

/**
 * @typedef {object} Comparison
 * @property {string} id as in `view.compare`
 * @property {boolean} both whether `right` is seen at all
 * @property {boolean} divided whether a divider is on the picture
 * @property {boolean} flickers whether the caution about flicker belongs with it
 * @property {Control[]} controls
 */

/** @type {readonly Comparison[]} */
export const COMPARISONS = [
  { id: "one", both: false, divided: false, flickers: false, controls: [] },
  {
    id: "swipe", both: true, divided: true, flickers: false,
    controls: [{ field: "angle_deg", label: "compare.angle", min: -90, max: 90, step: 1, unit: "degree" }],
  },
  {
    id: "blend", both: true, divided: false, flickers: false,
    controls: [{ field: "position", label: "compare.share", min: 0, max: 1, step: 0.01, unit: "percent" }],
  },
  {
    id: "loupe", both: true, divided: false, flickers: false,
    controls: [
      { field: "loupe.radius", label: "loupe.size", min: 0.05, max: 0.5, step: 0.01, unit: "percent" },
      { field: "loupe.softness", label: "loupe.softness", min: 0, max: 1, step: 0.05, unit: "percent" },
    ],
  },
  { id: "pair", both: true, divided: false, flickers: false, controls: [] },
  { id: "blink", both: true, divided: false, flickers: true, controls: [] },
  { id: "difference", both: true, divided: false, flickers: false, controls: [] },
];

/** @param {string} id @returns {Comparison} */
export function comparison(id) {
  return COMPARISONS.find((one) => one.id === id) ?? /** @type {Comparison} */ (COMPARISONS[0]);
}
