//! The texels of one tile, mixed.

use super::blend::{Blend, MOST_MIXED, Sample, Trust, blend, finest, trust};
use super::levels::{BLUR_PX, BLUR_STEP, DETAIL_LEVEL, Level, SHRINK};
use super::margin::Margin;
use super::mesh::Face;
use super::picture::CLIPPED;
use super::room::{bytes_of, bytes_of_u16, u16_of_bytes, words_of_bytes};
use super::run::{Drape, PhotoReport, Report};
use super::steps::{FARTHEST_PX, SPREAD_PX, Steps};
use super::texels::Place;
use super::view::Seen;
use super::window::Window;
use crate::error::Result;
use glam::DVec3;

/// Blurs, in pixels of the usual photograph: photographs that see better are blurred by more pixels, so
/// that it is the same length on the surface (a choice of ours, made on simulated photographs).
const BLURS_PX: [f64; 2] = [8.0, 32.0];

/// Where pixels are smaller than this part of a texel, blurs go by the texels instead: the first of them
/// spreads over two texels at least, so that the finest light is more than its difference from a texel's
/// own mean (a choice of ours, made on simulated photographs).
const LEAST_PIXEL_TEXELS: f64 = 0.25;

/// A texel that is longer than this in a photograph, in pixels, is the mean of several: below, one reading
/// between the pixels is as good (a choice of ours).
const ONE_READING_PX: f64 = 1.25;

/// From pixels of the photograph to those of each blurred level.
const DOWN: [f32; SHRINK.len() - 1] = {
    let mut down = [1.0; SHRINK.len() - 1];
    let mut k = 0;
    while k < down.len() {
        down[k] /= SHRINK[k + 1] as f32;
        k += 1;
    }
    down
};

/// Cosine of the steepest angle at which a texel is taken to be seen, 89.4° (a choice of ours).
const LEAST_COSINE: f64 = 0.01;

/// What a view counts at its very end, so that a texel which nothing else sees is not empty (a choice of
/// ours).
const AT_THE_END: f32 = 1e-3;

/// What a view counts where it sees a texel astride a step of depth: nothing beside one that sees it clear of that,
/// and something where there is no other (a choice of ours).
const ASTRIDE: f32 = 1e-3;

/// No photograph.
pub const NO_PHOTO: u16 = u16::MAX;

/// Most readings along each side of a texel that is larger than a pixel: beyond, they lie more than a
/// pixel apart, and 4096 of them are a mean all the same (a choice of ours).
const MOST_ACROSS: f64 = 64.0;

/// What a texel is.
pub mod coverage {
    /// Off every chart, and not near one.
    pub const NONE: u8 = 0;
    /// On a chart, and no photograph sees it.
    pub const UNSEEN: u8 = 1;
    /// Made up from its surroundings because that was asked for.
    pub const FILLED: u8 = 2;
    /// Beside a chart: coloured as the nearest place, so that filtering does not darken the edge.
    pub const BORDER: u8 = 3;
    /// Seen.
    pub const SEEN: u8 = 4;
    /// Seen, by every photograph astride a step of depth: its colour is mixed with that of other surface.
    pub const EDGE: u8 = 5;
}

/// The texels of a tile, row by row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TileResult {
    /// Linear light, `channels` for each texel; 0 where nothing is seen.
    pub light: Vec<f32>,
    /// One of [`coverage`].
    pub coverage: Vec<u8>,
    /// Photographs that see it.
    pub views: Vec<u8>,
    /// The photograph whose detail counts most; [`NO_PHOTO`] without.
    pub chosen: Vec<u16>,
    /// Side of the square of surface that one pixel of that photograph covers, in µm; 0 without.
    pub resolution_um: Vec<f32>,
    /// For each photograph, by number.
    counts: Vec<Counts>,
}

/// What is counted of a photograph on a tile. Whole numbers, so that sums are the same in any order.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Counts {
    /// Chart texels seen.
    seen: u32,
    /// Those where it was left out.
    rejected: u32,
    /// Those of these where it is brighter than what was taken.
    brighter: u32,
    /// Sum over these: how much brighter it is, in thousandths of a natural logarithm.
    brightness: i64,
}

