/** What goes between the page and the tripod in its worker. */

export interface Distortion { k1: number; k2: number; k3: number; p1: number; p2: number; k4?: number; k5?: number; k6?: number }
/** Pixels as stored. */
export interface Lens { width_px: number; height_px: number; focal_px: [number, number]; centre_px: [number, number]; distortion?: Distortion }
/** camera = rotation · surface + translation; camera x right, y down, z forward. */
export interface Pose { rotation: [number, number, number][]; translation_m: [number, number, number] }
export interface FitSummary { pairs: number; wrong_pairs: number; rms_px: number; rms_mm: number; left_out_rms_px?: number }
export interface PosedPhoto { photo: { file: string; sha256: string }; lens: Lens; pose: Pose; fit?: FitSummary | null }
/** Pixels as stored, from the top left corner; metres. */
export interface Pair { name: string; pixel: [number, number]; surface_m: [number, number, number] }
export interface PairResult { name: string; off_px: [number, number] | null; off_mm: number | null; left_out_px: number | null; wrong: boolean }
export type WeakKind = "few-points" | "plane-without-focal" | "one-corner" | "undetermined" | "focal-uncertain" | "extrapolated" | "ambiguous" | "wrong-pairs" | "lens-doubtful";

export interface Frame {
  centre_m: [number, number, number];
  /** Directions on the axes of the surface. */
  middle: [number, number, number];
  /** Clockwise from the first corner of the picture, eight a side. */
  border: [number, number, number][];
  /** The box around the picture on the normalised plane. */
  min: [number, number];
  max: [number, number];
  fold_r2: number | null;
}

export interface Answer {
  fit: {
    lens: Lens; pose: Pose; summary: FitSummary; pairs: PairResult[]; weaknesses: { kind: WeakKind; text: string; advice: string }[];
    free: Record<string, boolean>;
    uncertainty: { marked_px: number; place_mm: [number, number, number]; turn_deg: [number, number, number]; focal_px: number | null; worst_in_picture_px: number; worst_at_points_px: number } | null;
  };
  tried: { free: Record<string, boolean>; rms_px: number; left_out_rms_px: number | null; wrong_pairs: number }[];
  camera_centre_m: [number, number, number];
  /** Of each pair the point of the line of sight that lies nearest to its place. */
  sighted_m: ([number, number, number] | null)[];
  foretold_px: ([number, number] | null)[];
  frame: Frame;
}

/** A pose brought into agreement with a layer; pixels of the photograph. */
export interface Agreed {
  posed: PosedPhoto;
  frame: Frame;
  agreement: {
    pose: Pose; shift_px: [number, number]; moved_rms_px: number; moved_most_px: number; squares: number; agreeing: number;
    rms_px: number; standard_error_px: number; chance_log10: number; rounds: number; level_px: number;
  };
}

/** A photograph as it is shown: pixels as stored, shrunk by a whole number. */
export interface Shown {
  width_px: number; height_px: number; shrunk: number; shown_width: number; shown_height: number;
  rgba: Uint8Array; bits: number; exif: number; encoding: string; gain: number;
}

export type Told = { pairs: Pair[] } | { lens: Lens } | { posed: PosedPhoto };

/** Triangles, and which of them belong to which nodes. */
export interface Geometry { positions: Float32Array; corners: Uint32Array; spans: { first: number; count: number; nodes: string[] }[] }
