/**
 * Types of the element, of the dossier as the viewer hands it out, and of the
 * viewer handle. Lengths in metres, angles in degrees, screen positions in CSS
 * pixels from the top left corner of the canvas.
 */

/** A text: one string, or a map from BCP 47 language tag to string. */
export type Text = string | Record<string, string>;

export type StateKind = "as-found" | "evidence-based" | "hypothetical";
export type Certainty = "measured" | "observed" | "continued" | "comparative" | "conjectural";

export interface Camera {
  target_m: [number, number, number];
  azimuth_deg: number;
  elevation_deg: number;
  distance_m: number;
  fov_deg: number;
  /** Of a saved view: width to height of the picture that it was made in. */
  aspect?: number;
}

/** A lamp, as seen from the middle of the object. */
export interface Lamp {
  /** From the front to its right. */
  azimuth_deg: number;
  elevation_deg: number;
  /** 0: so far that its light is parallel. */
  distance_m: number;
  /** Sine of its angular radius, at most 0.9. */
  softness: number;
  /** 1 shows what faces it in its own colour; 0 is off. At most 4. */
  strength: number;
}

/** Of a raking light the place of its first lamp, and the second one. */
export interface Light extends Lamp {
  mode: "as-measured" | "raking" | "daylight";
  second: Lamp;
  /** How many times as strong relief is shown, 0 to 5. */
  relief: number;
  /** How much counts what the object itself hides of the surroundings, 0 to 1. */
  occlusion: number;
}

/** A plane that cuts the object open: what lies towards its normal is taken away. */
export interface Section {
  azimuth_deg: number;
  elevation_deg: number;
  /** From the middle of the object, in radii of the ball around it, -1 to 1. */
  position: number;
}

/** How a layer is shown. */
export interface LayerLook {
  /** 0 to 1. */
  opacity: number;
  /** Of a band: from and to where in its range, 0 to 1; the other way round inverts it. */
  ends: [number, number];
  map: "sequence" | "grey" | "diverging" | "steps";
  /** Equal parts between lines of one value; 0 draws none. */
  lines: number;
}

/** Everything that decides what is seen. A saved view of a dossier has the same shape. */
export interface View {
  /** Id of a state or of a band layer. */
  left: string;
  right: string;
  /** The further ones of three or four. */
  third: string;
  fourth: string;
  /** Id of a comparison: see `internal/comparisons.js`. */
  compare: string;
  /** How many are compared at once, 2 to 4: strips of a swipe, panes, or (at most 3) parts of a blend. */
  count: number;
  /** 0 to 1. Swipe: where the divider stands. Blend: 0 shows `left` alone. */
  position: number;
  /** Where the second and the third divider stand. */
  further: [number, number];
  /** Of left, right and third in a blend of three; they add up to 1. */
  shares: [number, number, number];
  /** Of the divider; 0 is upright, positive turns clockwise. */
  angle_deg: number;
  /** The round glass: `x`, `y` 0 to 1 of the picture, `radius` in shares of its shorter side, `softness` of the radius. */
  loupe: { x: number; y: number; radius: number; softness: number };
  /** How often two states take turns, at most 3. */
  changes_per_second: number;
  camera: Camera;
  light: Light;
  /** null: nothing is cut open. */
  section: Section | null;
  /** How differences are shown, in CIEDE2000. While it is `fitted` the page chooses the full scale by the two states; a full scale that is set without it stays. */
  difference: { threshold: number; full_scale: number; fitted?: boolean };
  /** Colours as under this lamp; null shows them as measured. `id` as `ganosis colour --light` reads it. */
  lamp: { id: string; adapted: boolean } | null;
  /** Patterns over the surface that tell what its colours rest on. */
  overlay: "certainty" | "technique" | "age" | "review" | null;
  /** How layers are shown, by their ids; those not named as they are. Given, it replaces all of them. */
  layers: Record<string, LayerLook>;
  /** Id of a band layer that lies over everything, by its opacity. */
  over: string | null;
  /** CIELAB L* of the neutral surround, 0 to 100. */
  surround_l: number;
  pin: string | null;
  region: string | null;
  /** BCP 47 tag. */
  language: string;
}