impl Counts {
    const BYTES: usize = 20;

    fn bytes(&self) -> [u8; Self::BYTES] {
        let counts = [self.seen, self.rejected, self.brighter].map(u32::to_le_bytes);
        let sum = self.brightness.to_le_bytes();
        let mut all = counts.as_flattened().iter().chain(&sum);
        std::array::from_fn(|_| all.next().copied().unwrap_or_default())
    }

    fn of_bytes(bytes: &[u8; Self::BYTES]) -> Self {
        let count = |at: usize| u32::from_le_bytes(std::array::from_fn(|k| bytes[at + k]));
        Self {
            seen: count(0),
            rejected: count(4),
            brighter: count(8),
            brightness: i64::from_le_bytes(std::array::from_fn(|k| bytes[12 + k])),
        }
    }

    /// Notes that it was left out where its light and that of the texel are these.
    fn reject(&mut self, own: &[f32], light: &[f32]) {
        let sum = |light: &[f32]| light.iter().sum::<f32>().max(DARKEST);
        let times = sum(own) / sum(light);
        self.rejected += 1;
        self.brighter += u32::from(times > 1.0);
        let times = times.clamp(1.0 / MOST_TIMES, MOST_TIMES);
        self.brightness += (1000.0 * times.ln()).round() as i64;
    }
}

/// More times as bright than this is a light in a shadow, and counts as this in the mean (a choice of ours).
const MOST_TIMES: f32 = 2.0;

/// Light below which no proportion is told: a code of 16 bits.
const DARKEST: f32 = 1.0 / 65535.0;

impl TileResult {
    pub(crate) fn texel_bytes(channels: usize) -> usize {
        4 * channels + 1 + 1 + 2 + 4
    }

    pub(crate) fn empty(texels: usize, channels: usize) -> Self {
        Self {
            light: vec![0.0; texels * channels],
            coverage: vec![coverage::NONE; texels],
            views: vec![0; texels],
            chosen: vec![NO_PHOTO; texels],
            resolution_um: vec![0.0; texels],
            counts: Vec::new(),
        }
    }

    pub(crate) fn bytes(&self, channels: usize) -> Vec<u8> {
        let mut out = Vec::with_capacity(self.coverage.len() * Self::texel_bytes(channels));
        out.extend(bytes_of(&self.light, f32::to_le_bytes));
        out.extend(&self.coverage);
        out.extend(&self.views);
        out.extend(bytes_of_u16(&self.chosen));
        out.extend(bytes_of(&self.resolution_um, f32::to_le_bytes));
        out
    }

    pub(crate) fn of_bytes(bytes: &[u8], channels: usize) -> Self {
        let texels = bytes.len() / Self::texel_bytes(channels);
        let floats = |bytes: &[u8]| words_of_bytes(bytes).map(f32::from_bits).collect();
        let (light, rest) = bytes.split_at(4 * channels * texels);
        let (coverage, rest) = rest.split_at(texels);
        let (views, rest) = rest.split_at(texels);
        let (chosen, resolution) = rest.split_at(2 * texels);
        Self {
            light: floats(light),
            coverage: coverage.to_vec(),
            views: views.to_vec(),
            chosen: u16_of_bytes(chosen).collect(),
            resolution_um: floats(resolution),
            counts: Vec::new(),
        }
    }

    /// Bytes of [`TileResult::counts`] for each photograph.
    pub(crate) const COUNTS_BYTES: usize = Counts::BYTES;

    /// What is counted of each photograph, as bytes.
    pub(crate) fn counts(&self) -> Vec<u8> {
        self.counts.iter().flat_map(Counts::bytes).collect()
    }

    pub(crate) fn set_counts(&mut self, bytes: &[u8]) {
        let each = bytes.as_chunks().0.iter();
        self.counts = each.map(Counts::of_bytes).collect();
    }

