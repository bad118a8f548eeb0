//! Draping: photographs onto the sheets, tile by tile, in memory that is bounded.
//!
//! First, in batches of photographs whose grids fit into memory: each photograph is written to the
//! room in blocks, and each texel of each tile is asked whether the photograph sees it. Then each
//! tile is mixed from the photographs that do. Every step is noted in the room when it is done, so
//! that an interrupted run goes on where it was.

use rayon::prelude::*;

use super::group::{MOST, Projected};
use super::levels;
use super::margin::Margin;
use super::mesh::{Face, Mesh};
use super::mix::Mix;
use super::mixer::{Mixer, blurs_m};
use super::picture::Picture;
use super::room::{Room, bytes_of, kept, words_of_bytes};
use super::sight::Sight;
use super::steps::{Edges, Steps};
use super::texels::{Place, Tiles};
use super::tile::TileResult;
use super::view::View;
use crate::error::{ImagingError, Result};

/// Photographs in a batch: one bit each of 32.
const MOST_IN_BATCH: usize = 32;

/// Rays of which this share meets the back of a triangle come from inside the mesh (a choice of ours: from
/// outside a closed surface none does).
const FROM_INSIDE: f64 = 0.5;

/// Where a run stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// Photographs are read.
    Reading,
    /// Texels are asked who sees them.
    Seeing,
    /// Texels are mixed.
    Mixing,
}

/// What a run needs from outside.
pub trait Shell: Sync {
    /// Reads photograph `number`.
    fn picture(&self, number: usize) -> Result<Picture>;
    /// Is told how much of a stage is done; `false` stops the run.
    fn progress(&self, stage: Stage, done: u64, of: u64) -> bool;
}

/// How a run is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// 1 or 3.
    pub channels: usize,
    /// Texels beyond the edge of a chart that get a colour too.
    pub border_texels: f32,
    /// Memory to stay within, in bytes, as far as that is possible.
    pub memory_bytes: u64,
    /// Whether only photographs are used that see a texel clear of a step of depth. Without, a texel that none
    /// sees so has the colour of the pixel that mixes it with other surface, and is marked.
    pub clear_only: bool,
    /// How photographs are weighed.
    pub mix: Mix,
}

/// What came of one photograph.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PhotoReport {
    /// Chart texels that it sees.
    pub seen: u64,
    /// Chart texels whose detail is mostly from it.
    pub chosen: u64,
    /// Chart texels where it was left out as an outlier.
    pub rejected: u64,
    /// Those of these where it is brighter than what was taken.
    pub(crate) brighter: u64,
    /// Sum over these of how much brighter it is, in thousandths of a natural logarithm.
    pub(crate) brightness: i64,
}

/// A photograph that is brighter in more than this part of where it differs, or darker, is so as a whole (a choice
/// of ours).
const AS_A_WHOLE: f64 = 0.9;

impl PhotoReport {
    /// Where it was left out, how many times as bright it is as what was taken (the geometric mean), if it is
    /// brighter nearly everywhere there, or darker.
    pub fn times_as_bright(&self) -> Option<f64> {
        let rejected = self.rejected as f64;
        let brighter = self.brighter as f64 / rejected;
        (brighter.max(1.0 - brighter) > AS_A_WHOLE)
            .then(|| (self.brightness as f64 / rejected / 1000.0).exp())
    }
}

/// What came of a run.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Report {
    /// Texels that charts touch.
    pub chart_texels: u64,
    /// Those that at least one photograph sees.
    pub seen_texels: u64,
    /// Those of them that none sees clear of a step of depth.
    pub edge_texels: u64,
    /// Each photograph.
    pub photos: Vec<PhotoReport>,
    /// Sum of the effective resolution over the texels seen, in µm.
    pub resolution_sum_um: f64,
}

impl Report {
    /// Mean of the effective resolution over the texels seen, in µm; 0 without any.
    pub fn mean_resolution_um(&self) -> f64 {
        self.resolution_sum_um / self.seen_texels.max(1) as f64
    }