export interface Anchor {
  sheet: string;
  uv: [number, number];
  position_m?: [number, number, number];
  normal?: [number, number, number];
}

export interface Attachment { file: string; media_type?: string; title?: Text; caption?: Text; width_mm?: number }
export interface Person { id: string; name: Text; role?: Text }
export interface State {
  id: string; kind: StateKind; title: Text; description?: Text;
  layers?: string[]; parts?: string[]; proposed_by?: string[]; based_on?: string[];
}
export interface Layer {
  id: string; kind: "colour" | "band"; title: Text; description?: Text; band?: string; unit?: string;
  range?: [number, number]; wavelength_nm?: [number, number]; caution?: Text;
  images?: { sheet: string; file: string; width_px?: number; height_px?: number }[];
  /** How it was made, where a command made it. */
  origin?: { command?: string };
}
export interface Region { id: string; number: number; title: Text }
export interface Pigment {
  id: string; title: Text; lab_d50?: [number, number, number]; spread_delta_e?: number | null;
  readings?: number | null; spectrum?: string | null; elements?: string[];
  earliest_year?: number | null; latest_year?: number | null; source?: Text; caution?: Text;
}
export interface Evidence {
  id: string; technique: string; title: Text; result?: Text; anchor?: Anchor | null; region?: string | null;
  instrument?: Text; settings?: Text; date?: string | null; operator?: string | null; elements?: string[];
  identified?: string[]; response?: string | null; attachments?: Attachment[]; caution?: Text;
}
export type Verdict = "agree" | "dispute" | "ask";
export interface Answer { by: string; date?: string | null; text: Text }
export interface Review { verdict: Verdict; by: string; date?: string | null; reason?: Text; answer?: Answer | null }
export interface SetAside { rule: string; about: string; by: string; date?: string | null; reason: Text }
export interface Claim {
  id: string; regions?: string[]; parts?: string[]; states?: string[]; pigment?: string | null;
  mixture?: { pigment: string; share?: number | null }[]; over?: string | null; lab_d50?: [number, number, number] | null;
  finish?: string | null; certainty: Certainty; evidence?: string[]; author?: string | null; date?: string | null; argument?: Text;
  reviews?: Review[];
}
export interface Pin {
  id: string; title: Text; text?: Text; anchor?: Anchor; evidence?: string[]; claims?: string[]; states?: string[];
}
/** Narration by BCP 47 tag: sound and WebVTT captions, files beside the dossier. */
export type Narration = Record<string, { audio?: string; captions?: string }>;
export interface SavedView { id: string; title: Text; text?: Text; view: Partial<View>; narration?: Narration }

/** `dossier.json`, format 1, as the viewer hands it out. */
export interface DossierDocument {
  format?: string; id?: string; revision?: number;
  title?: Text; description?: Text; notice?: Text; languages?: string[];
  object?: { identifier?: Text; orientation?: { up: [number, number, number]; front: [number, number, number] } | null; date?: Text; material?: Text; place?: Text; dimensions?: Text };
  rights?: { licence?: string; credit?: Text };
  people?: Person[];
  surface?: { file?: string; sheets?: { id: string; title?: Text; material?: string }[]; parts?: { id: string; title?: Text; node?: string }[] };
  layers?: Layer[]; states?: State[]; regions?: Region[]; palette?: Pigment[];
  evidence?: Evidence[]; claims?: Claim[]; pins?: Pin[]; views?: SavedView[]; set_aside?: SetAside[];
}

/** Where in the dossier: ids, and a point to look at. */
export interface Place {
  claim?: string; evidence?: string; region?: string; part?: string; state?: string; pigment?: string; layer?: string;
  anchor?: Anchor;
}

/** A sentence of the audit: in English, and as a key with values for other languages. */
export interface Told { message: string; key: string; values?: Record<string, ToldValue> }
/** What stands in a place of a sentence. */
export type ToldValue =
  | { text: string } | { written: Text } | { named: { title: Text; id: string } } | { number: { value: number; digits: number } }
  | { told: Told } | { list: { how: "and" | "or" | "apart"; items: ToldValue[] } };