    pub(crate) fn report(&self, photos: usize) -> Report {
        let mut report = Report {
            photos: vec![PhotoReport::default(); photos],
            ..Report::default()
        };
        for (photo, counts) in report.photos.iter_mut().zip(&self.counts) {
            photo.seen = u64::from(counts.seen);
            photo.rejected = u64::from(counts.rejected);
            photo.brighter = u64::from(counts.brighter);
            photo.brightness = counts.brightness;
        }
        for (i, &is) in self.coverage.iter().enumerate() {
            let is_seen = matches!(is, coverage::SEEN | coverage::EDGE);
            report.chart_texels += u64::from(is_seen || is == coverage::UNSEEN);
            report.edge_texels += u64::from(is == coverage::EDGE);
            if is_seen {
                report.seen_texels += 1;
                report.resolution_sum_um += f64::from(self.resolution_um[i]);
                if let Some(photo) = report.photos.get_mut(usize::from(self.chosen[i])) {
                    photo.chosen += 1;
                }
            }
        }
        report
    }
}

/// A photograph's samples in memory.
struct Source<'a> {
    full: Window<'a>,
    /// Levels 1 and on.
    blurred: Vec<Window<'a>>,
    clipped_light: f32,
}

/// A place of a texel in one photograph.
#[derive(Clone, Copy)]
struct Candidate {
    photo: usize,
    weight: f32,
    seen: Seen,
    px_per_m2: f64,
    /// Pixels for a metre across the line of sight.
    px_per_m: f64,
    /// How far its own pixels count, beside a step of depth.
    clear: f32,
    /// Whether what is read lies astride one.
    is_astride: bool,
}

impl Candidate {
    const NONE: Self = Self {
        photo: 0,
        weight: 0.0,
        seen: Seen {
            normalised: [0.0; 2],
            pixel: [0.0; 2],
            depth_m: 1.0,
        },
        px_per_m2: 0.0,
        px_per_m: 0.0,
        clear: 1.0,
        is_astride: false,
    };
}

/// A texel of a triangle on the surface.
#[derive(Clone, Copy)]
struct Texel {
    /// The triangle.
    face: u32,
    /// One texel to the right, one down.
    steps_m: [DVec3; 2],
    /// The longer of them in metres.
    longest_m: f64,
}

impl Texel {
    const NONE: Self = Self {
        face: Place::NONE,
        steps_m: [DVec3::ZERO; 2],
        longest_m: 0.0,
    };

    fn new(number: u32, face: &Face) -> Self {
        let steps_m = face.texel_steps_m();
        Self {
            face: number,
            steps_m,
            longest_m: steps_m[0].length().max(steps_m[1].length()),
        }
    }
}

/// Mixes tiles, one after the other.
pub(crate) struct Mixer<'a> {
    drape: &'a Drape<'a>,
    /// Where each photograph's view ends, and where depth steps in it.
    ends: &'a [(Margin, Steps)],
    sources: Vec<Source<'a>>,
    batch_size: usize,
    window_bytes: usize,
    /// Of the two blurs, as logarithms to base 2 of pixels of level 1 where there is one pixel for a metre.
    blur_steps: [f32; 2],
    /// That of the triangle in hand.
    texel: Texel,
}

impl<'a> Mixer<'a> {
    pub(crate) fn new(
        drape: &'a Drape<'a>,
        lights: &'a [Vec<f32>],
        ends: &'a [(Margin, Steps)],
        (batch_size, window_bytes): (usize, usize),
        blurs_m: [f64; 2],
    ) -> Self {
        let channels = drape.settings.channels;
        let sources = drape
            .views
            .iter()
            .zip(lights)
            .enumerate()
            .map(|(number, (view, light))| {
                let lens = view.lens.lens();
                let size = [lens.width_px, lens.height_px];
                let level = |l: usize| Level::of(number, l, size, channels);
                Source {
                    full: Window::new(drape.room, level(0), Some(light)),
                    blurred: (1..SHRINK.len())
                        .map(|l| Window::new(drape.room, level(l), None))
                        .collect(),
                    clipped_light: light[usize::from(CLIPPED)],
                }
            })
            .collect();
        Self {
            drape,
            ends,
            sources,
            batch_size,
            window_bytes,
            blur_steps: blurs_m.map(|m| (m / BLUR_PX).log2() as f32),
            texel: Texel::NONE,
        }
    }