    /// Adds another.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        self.chart_texels += other.chart_texels;
        self.seen_texels += other.seen_texels;
        self.edge_texels += other.edge_texels;
        self.resolution_sum_um += other.resolution_sum_um;
        self.photos.resize(
            self.photos.len().max(other.photos.len()),
            PhotoReport::default(),
        );
        for (sum, one) in self.photos.iter_mut().zip(&other.photos) {
            sum.seen += one.seen;
            sum.chosen += one.chosen;
            sum.rejected += one.rejected;
            sum.brighter += one.brighter;
            sum.brightness += one.brightness;
        }
        self
    }
}

/// Everything about a run that does not change.
pub struct Drape<'a> {
    /// The surface.
    pub mesh: &'a Mesh,
    /// Its tiles.
    pub tiles: &'a Tiles,
    /// The photographs.
    pub views: &'a [View],
    /// How.
    pub settings: Settings,
    /// Where intermediate results are kept.
    pub room: &'a dyn Room,
}

impl<'a> Drape<'a> {
    /// Does it; tiles that an earlier run finished are not done again. The texels are then in the
    /// room: [`Drape::tile`].
    ///
    /// # Errors
    /// A photograph cannot be read or is not what its pose says, the room cannot be used, or the
    /// shell stopped the run.
    pub fn run(&self, shell: &dyn Shell) -> Result<Report> {
        let size = self.batch_size();
        let is_new = (0..self.views.len()).any(|number| !self.room.is_done(&photo_step(number)));
        let edges = is_new.then(|| Edges::new(&self.mesh.faces));
        for (batch, views) in self.views.chunks(size).enumerate() {
            self.see(shell, (size, batch), views, edges.as_ref())?;
        }
        self.mix(shell, size)
    }

    /// Photographs whose grids fit into half of the memory.
    fn batch_size(&self) -> usize {
        let grid = Sight::bytes(self.mesh.faces.len()).max(1);
        ((self.settings.memory_bytes / 2 / grid) as usize)
            .clamp(1, MOST_IN_BATCH)
            .min(self.views.len().max(1))
    }

    fn see(
        &self,
        shell: &dyn Shell,
        (size, batch): (usize, usize),
        views: &[View],
        edges: Option<&Edges>,
    ) -> Result<()> {
        let first = batch * size;
        // With other memory batches are of another size, and hold other photographs.
        let steps: Vec<String> = (0..self.tiles.tiles.len())
            .map(|t| format!("seen {size} {batch} {t}"))
            .collect();
        if steps.iter().all(|s| self.room.is_done(s)) {
            return Ok(());
        }
        let all = self.views.len() as u64;
        // Two photographs at a time, however many cores: each takes hundreds of megabytes.
        let mut sights = Vec::with_capacity(views.len());
        for (pair, two) in views.chunks(2).enumerate() {
            let numbered = two.par_iter().enumerate();
            let read: Result<Vec<Sight>> = numbered
                .map(|(k, view)| self.prepare(shell, first + 2 * pair + k, view, edges))
                .collect();
            sights.extend(read?);
            go_on(shell.progress(Stage::Reading, (first + sights.len()) as u64, all))?;
        }
        let facing = facing(&self.mesh.faces, views, &sights);
        let done = std::sync::atomic::AtomicU64::new(0);
        let before = (batch * steps.len()) as u64;
        let of = (self.views.len().div_ceil(size) * steps.len()) as u64;
        steps.par_iter().enumerate().try_for_each(|(tile, step)| {
            if !self.room.is_done(step) {
                let masks = self.seen_of_tile(tile, views, &sights, &facing);
                let bytes = bytes_of(&masks, u32::to_le_bytes);
                kept(
                    self.room
                        .write(&seen_file(size, batch), self.offset(tile) * 4, &bytes),
                )?;
                kept(self.room.done(step))?;
            }
            let n = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
            go_on(shell.progress(Stage::Seeing, before + n, of))
        })
    }

