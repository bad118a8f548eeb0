// @ts-check
/** All that only those need who edit: fetched when editing begins, so that visitors do not wait for it. */
export { bar } from "./bar.js";
export { drawing } from "./drawing.js";
export { formPage } from "./form.js";
export { movePins } from "./movepins.js";
export { answerForm, reviewClearance, reviewForm } from "./review.js";
export { setAsideForm, takeBack } from "./setaside.js";
export { workbench } from "./workbench.js";
