/** What `import { GanosisView } from "ganosis-view"` gives; importing it defines the element. */
import type { GanosisViewElement } from "./types.d.ts";
export type * from "./types.d.ts";
export declare const GanosisView: { prototype: GanosisViewElement; new (): GanosisViewElement; readonly observedAttributes: readonly string[] };