    /// Reads a photograph into the room, unless that was done, and makes its grid.
    fn prepare(
        &self,
        shell: &dyn Shell,
        number: usize,
        view: &View,
        edges: Option<&Edges>,
    ) -> Result<Sight> {
        let sight = Sight::new(&self.mesh.faces, view);
        let step = photo_step(number);
        let Some(edges) = edges.filter(|_| !self.room.is_done(&step)) else {
            return Ok(sight);
        };
        let mut margin = Margin::new(view, &sight, &self.mesh.faces);
        if margin.back_share > FROM_INSIDE {
            return Err(ImagingError::new(
                format!(
                    "{:.0} % of what the photograph sees are backs of triangles: it was taken from \
                     inside the mesh, or the mesh is turned inside out",
                    100.0 * margin.back_share
                ),
                view.name.clone(),
                "Check the pose (its position and the unit of the mesh), or turn the triangles of \
                 the mesh around.",
            ));
        }
        let picture = shell.picture(number)?;
        view.check_size(picture.width_px, picture.height_px)?;
        if picture.channels != self.settings.channels {
            return Err(ImagingError::new(
                format!(
                    "it has {} channels, the layer {}",
                    picture.channels, self.settings.channels
                ),
                view.name.clone(),
                "Drape colour photographs and photographs of one band separately.",
            ));
        }
        levels::write(self.room, number, &picture, &margin)?;
        let light = bytes_of(&picture.light_of_code, f32::to_le_bytes);
        kept(self.room.write(&light_file(number), 0, &light))?;
        let steps = Steps::new(view, &sight, &self.mesh.faces, edges);
        margin.fade_at(&steps);
        kept(self.room.write(&margin_file(number), 0, &margin.bytes()))?;
        kept(self.room.write(&steps_file(number), 0, &steps.bytes()))?;
        kept(self.room.done(&step))?;
        Ok(sight)
    }

    /// For each texel the photographs of the batch that see it.
    fn seen_of_tile(
        &self,
        tile: usize,
        views: &[View],
        sights: &[Sight],
        facing: &[Facing],
    ) -> Vec<u32> {
        let mut masks = vec![0; self.tiles.tiles[tile].texels()];
        if self.tiles.is_empty(tile) {
            return masks;
        }
        let places = self.tiles.places(self.mesh, tile);
        // Those of triangles of which a photograph may see some texels and some not.
        let (mut asked, mut some) = (Vec::new(), 0);
        for (texel, place) in places.iter().enumerate() {
            if place.face == Place::NONE {
                continue;
            }
            let facing = &facing[place.face as usize];
            masks[texel] = facing.whole;
            let part = facing.front & !facing.whole;
            if part != 0 {
                let face = &self.mesh.faces[place.face as usize];
                let point_m = face.point(place.weights());
                asked.push((texel, place.face, part, point_m));
                some |= part;
            }
        }
        let mut points_m = Box::new([[0.0; MOST]; 3]);
        let mut projected = Box::new(Projected::new());
        let mut own = Vec::with_capacity(asked.len());
        for (k, (view, sight)) in views.iter().zip(sights).enumerate() {
            if some >> k & 1 == 0 {
                continue;
            }
            own.clear();
            own.extend(asked.iter().filter(|(_, _, part, _)| part >> k & 1 == 1));
            // Neighbours are mostly hidden by the same triangle.
            let mut hider = None;
            for own in own.chunks(MOST) {
                for (i, (_, _, _, point_m)) in own.iter().enumerate() {
                    for (row, v) in points_m.iter_mut().zip(point_m.to_array()) {
                        row[i] = f64::from(v);
                    }
                }
                view.project(&points_m, own.len(), &mut projected);
                for (i, &(texel, face, _, _)) in own.iter().enumerate() {
                    if view.shows(&projected, i) {
                        let normalised = [0, 1].map(|k| projected.normalised[k][i]);
                        hider = sight.hider(normalised, projected.depth_m[i], face, hider);
                        masks[texel] |= u32::from(hider.is_none()) << k;
                    }
                }
            }
        }
        masks
    }

    /// The photographs that see each texel of a tile: one number of bits for each batch.
    ///
    /// # Errors
    /// The room cannot be read.
    pub fn seen(&self, tile: usize) -> Result<Vec<Vec<u32>>> {
        let texels = self.tiles.tiles[tile].texels();
        let size = self.batch_size();
        (0..self.views.len().div_ceil(size))
            .map(|batch| {
                let mut bytes = vec![0; texels * 4];
                kept(
                    self.room
                        .read(&seen_file(size, batch), self.offset(tile) * 4, &mut bytes),
                )?;
                Ok(words_of_bytes(&bytes).collect())
            })
            .collect()
    }