/** One thing that the audit found. */
export interface Finding extends Told {
  rule: string; severity: "error" | "warning" | "note"; about: string; place: Place;
  settles: string; source: string; measures?: { name: string; key: string; value: number; unit: string }[];
}
export interface Standing { finding: Finding; set_aside: SetAside }
export interface AuditResult { findings: Finding[]; set_aside: Standing[]; not_examined: Told[] }

/** What one state says of a region or part. */
export interface PartingSide {
  claims: string[]; pigments: string[]; over: string[]; finishes: string[]; certainties: string[];
  evidence: string[]; authors: string[]; lab_d50: [number, number, number] | null;
}
export interface Parting {
  region: string | null; part: string | null; area_cm2: number | null; anchor: Anchor | null;
  left: PartingSide; right: PartingSide; delta_e_2000: number | null; looks_different: boolean;
}

export interface HintCandidate { pigment: string; name: string; why: string; later: boolean; source: string }
export interface Hint { sentence: string; consistent_with: HintCandidate[]; excluded: HintCandidate[]; remarks: string[] }

/** What `el.dossier` tells. Titles are in the language shown. */
export interface DossierSummary {
  id: string;
  title: string;
  states: { id: string; title: string; kind: StateKind }[];
  layers: { id: string; title: string; kind: "colour" | "band" }[];
  regions: { id: string; title: string; number: number }[];
  pins: { id: string; title: string }[];
  views: { id: string; title: string }[];
}

/** What is known at one point of the picture. */
export interface Probe {
  anchor: Anchor;
  sheet: string;
  uv: [number, number];
  region: string | null;
  claims: string[];
  colours: ProbeColour[];
  bands: { layer: string; value: number; unit: string }[];
}

/** The colour of a state at a point. Lab and LCh under D50 for the 2 degree observer. */
export interface ProbeColour {
  state: string;
  lab_d50: [number, number, number];
  lch_d50: [number, number, number];
  /** Code values 0 to 255, cut to the gamut of sRGB. */
  srgb: [number, number, number];
  shown_lab_d50: [number, number, number];
  /** What the gamut of sRGB costs, in CIEDE2000; 0 inside it. */
  gamut_delta_e_2000: number;
  claimed: { claim: string; lab_d50: [number, number, number]; delta_e_2000: number } | null;
  under_lamp: { lab_d50: [number, number, number] } | null;
}

/** Statistics of colour differences (CIEDE2000) over the pixels that show both sides. */
export interface Differences {
  pixels: number; mean: number; median: number; percentile_95: number; largest: number;
  /** Share of the pixels that differ by the threshold or more, 0 to 1. */
  share_above: number;
}

export interface LampReport {
  /** Ids of the regions whose colour was computed from a spectrum. */
  computed: { left: string[]; right: string[] };
  /** Palette entries that match in daylight and part company under the lamp. */
  mismatches: { first: string; second: string; under_d50: number; under_lamp: number }[];
}

export interface OverlayRow { word: string; pattern: number; regions: number; area_m2: number; share: number }
export interface OverlayLegend { theme: string; left: OverlayRow[]; right: OverlayRow[] }

export interface Wanted {
  id: string | number;
  path: string | null;
  kind: "surface" | "buffer" | "colour" | "band" | "labels" | "spectrum";
  layer: string | null;
  sheet: string | null;
  urgent: boolean;
}

/** `index`: path of the list of its tiles. */
export interface TiledImage { id: number; index: string; colour: boolean }

export interface Backend { name: string; adapter: string; largest_texture_px: number; canvas: "srgb" | "display-p3" }
export interface Problem { file: string; message: string }

