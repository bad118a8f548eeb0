// @ts-check
/**
 * Where the viewer's own files lie: the folder of `ganosis-view.js`. Modules with an address lie two folders below it,
 * here as in what a visitor is served (`web/tools/bundle.mjs`), so that this holds in both.
 */
export const BASE = new URL("../../", import.meta.url);
