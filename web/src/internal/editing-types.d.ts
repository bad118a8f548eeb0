/** What the panels need of the desk and of a sitting of editing. */
import type { Anchor, AuditResult, DossierDocument, Hint, Parting } from "../types.d.ts";

export interface Step { op: "set" | "insert" | "remove"; path: string; value?: unknown }
export interface Rect { sheet: string; x: number; y: number; width: number; height: number; texels: Uint16Array }
export interface Outcome { document: DossierDocument | null; rects: Rect[]; undo: string | null; redo: string | null; revision: number }
/** Column-major; CSS pixels. */
export interface Projection { view_projection: ArrayLike<number>; eye: ArrayLike<number>; width: number; height: number }
/** Onto which texels a tool writes. */
export type Over = "free" | "all" | number[];

export interface Strokes {
  stroke: { points: { position: number[]; normal: number[] }[]; radius_mm: number; number: number; over: Over; continues?: boolean };
  lasso: { polygon: [number, number][]; projection: Projection; number: number; over: Over };
  fill: { anchor: object; number: number; over: Over; connected: boolean }
    & ({ by: "colour"; layer: string; tolerance_delta_e_2000: number } | { by: "band"; layer: string; from: number; to: number });
  grow: { number: number; mm: number; over: Over };
  shrink: { number: number; mm: number };
  assign: { from: number; to: number };
}

export interface Desk {
  audit(): Promise<AuditResult>;
  compare(left: string, right: string): Promise<Parting[]>;
  hints(evidence: string): Promise<Hint | null>;
  areas(): Promise<{ regions: { number: number; area_m2: number }[]; unassigned_m2: number }>;
}

export interface EditSession {
  readonly document: DossierDocument;
  readonly canUndo: string | null;
  readonly canRedo: string | null;
  readonly saved: boolean;
  /** Where saving goes. */
  readonly where: "server" | "zip";
  apply(steps: Step[], label: string): Promise<unknown>;
  undo(): Promise<unknown>;
  redo(): Promise<unknown>;
  save(): Promise<unknown>;
  download(): Promise<unknown>;
  freshId(kind: string): string;
  onchange(listen: () => void): void;
  /** Lays a file beside the dossier; gives the path that names it. */
  attach(file: File): Promise<string>;
  /** One operation on the region maps. */
  draw<K extends keyof Strokes>(operation: K, values: Strokes[K]): Promise<unknown>;
}

/** What the surface tells a tool. */
export interface SurfacePoint { position: [number, number, number]; normal: [number, number, number]; sheet: string; uv: [number, number] }

export type { Anchor };