    fn mix(&self, shell: &dyn Shell, batch_size: usize) -> Result<Report> {
        let channels = self.settings.channels;
        let mut lights = Vec::with_capacity(self.views.len());
        let mut ends = Vec::with_capacity(self.views.len());
        for (number, view) in self.views.iter().enumerate() {
            let mut bytes = vec![0; 65536 * 4];
            kept(self.room.read(&light_file(number), 0, &mut bytes))?;
            let light = words_of_bytes(&bytes).map(f32::from_bits);
            lights.push(light.collect::<Vec<_>>());
            let mut bytes = vec![0; Margin::bytes_for(view)];
            kept(self.room.read(&margin_file(number), 0, &mut bytes))?;
            let margin = Margin::of_bytes(view, &bytes);
            let mut head = [0; Steps::HEAD_BYTES];
            kept(self.room.read(&steps_file(number), 0, &mut head))?;
            let mut bytes = vec![0; Steps::bytes_after(head)];
            let after = Steps::HEAD_BYTES as u64;
            kept(self.room.read(&steps_file(number), after, &mut bytes))?;
            ends.push((margin, Steps::of_bytes(view, &bytes)));
        }
        let tiles = self.tiles.tiles.len();
        let done = std::sync::atomic::AtomicU64::new(0);
        let threads = rayon::current_num_threads() as u64;
        let blurs_m = blurs_m(self);
        let window_bytes = (self.settings.memory_bytes / 4 / threads.max(1)) as usize;
        (0..tiles)
            .into_par_iter()
            .with_max_len(1)
            .map_init(
                || {
                    let sizes = (batch_size, window_bytes);
                    Mixer::new(self, &lights, &ends, sizes, blurs_m)
                },
                |mixer, tile| {
                    let step = format!("mixed {tile}");
                    let result = if self.room.is_done(&step) {
                        let mut result = self.tile(tile)?;
                        result.set_counts(&self.counts(tile)?);
                        result
                    } else {
                        let result = mixer.mix(tile)?;
                        let bytes = result.bytes(channels);
                        let at = self.offset(tile) * TileResult::texel_bytes(channels) as u64;
                        kept(self.room.write(MIXED_FILE, at, &bytes))?;
                        let counts = result.counts();
                        let at = (tile * counts.len()) as u64;
                        kept(self.room.write(COUNTS_FILE, at, &counts))?;
                        kept(self.room.done(&step))?;
                        result
                    };
                    let report = result.report(self.views.len());
                    let n = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
                    go_on(shell.progress(Stage::Mixing, n, tiles as u64))?;
                    Ok(report)
                },
            )
            .try_reduce(Report::default, |a, b| Ok(a.and(&b)))
    }

    /// A tile that was mixed.
    ///
    /// # Errors
    /// The room cannot be read.
    pub fn tile(&self, tile: usize) -> Result<TileResult> {
        let channels = self.settings.channels;
        let each = TileResult::texel_bytes(channels);
        let mut bytes = vec![0; self.tiles.tiles[tile].texels() * each];
        kept(
            self.room
                .read(MIXED_FILE, self.offset(tile) * each as u64, &mut bytes),
        )?;
        Ok(TileResult::of_bytes(&bytes, channels))
    }

    fn counts(&self, tile: usize) -> Result<Vec<u8>> {
        let mut bytes = vec![0; self.views.len() * TileResult::COUNTS_BYTES];
        let at = (tile * bytes.len()) as u64;
        kept(self.room.read(COUNTS_FILE, at, &mut bytes))?;
        Ok(bytes)
    }

    /// Texels of all tiles before this one, each counted as full.
    fn offset(&self, tile: usize) -> u64 {
        let full = u64::from(super::texels::TILE_PX).pow(2);
        tile as u64 * full
    }
}

const MIXED_FILE: &str = "mixed";
const COUNTS_FILE: &str = "counts";

fn seen_file(size: usize, batch: usize) -> String {
    format!("seen-{size}-{batch}")
}

fn photo_step(number: usize) -> String {
    format!("photo {number} and its steps")
}

fn steps_file(number: usize) -> String {
    format!("photo-{number}-steps")
}

fn light_file(number: usize) -> String {
    format!("photo-{number}-light")
}