    /// Forgets samples when there are too many.
    fn stay_within(&mut self, bytes: usize) {
        let held: usize = self.sources.iter().map(Source::bytes).sum();
        if held > bytes {
            self.sources.iter_mut().for_each(Source::clear);
        }
    }

    pub(crate) fn mix(&mut self, number: usize) -> Result<TileResult> {
        let drape = self.drape;
        let tile = drape.tiles.tiles[number];
        let channels = drape.settings.channels;
        let mut result = TileResult::empty(tile.texels(), channels);
        result.counts = vec![Counts::default(); drape.views.len()];
        if drape.tiles.is_empty(number) {
            return Ok(result);
        }
        self.sources.iter_mut().for_each(Source::clear);
        let seen = drape.seen(number)?;
        for (i, place) in drape.tiles.places(drape.mesh, number).iter().enumerate() {
            if place.face == Place::NONE {
                continue;
            }
            if i % 64 == 0 {
                self.stay_within(self.window_bytes);
            }
            let masks = seen.iter().map(|batch| batch[i]);
            self.texel(i, place, masks, &mut result);
        }
        self.sources.iter_mut().try_for_each(Source::trouble)?;
        Ok(result)
    }

    fn texel(
        &mut self,
        at: usize,
        place: &Place,
        masks: impl Iterator<Item = u32>,
        result: &mut TileResult,
    ) {
        let drape = self.drape;
        let is_chart = place.is_chart();
        if self.texel.face != place.face {
            self.texel = Texel::new(place.face, &drape.mesh.faces[place.face as usize]);
        }
        let mut candidates = [Candidate::NONE; MOST_MIXED];
        let (count, views) = self.candidates(place, masks, &mut candidates, &mut result.counts);
        let candidates = &candidates[..count];
        // The best come first, and one that sees the texel clear of a step is better than all that do not.
        let is_astride = candidates.iter().all(|c| c.is_astride);
        if candidates.is_empty() || is_astride && drape.settings.clear_only {
            if is_chart {
                result.coverage[at] = coverage::UNSEEN;
            }
            return;
        }
        let channels = drape.settings.channels;
        let mixed = if let [alone] = candidates {
            // Blurs would be taken away and added again.
            Blend {
                light: self.full(alone),
                chosen: 0,
                rejected: 0,
            }
        } else {
            let mut samples = [Sample::default(); MOST_MIXED];
            let samples = &mut samples[..count];
            for (sample, candidate) in samples.iter_mut().zip(candidates) {
                *sample = self.blurred(candidate);
            }
            let trust = self.sharpen(samples, candidates);
            let Some(mixed) = blend(samples, &trust, channels, &drape.settings.mix) else {
                return;
            };
            for (k, candidate) in candidates.iter().enumerate() {
                if is_chart && mixed.rejected >> k & 1 == 1 {
                    let own = &samples[k].levels[1][..channels];
                    result.counts[candidate.photo].reject(own, &mixed.light[..channels]);
                }
            }
            mixed
        };
        let best = &candidates[mixed.chosen];
        result.light[at * channels..][..channels].copy_from_slice(&mixed.light[..channels]);
        result.coverage[at] = match (is_chart, is_astride) {
            (false, _) => coverage::BORDER,
            (true, true) => coverage::EDGE,
            (true, false) => coverage::SEEN,
        };
        result.views[at] = views.min(255) as u8;
        result.chosen[at] = best.photo as u16;
        result.resolution_um[at] = (1e6 / best.px_per_m2.sqrt()) as f32;
    }

