// @ts-check
/** The whole-page viewer: `?src=` names the dossier, unless the page was made for one (`data-src` of its `main`); `#…` the view. */
import { place } from "./placing.js";

place(["src", "backend", "language"], { address: "hash" });