/** The one handle of the viewer, made by `Viewer.create(canvas, options)`. */
export interface ViewerHandle {
  backend(): Backend;
  open(name: string, bytes: Uint8Array): void;
  document(): DossierDocument;
  wanted(): Wanted[];
  embedded(id: Wanted["id"]): { bytes: Uint8Array; mime: string };
  /** Takes a spectrum. */
  supply(id: Wanted["id"], bytes: Uint8Array): void;
  /** Takes a band image or a region map, as the porter gives it. */
  supply_values(id: Wanted["id"], width: number, height: number, full_scale: number, texels: Uint16Array): void;
  /** Takes a mesh as the porter gives it: its head, pieces of its arrays in their order, the end; then it goes to the device until `bring_geometry` says false. */
  begin_surface(head: Uint8Array): void;
  add_to_surface(piece: Uint8Array): void;
  end_surface(id: Wanted["id"]): void;
  bring_geometry(): boolean;
  /** Takes the tree by which places on the surface are found; false when it is not that of what is here. */
  supply_tree(boxes: Uint8Array, order: Uint8Array): boolean;
  /** A picture of this height is being made, which may want a finer level of the surface; 0 afterwards. */
  set_pictured(height_px: number): void;
  /** Which level of the surface is here, counted from the coarsest; null where it has none. */
  surface_level(): { level: number; of: number; triangles: number; error_mm: number } | null;
  supply_image(id: Wanted["id"], image: ImageBitmap): void;
  /** Images that are cut into tiles. */
  tiled(): TiledImage[];
  /** Tiles that a part of a picture needs (width 0: that on the canvas), in turns the number of the image, of the tile, its rank, and how much it is wanted. */
  tiles_wanted(view: object | null, width_px: number, height_px: number, part: Uint32Array): Promise<Uint32Array>;
  /** Whether that can be asked of the canvas at once; frames to come make what it needs. */
  can_ask_for_tiles(): boolean;
  /** Tiles of the finest levels at a point that are not here: number of the image and of the tile, in turns. */
  tiles_at(x: number, y: number): Uint32Array;
  /** false: no room for it. */
  supply_tile(image: number, number: number, picture: ImageBitmap): boolean;
  supply_tile_values(image: number, number: number, width: number, height: number, full_scale: number, texels: Uint16Array): boolean;
  fail(id: Wanted["id"], message: string): void;
  problems(): Problem[];
  ready(): boolean;
  /** null until the surface is here; what is set before then waits. */
  view(): View | null;
  set_view(partial: Partial<View>): void;
  /** As `set_view`, with the camera gliding to its new place. */
  glide_to_view(partial: Partial<View>): void;
  resize(width_px: number, height_px: number, device_pixel_ratio: number): void;
  frame(now_ms: number): boolean;
  wants_frame(): boolean;
  pointer(kind: string, pointer_id: number, x: number, y: number, pointer_type: string, button: number, shift: boolean, time_ms: number): void;
  wheel(x: number, y: number, delta_px: number): void;
  double_click(x: number, y: number): void;
  key(name: string, shift: boolean): boolean;
  cursor(): string;
  take_events(): ({ type: "view" } | { type: "click"; x: number; y: number } | { type: "lost" })[];
  pins(): { id: string; x: number; y: number; shown: boolean }[];
  /** Where the grips of the dividers go, CSS px. */
  dividers(): [number, number][];
  /** The glass of the loupe, in CSS pixels. */
  loupe(): { x: number; y: number; radius: number } | null | undefined;
  /** Of the object, where the camera looks. */
  metres_per_pixel(): number | undefined;
  /** `[x, y, width, height]` of each pane in CSS pixels; none when the picture is whole. */
  panes(): unknown;
  /** Shows the other of two states that take turns. */
  set_blink(right: boolean): void;
  /** 256 RGB triples of 8 bits of a tone map: `sequence`, `grey`, `diverging` or `steps`. */
  band_map(name: string): Uint8Array;
  /** Shares of the covered surface by value, in equal classes over the layer's range. */
  histogram(layer: string): Float64Array;
  probe(x: number, y: number): Promise<Probe | null | undefined>;
  snapshot(width_px: number, height_px: number): Promise<Uint8Array>;
  /** Part `[x, y, width, height]` of a picture of the whole size, RGBA; `view` in place of what is seen now. */
  snapshot_tile(view: Partial<View> | null, width_px: number, height_px: number, part: Uint32Array): Promise<Uint8Array>;
  /** One state or band alone, whole, from where one first stands: RGBA; undefined while its images are not here. */
  picture_of(id: string, width_px: number, height_px: number): Promise<Uint8Array | undefined>;
  /** Makes one thing that `picture_of` would have to make first; true when nothing is left to make. */
  prepare_picture_of(id: string, width_px: number, height_px: number): boolean;
  /** Over what is seen, or over one region of it; null where nothing shows both sides. */
  differences(region: string | null): Promise<Differences | null>;
  /** CIEDE2000 of pairs of CIELAB colours (six numbers a pair) as this device computes it. */
  check_delta_e_2000(pairs: Float32Array): Promise<Float64Array>;
  lamp_report(): LampReport | null;
  legend(): OverlayLegend | null;
  /** Takes an edited document of the same surface and layers; view and images stay. */
  replace_document(json: string): void;
  /** A region map of this size for a sheet, empty where it had none. */
  ensure_labels(sheet: string, width_px: number, height_px: number): void;
  /** Takes what `relief` of the desk gives; false when it is not of this surface. */
  supply_relief(numbers: Int16Array): boolean;
  /** Of the ball around the object, m; 0 before it is here. */
  radius_m(): number;
  /** Area of the surface that a whole sheet of UV stands for, m², as a mean; slow. */
  m2_per_uv(): number;
  /** Writes a part of a region map, rows from the top. */
  patch_labels(sheet: string, x: number, y: number, width: number, height: number, texels: Uint16Array): void;
  /** The place on the surface under a pixel, at once; null beside the object. */
  anchor_at(x: number, y: number): { position: [number, number, number]; normal: [number, number, number]; sheet: string; uv: [number, number] } | null | undefined;
  /** How space comes to the canvas now: column-major, in CSS pixels. */
  projection(): { view_projection: number[]; eye: number[]; width: number; height: number };
  lose(): void;
  /** `told` is called when a device has gone, this one or one that came by `restore`. */
  when_lost(told: () => void): void;
  restore(canvas: HTMLCanvasElement): Promise<void>;
  free(): void;
}