    /// The best photographs of a texel, best first; gives how many they are, and how many see it.
    fn candidates(
        &self,
        place: &Place,
        masks: impl Iterator<Item = u32>,
        best: &mut [Candidate; MOST_MIXED],
        counts: &mut [Counts],
    ) -> (usize, usize) {
        let drape = self.drape;
        let face = &drape.mesh.faces[place.face as usize];
        let weights = place.weights();
        let (point, normal) = (face.point(weights), face.normal(weights).as_dvec3());
        let (mut count, mut views) = (0, 0);
        for (batch, mut mask) in masks.enumerate() {
            while mask != 0 {
                let photo = batch * self.batch_size + mask.trailing_zeros() as usize;
                mask &= mask - 1;
                let view = &drape.views[photo];
                let Some(seen) = view.see(point) else {
                    continue;
                };
                views += 1;
                counts[photo].seen += u32::from(place.is_chart());
                let towards = view.centre_m - point.as_dvec3();
                let distance_m = towards.length();
                // A mixed normal may look away a little where the triangle itself does not.
                let cosine = (normal.dot(towards) / distance_m).max(LEAST_COSINE);
                let px_per_m2 = view.px_per_m2(distance_m, seen.depth_m, cosine);
                let px_per_m = (px_per_m2 / cosine).sqrt();
                let (margin, steps) = &self.ends[photo];
                let margin = margin.weight(seen.pixel) + AT_THE_END;
                // As far as what is read, and as far again, over which its own pixels fade.
                let reach = (0.5 * self.texel.longest_m * px_per_m)
                    .clamp(SPREAD_PX, 0.5 * FARTHEST_PX) as f32;
                let away = steps.distance_px(seen.pixel, 2.0 * reach);
                let angle = drape.settings.mix.of_cosine(cosine);
                let weight = px_per_m2 as f32 * angle * margin;
                let candidate = Candidate {
                    photo,
                    weight,
                    seen,
                    px_per_m2,
                    px_per_m,
                    clear: fading(away / reach - 1.0),
                    is_astride: away <= reach,
                };
                let mut at = count.min(MOST_MIXED - 1);
                if count == MOST_MIXED && best[at].weight >= weight {
                    continue;
                }
                while at > 0 && best[at - 1].weight < weight {
                    best[at] = best[at - 1];
                    at -= 1;
                }
                best[at] = candidate;
                count = (count + 1).min(MOST_MIXED);
            }
        }
        (count, views)
    }

    /// A sample whose finest light is not known yet.
    fn blurred(&mut self, candidate: &Candidate) -> Sample {
        let channels = self.drape.settings.channels;
        let source = &mut self.sources[candidate.photo];
        let pixel = candidate.seen.pixel;
        let pixel = pixel.map(|v| v as f32);
        let px_per_m = candidate.px_per_m2.sqrt() as f32;
        let ([middle, low], detail) = source.blurred_by(pixel, self.blur_steps, px_per_m, channels);
        Sample {
            weight: candidate.weight,
            clear: candidate.clear,
            levels: [middle, middle, low],
            detail,
            clipped: false,
        }
    }

    /// Gives the finest light to those samples that need it; tells how far each is believed then.
    fn sharpen(&mut self, samples: &mut [Sample], candidates: &[Candidate]) -> Trust {
        let channels = self.drape.settings.channels;
        let mix = &self.drape.settings.mix;
        let mut believed = trust(samples, channels, mix);
        let mut sharp = 0;
        // What is found to be clipped counts less, and others more: they are asked then.
        while let wanted @ 1.. = finest(samples, &believed, mix) & !sharp {
            let mut clips = false;
            for (k, sample) in samples.iter_mut().enumerate() {
                if wanted >> k & 1 == 1 {
                    let light = self.full(&candidates[k]);
                    let clipped = self.sources[candidates[k].photo].clipped_light;
                    sample.levels[0] = light;
                    sample.clipped = light[..channels].iter().any(|v| *v >= clipped);
                    clips |= sample.clipped;
                }
            }
            sharp |= wanted;
            if !clips {
                break;
            }
            believed = trust(samples, channels, mix);
        }
        believed
    }

