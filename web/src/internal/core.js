// @ts-check
/** All that an element needs once somebody comes near it; before that nothing of it is fetched. */
export { Shell } from "./shell.js";
export { styles } from "./styles.js";
export { addressOf, viewOf } from "./address.js";