fn margin_file(number: usize) -> String {
    format!("photo-{number}-margin")
}

fn go_on(wanted: bool) -> Result<()> {
    if wanted {
        return Ok(());
    }
    Err(ImagingError::new(
        "the run was stopped",
        "draping",
        "Run the same command again: what is done is kept.",
    ))
}

/// What the photographs of a batch see of a triangle, a bit each.
#[derive(Debug, Clone, Copy, Default)]
struct Facing {
    /// Those before its front in whose picture some of it may be.
    front: u32,
    /// Those of them that see all of it.
    whole: u32,
}

fn facing(faces: &[Face], views: &[View], sights: &[Sight]) -> Vec<Facing> {
    let of_face = |(number, face): (usize, &Face)| {
        let (cross, corner) = (face.cross_m2(), face.corners[0].as_dvec3());
        let mut facing = Facing::default();
        for (k, (view, sight)) in views.iter().zip(sights).enumerate() {
            if cross.dot(view.centre_m - corner) <= 0.0 {
                continue;
            }
            let corners = face.corners.map(|c| view.camera_of(c));
            if view.is_beside(corners) {
                continue;
            }
            facing.front |= 1 << k;
            if view.holds(corners) && sight.is_clear(corners, number as u32) {
                facing.whole |= 1 << k;
            }
        }
        facing
    };
    faces.par_iter().enumerate().map(of_face).collect()
}

#[cfg(test)]
mod tests {
    use glam::{DVec3, Vec2, Vec3};

    use super::*;
    use crate::calibration::InputRecord;
    use crate::lens::{Distortion, Lens};
    use crate::pose::{Pose, PosedPhoto};

    /// A wavy sheet of so many cells each way and this side, at a height over z = 0; its front to +z.
    fn waves(cells: usize, side_m: f64, height_m: f64) -> Vec<Face> {
        let at = |i: usize, j: usize| {
            let [x, y] = [i, j].map(|v| (v as f64 / cells as f64 - 0.5) * side_m);
            let wave = 0.02 * (50.0 * x).sin() * (40.0 * y).cos();
            DVec3::new(x, y, height_m + wave).as_vec3()
        };
        let face = |corners: [Vec3; 3]| Face {
            corners,
            normals: [Vec3::ZERO; 3],
            uvs_px: [Vec2::ZERO; 3],
            sheet: 0,
            at_border: false,
        };
        (0..cells * cells)
            .flat_map(|n| {
                let (i, j) = (n % cells, n / cells);
                let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                [face([a, b, c]), face([a, c, d])]
            })
            .collect()
    }

    /// A camera aslant above, looking down at 45°, with a strongly bent lens.
    fn view() -> View {
        let forward = DVec3::new(0.0, 1.0, -1.0).normalize();
        let (right, centre) = (DVec3::X, DVec3::new(0.01, -0.4, 0.45));
        let down = forward.cross(right);
        let rows = [right, down, forward];
        let lens = Lens {
            distortion: Distortion {
                k1: -0.25,
                k2: 0.08,
                p1: 0.001,
                ..Distortion::default()
            },
            ..Lens::simple(600, 400, 500.0)
        };
        let photo = PosedPhoto {
            photo: InputRecord {
                file: "a.tif".to_owned(),
                sha256: String::new(),
            },
            lens,
            pose: Pose {
                rotation: rows.map(|r| r.to_array()),
                translation_m: rows.map(|r| -r.dot(centre)),
            },
            fit: None,
        };
        View::new(&photo, None)
    }

    /// How far along a way a triangle is met, as a part of it (T. Möller and B. Trumbore, "Fast, minimum storage
    /// ray-triangle intersection", Journal of Graphics Tools 2(1), 1997).
    fn meets(face: &Face, from: DVec3, way: DVec3) -> Option<f64> {
        let [a, b, c] = face.corners.map(|c| c.as_dvec3());
        let (ab, ac) = (b - a, c - a);
        let p = way.cross(ac);
        let det = ab.dot(p);
        let t = from - a;
        let (u, q) = (t.dot(p) / det, t.cross(ab));
        let v = way.dot(q) / det;
        (det != 0.0 && u >= 0.0 && v >= 0.0 && u + v <= 1.0).then(|| ac.dot(q) / det)
    }