export interface ViewerModule {
  default(options?: { module_or_path: Response | string | URL }): Promise<unknown>;
  Viewer: { create(canvas: HTMLCanvasElement, options: { antialias: boolean; reduced_motion?: boolean; wide_gamut?: boolean; tile_mib?: number }): Promise<ViewerHandle> };
}

/** `<ganosis-view src="folder/">` */
export interface GanosisViewElement extends HTMLElement {
  /** Settles when the first picture is drawn; rejects when it cannot be. */
  readonly ready: Promise<void>;
  /** Opens the dossier now, also while the element is far from the screen. */
  open(): Promise<void>;
  /** A still stands in place of the picture, since the graphics device was given back; the element wakes when it is used. */
  readonly resting: boolean;
  readonly dossier: DossierSummary | null;
  get view(): View | null;
  set view(value: Partial<View>);
  probe(x: number, y: number): Promise<Probe | null>;
  /** When the picture is as fine as it will be: what it wants is here, or not to be had. */
  settled(): Promise<void>;
  snapshot(size: { width: number; height: number }): Promise<Blob>;
  picturePart(part: { width: number; height: number; x: number; y: number; columns: number; rows: number }, view?: Partial<View> | null): Promise<Uint8Array>;
  /** Statistics of the colour differences between the two sides, over what is seen or over one region. */
  differences(region?: string | null): Promise<Differences | null>;
  /** The map that bands and differences are shown through: 256 colours of three sRGB codes. */
  readonly bandMap: Uint8Array;
  /** CIEDE2000 of pairs of CIELAB colours as the graphics device computes it: to be held against published values. */
  checkDifferences(pairs: number[]): Promise<number[]>;
  /** What examines the dossier, in a worker that is fetched when first asked for. */
  desk(): Promise<object>;
  /** Begins editing, or goes on with it. */
  edit(): Promise<object | null>;
}

declare global {
  interface HTMLElementTagNameMap { "ganosis-view": GanosisViewElement }
  interface HTMLElementEventMap {
    viewchange: CustomEvent<View>;
    pinopen: CustomEvent<{ pin: string }>;
    dossiererror: CustomEvent<{ message: string; file: string }>;
  }
}
