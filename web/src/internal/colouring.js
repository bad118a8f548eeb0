// @ts-check
/** The page for colouring: `?src=` names the dossier, `language=` the language. Nothing of it is sent anywhere. */
import { place } from "./placing.js";

place(["src", "backend", "language"], { mode: "colouring", opens: "at-once", edit: "never" });
