//! The texels of one tile, mixed.

use super::blend::{Blend, MOST_MIXED, Sample, Trust, blend, finest, trust};
use super::group::{Group, Look, MOST, Row, SIDE};
use super::lattice;
use super::levels::{BLUR_PX, BLUR_STEP, DETAIL_LEVEL, Level, SHRINK};
use super::margin::Margin;
use super::mesh::Face;
use super::mix::Angles;
use super::picture::CLIPPED;
use super::room::{bytes_of, bytes_of_u16, u16_of_bytes, words_of_bytes};
use super::run::{Drape, PhotoReport, Report};
use super::steps::{FARTHEST_PX, SPREAD_PX, Steps};
use super::texels::Place;
use super::window::Window;
use crate::error::Result;
use glam::{DVec3, Vec4};

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

/// Blurred light is read at some texels and told between them where these are no further apart than this part of
/// the shorter blur (its standard deviation): a sharp step of light is off by a fiftieth of its height there, in all
/// photographs alike (a choice of ours).
const LATTICE_BLURS: f64 = 0.75;

/// And where no texel lies further from its place between them than this part of it (a choice of ours).
const FLAT_BLURS: f64 = 0.125;

/// And where pixels for each area go evenly too, to this part of them: a fifth of a level of blur (a choice of ours).
const EVEN: f64 = 0.25;

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

/// A group of texels in one photograph.
struct Sighting {
    photo: usize,
    /// Which of them it sees.
    sees: Row<bool>,
    look: Look,
    /// How well each is seen.
    weight: Row<f32>,
    /// How far its own pixels count, beside a step of depth.
    clear: Row<f32>,
    /// Whether what is read lies astride one.
    is_astride: Row<bool>,
    /// Linear light, blurred and more blurred, of those that others see too.
    blurred: [Row<Vec4>; 2],
    /// Detail about the place of those.
    detail: Row<f32>,
}

impl Sighting {
    fn new() -> Self {
        Self {
            photo: 0,
            sees: [false; MOST],
            look: Look::new(),
            weight: [0.0; MOST],
            clear: [1.0; MOST],
            is_astride: [false; MOST],
            blurred: [[Vec4::ZERO; MOST]; 2],
            detail: [0.0; MOST],
        }
    }

    /// Reads blurred light and detail of one of its texels.
    fn read(&mut self, source: &mut Source, i: usize, blur_steps: [f32; 2], channels: usize) {
        let pixel = [0, 1].map(|k| self.look.pixel[k][i] as f32);
        let px_per_m = self.look.px_per_m2[i].sqrt() as f32;
        let (levels, detail) = source.blurred_by(pixel, blur_steps, px_per_m, channels);
        for (row, level) in self.blurred.iter_mut().zip(levels) {
            row[i] = level;
        }
        self.detail[i] = detail;
    }

    /// Whether a full group lies evenly in the picture, to such a length on the surface.
    fn is_even(&self, within_m: f64) -> bool {
        let look = &self.look;
        let middle = look.px_per_m2[MOST / 2 + SIDE / 2];
        let within_px = within_m * middle.sqrt();
        look.pixel
            .iter()
            .all(|row| lattice::farthest(row) <= within_px)
            && lattice::farthest(&look.px_per_m2) <= EVEN * middle
    }
}

/// The texels of a group.
struct Asked {
    group: Group,
    /// Of each its number in the tile.
    at: Row<usize>,
    /// Whether a chart touches it.
    is_chart: Row<bool>,
    /// Which of `texels` it is like.
    like: Row<usize>,
    /// Of that the longer step, in metres.
    longest_m: Row<f64>,
    texels: Vec<Texel>,
}

