/** What goes between the page, the desk in its worker, and the panels. */
import type { DossierDocument } from "../../types.d.ts";

/** One change of `dossier.json`; `path` is an RFC 6901 JSON Pointer. A list also takes `-`, its end, for `insert`. */
export interface Step { op: "set" | "insert" | "remove"; path: string; value?: unknown }

/** Part of a region map as it now is, rows from the top. */
export interface Rect { sheet: string; x: number; y: number; width: number; height: number; map_width: number; map_height: number; texels: Uint16Array }

export interface Outcome {
  /** null: the document is as it was. */
  document: DossierDocument | null;
  /** The same as the text of the file. */
  text: string | null;
  rects: Rect[];
  /** What undo and redo would take back and do again. */
  undo: string | null;
  redo: string | null;
  /** How many steps stand. */
  revision: number;
  /** Nothing differs from what was last saved. */
  saved: boolean;
}

/** Column-major; CSS pixels. */
export interface Projection { view_projection: ArrayLike<number>; eye: ArrayLike<number>; width: number; height: number }
/** Onto which texels a tool writes: those of no region, all, or those of these numbers. */
export type Over = "free" | "all" | number[];

/**
 * Operations on the region maps. Numbers are those of regions; 0 erases. `label` names the step for
 * undo; without it the operation's own name does. `states` are the ids of what is in view, bands too: parts
 * that none of them shows neither take paint nor hide what lies behind.
 */
export interface Drawing {
  stroke: States & { points: { position: ArrayLike<number>; normal: ArrayLike<number> }[]; radius_mm: number; number: number; over: Over; continues?: boolean; label?: string };
  lasso: States & { polygon: [number, number][]; projection: Projection; number: number; over: Over; label?: string };
  fill: States & { anchor: object; number: number; over: Over; connected: boolean; label?: string }
    & ({ by: "colour"; layer: string; tolerance_delta_e_2000: number } | { by: "band"; layer: string; from: number; to: number });
  grow: States & { number: number; mm: number; over: Over; label?: string };
  shrink: States & { number: number; mm: number; label?: string };
  assign: States & { from: number; to: number; label?: string };
}

interface States { states?: string[] }

export type MeasureKind = "distance" | "angle" | "normals" | "loop" | "profile";
/** Places on the surface in metres. `towards`: a profile's heights run along it; else along the mean of the two normals. */
export interface Measuring extends States { kind: MeasureKind; places: { position: [number, number, number]; normal: [number, number, number] }[]; towards?: [number, number, number] }

/** Lengths in metres along the triangles as they are; what a kind does not tell is not there. */
export interface Measured {
  straight_m?: number;
  /** null: on parts of the surface that do not touch. */
  surface_m?: number | null;
  angle_deg?: number;
  normals?: [number, number, number][];
  perimeter_m?: number;
  /** null: the loop parts nothing off. */
  area_m2?: number | null;
  /** Distance along the line between the places and height over it; goes back where the surface overhangs. */
  samples_m?: [number, number][];
  lowest_m?: number;
  highest_m?: number;
  /** false: the cut does not reach the second place. */
  whole?: boolean;
  /** On the surface; of a loop the last joins the first. */
  line?: [number, number, number][] | null;
  triangles: number;
}

export interface Areas { regions: { number: number; area_m2: number }[]; unassigned_m2: number }

/** A region map as PNG, under the name that the document is to use. */
export interface MapFile { sheet: string; path: string; bytes: Uint8Array }

/** A document ready to be written, with the maps that it names. */
export interface ToSave { mark: number; revision: number; text: string; maps: MapFile[] }

export interface DeskDraft { text: string; maps: { sheet: string; bytes: Uint8Array }[] }

/** A refused change: the message says what and what to do. */
export interface Refusal extends Error { findings?: { rule: string; severity: string; path: string; message: string; advice: string }[] }