    /// The photograph itself at a texel: where that is larger than a pixel, the mean over the parallelogram
    /// that it is in the picture.
    fn full(&mut self, candidate: &Candidate) -> [f32; 3] {
        let view = &self.drape.views[candidate.photo];
        let source = &mut self.sources[candidate.photo].full;
        let Seen { pixel: [x, y], .. } = candidate.seen;
        if self.texel.longest_m * candidate.px_per_m <= ONE_READING_PX {
            return three(source.bicubic([x, y]));
        }
        let [right, down] = view.steps_px(&candidate.seen, self.texel.steps_m);
        let across = |[dx, dy]: [f64; 2]| match (dx * dx + dy * dy).sqrt() {
            px if px > ONE_READING_PX => px.ceil().min(MOST_ACROSS) as usize,
            _ => 1,
        };
        let (columns, rows) = (across(right), across(down));
        if columns * rows == 1 {
            return three(source.bicubic([x, y]));
        }
        let off = |i: usize, count: usize| (i as f64 + 0.5) / count as f64 - 0.5;
        let mut sum = [0.0; 4];
        for j in 0..rows {
            let v = off(j, rows);
            let (x, y) = (x + v * down[0], y + v * down[1]);
            for i in 0..columns {
                let u = off(i, columns);
                let one = source.bilinear([x + u * right[0], y + u * right[1]]);
                for (s, v) in sum.iter_mut().zip(one) {
                    *s += v;
                }
            }
        }
        let share = 1.0 / (columns * rows) as f32;
        three(sum.map(|s| s * share))
    }
}

/// From [`ASTRIDE`] at 0 to 1 at 1, without a corner.
fn fading(part: f32) -> f32 {
    let t = part.clamp(0.0, 1.0);
    (t * t * (3.0 - 2.0 * t)).max(ASTRIDE)
}

fn three([a, b, c, _]: [f32; 4]) -> [f32; 3] {
    [a, b, c]
}

/// Lengths on the surface of the two blurs, in metres: for all tiles of a run.
pub(crate) fn blurs_m(drape: &Drape) -> [f64; 2] {
    let pixel_m = usual_pixel_m(drape).max(LEAST_PIXEL_TEXELS * drape.mesh.mean_texel_m());
    BLURS_PX.map(|px| px * pixel_m)
}

/// Side of a pixel of the usual photograph on the middle of the surface, in metres: the median.
fn usual_pixel_m(drape: &Drape) -> f64 {
    let middle = drape.mesh.middle_m();
    let mut sides: Vec<f64> = drape
        .views
        .iter()
        .map(|view| view.camera_of(middle).z / view.lens.lens().focal_px[0])
        .filter(|side| *side > 0.0)
        .collect();
    sides.sort_by(f64::total_cmp);
    sides.get(sides.len() / 2).copied().unwrap_or(1e-4)
}

impl Source<'_> {
    /// The photograph blurred by about such lengths on the surface, read between two levels each; and the
    /// detail, which lies in a channel of its own.
    fn blurred_by(
        &mut self,
        pixel: [f32; 2],
        blur_steps: [f32; 2],
        px_per_m: f32,
        detail_channel: usize,
    ) -> ([[f32; 3]; 2], f32) {
        let most = self.blurred.len() - 1;
        let per_step = 1.0 / (BLUR_STEP as f32).log2();
        let first = px_per_m.log2();
        let detail = std::cell::Cell::new(None);
        let mut read = |k: usize| {
            let there = self.blurred[k].blurred(pixel.map(|v| v * DOWN[k]));
            if k + 1 == DETAIL_LEVEL {
                detail.set(Some(there[detail_channel]));
            }
            there
        };
        let levels = blur_steps.map(|blur| {
            let at = ((first + blur) * per_step).clamp(0.0, most as f32);
            let low = (at as usize).min(most - 1);
            let share = at - low as f32;
            let (a, b) = (read(low), read(low + 1));
            [0, 1, 2].map(|c| a[c] + (b[c] - a[c]) * share)
        });
        let detail = detail
            .get()
            .unwrap_or_else(|| read(DETAIL_LEVEL - 1)[detail_channel]);
        (levels, detail)
    }

    fn trouble(&mut self) -> Result<()> {
        let mut all = self.blurred.iter_mut().chain([&mut self.full]);
        all.try_for_each(Window::trouble)
    }

    fn bytes(&self) -> usize {
        self.full.bytes() + self.blurred.iter().map(Window::bytes).sum::<usize>()
    }

    fn clear(&mut self) {
        self.full.clear();
        self.blurred.iter_mut().for_each(Window::clear);
    }
}