impl Asked {
    /// Whether the group is full, and the texels of a lattice no further apart than this.
    fn is_finer_than(&self, apart_m: f64) -> bool {
        let most = apart_m / lattice::STEP as f64;
        self.group.count == MOST && self.longest_m.iter().all(|m| *m <= most)
    }
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
    /// The two blurs on the surface, in metres.
    blurs_m: [f64; 2],
    /// The same as logarithms to base 2 of pixels of level 1 where there is one pixel for a metre.
    blur_steps: [f32; 2],
    /// The group in hand.
    asked: Box<Asked>,
    /// In each photograph that sees any of it; more are kept, to be used again.
    sightings: Vec<Box<Sighting>>,
    angles: Angles,
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
            blurs_m,
            blur_steps: blurs_m.map(|m| (m / BLUR_PX).log2() as f32),
            asked: Box::new(Asked {
                group: Group::new(),
                at: [0; MOST],
                is_chart: [false; MOST],
                like: [0; MOST],
                longest_m: [0.0; MOST],
                texels: Vec::with_capacity(MOST),
            }),
            sightings: Vec::new(),
            angles: drape.settings.mix.angles(),
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
        let places = drape.tiles.places(drape.mesh, number);
        for y0 in (0..tile.height as usize).step_by(SIDE) {
            for x0 in (0..tile.width as usize).step_by(SIDE) {
                let columns = x0..(x0 + SIDE).min(tile.width as usize);
                let rows = y0..(y0 + SIDE).min(tile.height as usize);
                let texels = rows.flat_map(|y| {
                    let row = y * tile.width as usize;
                    columns.clone().map(move |x| row + x)
                });
                self.group(texels, &places, &seen, &mut result);
            }
        }
        self.sources.iter_mut().try_for_each(Source::trouble)?;
        Ok(result)
    }

    /// Mixes some texels of a tile that lie side by side, given by their numbers.
    fn group(
        &mut self,
        texels: impl Iterator<Item = usize>,
        places: &[Place],
        seen: &[Vec<u32>],
        result: &mut TileResult,
    ) {
        let Asked {
            group,
            at,
            is_chart,
            like,
            longest_m,
            texels: kinds,
        } = &mut *self.asked;
        group.count = 0;
        kinds.clear();
        for number in texels {
            let place = &places[number];
            if place.face == Place::NONE {
                continue;
            }
            if seen.iter().all(|batch| batch[number] == 0) {
                if place.is_chart() {
                    result.coverage[number] = coverage::UNSEEN;
                }
                continue;
            }
            let face = &self.drape.mesh.faces[place.face as usize];
            if kinds.last().is_none_or(|last| last.face != place.face) {
                kinds.push(Texel::new(place.face, face));
            }
            let i = group.count;
            (at[i], is_chart[i], like[i]) = (number, place.is_chart(), kinds.len() - 1);
            longest_m[i] = kinds[like[i]].longest_m;
            group.push(face, place);
        }
        let mut count = 0;
        for (batch, masks) in seen.iter().enumerate() {
            let own = |me: &Self| {
                let at = &me.asked.at[..me.asked.group.count];
                at.iter().fold(0, |any, &number| any | masks[number])
            };
            let mut any = own(self);
            while any != 0 {
                let bit = any.trailing_zeros();
                any &= any - 1;
                if count == self.sightings.len() {
                    self.sightings.push(Box::new(Sighting::new()));
                }
                let photo = batch * self.batch_size + bit as usize;
                self.sight(count, photo, |number| masks[number] >> bit & 1 == 1);
                let sees = self.sightings[count].sees.iter().zip(&self.asked.is_chart);
                let own = sees
                    .take(self.asked.group.count)
                    .filter(|(s, c)| **s && **c);
                result.counts[photo].seen += own.count() as u32;
                count += 1;
            }
        }
        self.blur(count);
        for i in 0..self.asked.group.count {
            self.texel(i, count, result);
        }
    }

    /// Looks at the group in one photograph, which sees those for whose number `sees` says so.
    fn sight(&mut self, number: usize, photo: usize, sees: impl Fn(usize) -> bool) {
        let (asked, sighting) = (&*self.asked, &mut *self.sightings[number]);
        sighting.photo = photo;
        self.drape.views[photo].look(&asked.group, LEAST_COSINE, &mut sighting.look);
        let (margin, steps) = &self.ends[photo];
        let look = &sighting.look;
        let count = asked.group.count;
        for (sees_it, &number) in sighting.sees[..count].iter_mut().zip(&asked.at) {
            *sees_it = sees(number);
        }
        let ([low, high], longest_px) = look.extent(&sighting.sees[..count], &asked.longest_m);
        // As far as what is read, and as far again, over which its own pixels fade.
        let within = 2.0 * reach_px(longest_px);
        if margin.is_full(low, high) && steps.is_far(low, high, within) {
            for i in 0..count {
                let angle = self.angles.of_cosine(look.cosine[i] as f32);
                sighting.weight[i] = look.px_per_m2[i] as f32 * angle * (Margin::FULL + AT_THE_END);
            }
            sighting.clear[..count].fill(1.0);
            sighting.is_astride[..count].fill(false);
            return;
        }
        for i in (0..count).filter(|&i| sighting.sees[i]) {
            let pixel = [look.pixel[0][i], look.pixel[1][i]];
            let margin = margin.weight(pixel) + AT_THE_END;
            let reach = reach_px(asked.longest_m[i] * look.px_per_m[i]);
            let away = steps.distance_px(pixel, 2.0 * reach);
            let angle = self.angles.of_cosine(look.cosine[i] as f32);
            sighting.weight[i] = look.px_per_m2[i] as f32 * angle * margin;
            sighting.clear[i] = fading(away / reach - 1.0);
            sighting.is_astride[i] = away <= reach;
        }
    }

    /// Reads blurred light and detail of texels that several photographs see, of which there are so many.
    fn blur(&mut self, photos: usize) {
        let count = self.asked.group.count;
        let mut views: Row<u8> = [0; MOST];
        for sighting in &self.sightings[..photos] {
            for (views, sees) in views.iter_mut().zip(&sighting.sees[..count]) {
                *views = views.saturating_add(u8::from(*sees));
            }
        }
        let channels = self.drape.settings.channels;
        let may_be_told = self.asked.is_finer_than(LATTICE_BLURS * self.blurs_m[0]);
        for number in 0..photos {
            self.stay_within(self.window_bytes);
            let sighting = &mut *self.sightings[number];
            let source = &mut self.sources[sighting.photo];
            let wanted = (0..count).filter(|&i| views[i] > 1 && sighting.sees[i]);
            if may_be_told
                && wanted.count() > lattice::ASKED
                && sighting.is_even(FLAT_BLURS * self.blurs_m[0])
            {
                lattice::asked().for_each(|i| sighting.read(source, i, self.blur_steps, channels));
                let Sighting {
                    blurred, detail, ..
                } = sighting;
                blurred
                    .iter_mut()
                    .for_each(|row| lattice::fill(row, lattice::share));
                lattice::fill(detail, lattice::share);
                continue;
            }
            // Alone, blurs would be taken away and added again.
            for (i, views) in views[..count].iter().enumerate() {
                if *views > 1 && sighting.sees[i] {
                    sighting.read(source, i, self.blur_steps, channels);
                }
            }
        }
    }

    /// Mixes a texel of the group from so many photographs.
    fn texel(&mut self, i: usize, photos: usize, result: &mut TileResult) {
        let drape = self.drape;
        let (at, is_chart) = (self.asked.at[i], self.asked.is_chart[i]);
        let mut best = [0; MOST_MIXED];
        let (count, views) = self.best(i, photos, &mut best);
        let best = &best[..count];
        // The best come first, and one that sees the texel clear of a step is better than all that do not.
        let is_astride = best.iter().all(|&k| self.sightings[k].is_astride[i]);
        if best.is_empty() || is_astride && drape.settings.clear_only {
            if is_chart {
                result.coverage[at] = coverage::UNSEEN;
            }
            return;
        }
        let channels = drape.settings.channels;
        let mixed = if let [alone] = *best {
            Blend {
                light: self.full(alone, i),
                chosen: 0,
                rejected: 0,
            }
        } else {
            let mut samples = [Sample::default(); MOST_MIXED];
            let samples = &mut samples[..count];
            for (sample, &k) in samples.iter_mut().zip(best) {
                let sighting = &self.sightings[k];
                let [middle, low] = [sighting.blurred[0][i], sighting.blurred[1][i]];
                // Its finest light is not known yet.
                *sample = Sample {
                    weight: sighting.weight[i],
                    clear: sighting.clear[i],
                    levels: [middle, middle, low],
                    detail: sighting.detail[i],
                    clipped: false,
                };
            }
            let trust = self.sharpen(samples, best, i);
            let Some(mixed) = blend(samples, &trust, &drape.settings.mix) else {
                return;
            };
            for (k, &number) in best.iter().enumerate() {
                if is_chart && mixed.rejected >> k & 1 == 1 {
                    let own = &samples[k].levels[1].to_array()[..channels];
                    let photo = self.sightings[number].photo;
                    result.counts[photo].reject(own, &mixed.light.to_array()[..channels]);
                }
            }
            mixed
        };
        let chosen = &self.sightings[best[mixed.chosen]];
        result.light[at * channels..][..channels]
            .copy_from_slice(&mixed.light.to_array()[..channels]);
        result.coverage[at] = match (is_chart, is_astride) {
            (false, _) => coverage::BORDER,
            (true, true) => coverage::EDGE,
            (true, false) => coverage::SEEN,
        };
        result.views[at] = views.min(255) as u8;
        result.chosen[at] = chosen.photo as u16;
        result.resolution_um[at] = (1e6 / chosen.look.px_per_m2[i].sqrt()) as f32;
    }

    /// The best photographs of a texel, best first; gives how many they are, and how many see it.
    fn best(&self, i: usize, photos: usize, best: &mut [usize; MOST_MIXED]) -> (usize, usize) {
        let (mut count, mut views) = (0, 0);
        let weight = |k: usize| self.sightings[k].weight[i];
        for k in (0..photos).filter(|&k| self.sightings[k].sees[i]) {
            views += 1;
            let own = weight(k);
            let mut at = count.min(MOST_MIXED - 1);
            if count == MOST_MIXED && weight(best[at]) >= own {
                continue;
            }
            while at > 0 && weight(best[at - 1]) < own {
                best[at] = best[at - 1];
                at -= 1;
            }
            best[at] = k;
            count = (count + 1).min(MOST_MIXED);
        }
        (count, views)
    }

    /// Gives the finest light to those samples that need it; tells how far each is believed then.
    fn sharpen(&mut self, samples: &mut [Sample], best: &[usize], i: usize) -> Trust {
        let channels = self.drape.settings.channels;
        let mix = &self.drape.settings.mix;
        let mut believed = trust(samples, channels, mix);
        let mut sharp = 0;
        // What is found to be clipped counts less, and others more: they are asked then.
        while let wanted @ 1.. = finest(samples, &believed, mix) & !sharp {
            let mut clips = false;
            for (k, sample) in samples.iter_mut().enumerate() {
                if wanted >> k & 1 == 1 {
                    let light = self.full(best[k], i);
                    let clipped = self.sources[self.sightings[best[k]].photo].clipped_light;
                    sample.levels[0] = light;
                    sample.clipped = light.to_array()[..channels].iter().any(|v| *v >= clipped);
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
    fn full(&mut self, number: usize, i: usize) -> Vec4 {
        let (sighting, texel) = (
            &*self.sightings[number],
            &self.asked.texels[self.asked.like[i]],
        );
        let look = &sighting.look;
        let source = &mut self.sources[sighting.photo].full;
        let [x, y] = [look.pixel[0][i], look.pixel[1][i]];
        if texel.longest_m * look.px_per_m[i] <= ONE_READING_PX {
            return source.bicubic([x, y]);
        }
        let normalised = [look.normalised[0][i], look.normalised[1][i]];
        let view = &self.drape.views[sighting.photo];
        let [right, down] = view.steps_px(normalised, look.depth_m[i], texel.steps_m);
        let across = |[dx, dy]: [f64; 2]| match (dx * dx + dy * dy).sqrt() {
            px if px > ONE_READING_PX => px.ceil().min(MOST_ACROSS) as usize,
            _ => 1,
        };
        let (columns, rows) = (across(right), across(down));
        if columns * rows == 1 {
            return source.bicubic([x, y]);
        }
        let off = |i: usize, count: usize| (i as f64 + 0.5) / count as f64 - 0.5;
        let mut sum = Vec4::ZERO;
        for j in 0..rows {
            let v = off(j, rows);
            let (x, y) = (x + v * down[0], y + v * down[1]);
            for i in 0..columns {
                let u = off(i, columns);
                sum += source.bilinear([x + u * right[0], y + u * right[1]]);
            }
        }
        let share = 1.0 / (columns * rows) as f32;
        sum * share
    }
}

/// How far about the place of a texel so long in the picture what is read reaches, in pixels.
fn reach_px(longest_px: f64) -> f32 {
    (0.5 * longest_px).clamp(SPREAD_PX, 0.5 * FARTHEST_PX) as f32
}

/// From [`ASTRIDE`] at 0 to 1 at 1, without a corner.
fn fading(part: f32) -> f32 {
    let t = part.clamp(0.0, 1.0);
    (t * t * (3.0 - 2.0 * t)).max(ASTRIDE)
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
    ) -> ([Vec4; 2], f32) {
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
            a + (b - a) * share
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