    /// A small sheet hangs before a large one, so that parts of both are hidden, by themselves and by the other.
    #[test]
    fn every_place_of_a_triangle_that_is_seen_as_a_whole_is_seen() {
        let mut faces = waves(48, 0.5, 0.0);
        faces.extend(waves(16, 0.12, 0.12));
        let view = view();
        let sights = [Sight::new(&faces, &view)];
        let seen = facing(&faces, std::slice::from_ref(&view), &sights);
        let mut state = 5_u64;
        let mut random = || {
            // Knuth's MMIX generator, upper bits.
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1_u64 << 24) as f32
        };
        let (mut wholes, mut parts) = (0, 0);
        for (number, (face, seen)) in faces.iter().zip(&seen).enumerate() {
            if seen.whole == 0 {
                parts += usize::from(seen.front == 1);
                continue;
            }
            wholes += 1;
            for _ in 0..8 {
                let (u, v) = (random(), random());
                let (u, v) = if u + v > 1.0 {
                    (1.0 - u, 1.0 - v)
                } else {
                    (u, v)
                };
                let point = face.point([u, v, 1.0 - u - v]);
                let mut there = Projected::new();
                let points_m = point.to_array().map(|v| [f64::from(v); MOST]);
                view.project(&points_m, 1, &mut there);
                assert!(view.shows(&there, 0));
                let normalised = [0, 1].map(|k| there.normalised[k][0]);
                assert!(!sights[0].is_hidden(normalised, there.depth_m[0], number as u32));
                let way = view.centre_m - point.as_dvec3();
                let hides = |(other, f): (usize, &Face)| {
                    other != number && meets(f, point.as_dvec3(), way).is_some_and(|t| t > 1e-5)
                };
                assert!(!faces.iter().enumerate().any(hides), "{number} {point}");
            }
        }
        // Most of what is seen is told so, and enough is not.
        assert!(wholes > 2500 && parts > 300, "{wholes} {parts}");
    }

    /// Boxes about places of the picture, as groups of texels have them.
    #[test]
    fn where_a_box_is_calm_each_place_of_it_is() {
        let mut faces = waves(48, 0.5, 0.0);
        faces.extend(waves(16, 0.12, 0.12));
        let view = view();
        let sight = Sight::new(&faces, &view);
        let margin = Margin::new(&view, &sight, &faces);
        let steps = Steps::new(&view, &sight, &faces, &Edges::new(&faces));
        let within = 6.0;
        let (mut full, mut far, mut neither) = (0, 0, 0);
        for n in 0..600 {
            // Evenly over the picture and a little beside it (R2 sequence, M. Roberts 2018).
            let at =
                |part: f64, length: f64| (0.5 + f64::from(n) * part) % 1.0 * (length + 20.0) - 10.0;
            let low = [at(0.754_877_666, 600.0), at(0.569_840_291, 400.0)];
            let high = low.map(|v| v + 15.0);
            let (is_full, is_far) = (margin.is_full(low, high), steps.is_far(low, high, within));
            for i in 0..=10 {
                for j in 0..=10 {
                    let place = [low[0] + 1.5 * f64::from(i), low[1] + 1.5 * f64::from(j)];
                    assert!(!is_full || (margin.weight(place) - Margin::FULL).abs() < 1e-6);
                    assert!(!is_far || steps.distance_px(place, within) >= within);
                }
            }
            // All places at once, as one by one.
            let place = |i: usize, k: usize| low[k] + [i % 10, i / 10][k] as f64 * 1.5;
            let pixel = [0, 1].map(|k| (0..100).map(|i| place(i, k)).collect::<Vec<_>>());
            let mut away = [0.0; 100];
            steps.distances_px([low, high], within, [&pixel[0], &pixel[1]], &mut away);
            for (i, away) in away.into_iter().enumerate() {
                let alone = steps.distance_px([pixel[0][i], pixel[1][i]], within);
                assert!((away - alone).abs() < 1e-4, "{away} {alone}");
            }
            full += u32::from(is_full);
            far += u32::from(is_far);
            neither += u32::from(!is_full && !is_far);
        }
        assert!(
            full > 30 && far > 200 && neither > 30,
            "{full} {far} {neither}"
        );
    }
}
