//! The texels of a tile, mixed group by group.

use glam::Vec4;

use super::asked::{Asked, Texel};
use super::blend::{
    Blend, Finest, MOST_MIXED, Sample, Trust, are_alike, blend, trust, trust_of_alike,
};
use super::group::{MOST, Row, SIDE};
use super::lattice;
use super::levels::{BLUR_PX, Level, SHRINK};
use super::margin::Margin;
use super::mix::Angles;
use super::picture::CLIPPED;
use super::run::Drape;
use super::sighting::{Sighting, Source};
use super::steps::{FARTHEST_PX, SPREAD_PX, Steps};
use super::texels::Place;
use super::tile::{Counts, TileResult, coverage};
use super::window::Window;
use crate::error::Result;

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

/// Cosine of the steepest angle at which a texel is taken to be seen, 89.4° (a choice of ours).
const LEAST_COSINE: f64 = 0.01;

/// What a view counts at its very end, so that a texel which nothing else sees is not empty (a choice of
/// ours).
const AT_THE_END: f32 = 1e-3;

/// What a view counts where it sees a texel astride a step of depth: nothing beside one that sees it clear of that,
/// and something where there is no other (a choice of ours).
const ASTRIDE: f32 = 1e-3;

/// Most readings along each side of a texel that is larger than a pixel: beyond, they lie more than a
/// pixel apart, and 4096 of them are a mean all the same (a choice of ours).
const MOST_ACROSS: f64 = 64.0;

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
    /// Those of the group in hand, best first, with how well each sees the texel in hand.
    order: Vec<Ranked>,
    /// Whether in all of the group no two photographs differ by more than is tolerated.
    is_alike: bool,
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
            asked: Box::new(Asked::new()),
            sightings: Vec::new(),
            order: Vec::new(),
            is_alike: false,
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
        self.order.clear();
        self.order.extend((0..count).map(Ranked::new));
        for i in 0..self.asked.group.count {
            self.texel(i, result);
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
        let is_far = steps.is_far(low, high, within);
        let (clear, is_astride) = (&mut sighting.clear, &mut sighting.is_astride);
        if is_far {
            clear[..count].fill(1.0);
            is_astride[..count].fill(false);
        } else {
            let pixel = look.projected.pixel.each_ref().map(|row| &row[..count]);
            let mut away = [0.0; MOST];
            steps.distances_px([low, high], within, pixel, &mut away[..count]);
            for i in 0..count {
                let reach = reach_px(asked.longest_m[i] * look.px_per_m[i]);
                clear[i] = fading(away[i] / reach - 1.0);
                is_astride[i] = away[i] <= reach;
            }
        }
        let is_full = margin.is_full(low, high);
        for i in 0..count {
            let margin = if is_full {
                Margin::FULL
            } else if sighting.sees[i] {
                margin.weight([0, 1].map(|k| look.projected.pixel[k][i]))
            } else {
                continue;
            };
            let angle = self.angles.of_cosine(look.cosine[i] as f32);
            sighting.weight[i] = look.px_per_m2[i] as f32 * angle * (margin + AT_THE_END);
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
        let (mut told, mut are_all_told) = (Vec::with_capacity(photos), true);
        for number in 0..photos {
            self.stay_within(self.window_bytes);
            let sighting = &mut *self.sightings[number];
            let source = &mut self.sources[sighting.photo];
            let is_wanted = |i: &usize| views[*i] > 1 && sighting.sees[*i];
            let wanted = (0..count).filter(is_wanted).count();
            if may_be_told
                && wanted > lattice::ASKED
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
                told.push(number);
                continue;
            }
            are_all_told &= wanted == 0;
            // Alone, blurs would be taken away and added again.
            for (i, views) in views[..count].iter().enumerate() {
                if *views > 1 && sighting.sees[i] {
                    sighting.read(source, i, self.blur_steps, channels);
                }
            }
        }
        // What is told between places where they are alike is alike: it is a mean of the same weights in each.
        let mix = &self.drape.settings.mix;
        self.is_alike = are_all_told
            && lattice::asked().all(|i| {
                let blurred = told.iter().map(|&k| self.sightings[k].blurred[0][i]);
                are_alike(blurred, channels, mix)
            });
    }

    /// Mixes a texel of the group.
    fn texel(&mut self, i: usize, result: &mut TileResult) {
        let drape = self.drape;
        let (at, is_chart) = (self.asked.at[i], self.asked.is_chart[i]);
        let mut best = [0; MOST_MIXED];
        let (count, views) = self.best(i, &mut best);
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
            let Some((trust, finest)) = self.sharpen(samples, best, i) else {
                return;
            };
            let mixed = blend(samples, &trust, &finest, &drape.settings.mix);
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
    fn best(&mut self, i: usize, best: &mut [usize; MOST_MIXED]) -> (usize, usize) {
        // They see its neighbour about as well: what is in order already takes one look each.
        let order = &mut self.order;
        let mut views = 0;
        for from in 0..order.len() {
            let mut own = order[from];
            let sighting = &self.sightings[own.number];
            own.weight = match sighting.sees[i] {
                true => sighting.weight[i],
                false => NOT_SEEN,
            };
            views += usize::from(sighting.sees[i]);
            let mut to = from;
            while to > 0 && own.is_before(order[to - 1]) {
                order[to] = order[to - 1];
                to -= 1;
            }
            order[to] = own;
        }
        let count = views.min(MOST_MIXED);
        for (best, ranked) in best.iter_mut().zip(&order[..count]) {
            *best = ranked.number;
        }
        (count, views)
    }

    /// Gives the finest light to those samples that need it; tells how far each is believed then, and whose finest
    /// light counts.
    fn sharpen(
        &mut self,
        samples: &mut [Sample],
        best: &[usize],
        i: usize,
    ) -> Option<(Trust, Finest)> {
        let channels = self.drape.settings.channels;
        let mix = &self.drape.settings.mix;
        let is_alike = self.is_alike;
        let trusted = |samples: &[Sample]| {
            if is_alike {
                trust_of_alike(samples, mix)
            } else {
                trust(samples, channels, mix)
            }
        };
        let mut believed = trusted(samples);
        let mut sharp = 0;
        // What is found to be clipped counts less, and others more: they are asked then.
        loop {
            let finest = Finest::of(samples, &believed, mix)?;
            let wanted = finest.counting() & !sharp;
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
            if !clips {
                return Some((believed, finest));
            }
            sharp |= wanted;
            believed = trusted(samples);
        }
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
        let [x, y] = [look.projected.pixel[0][i], look.projected.pixel[1][i]];
        if texel.longest_m * look.px_per_m[i] <= ONE_READING_PX {
            return source.bicubic([x, y]);
        }
        let normalised = [
            look.projected.normalised[0][i],
            look.projected.normalised[1][i],
        ];
        let view = &self.drape.views[sighting.photo];
        let [right, down] = view.steps_px(normalised, look.projected.depth_m[i], texel.steps_m);
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

/// A photograph of the group in hand, and how well it sees a texel.
#[derive(Clone, Copy)]
struct Ranked {
    weight: f32,
    /// Its sighting.
    number: usize,
}

impl Ranked {
    fn new(number: usize) -> Self {
        let weight = NOT_SEEN;
        Self { weight, number }
    }

    /// Whether it sees it better; of two that see it equally well the first comes first.
    #[inline]
    fn is_before(self, other: Self) -> bool {
        self.weight > other.weight || self.weight == other.weight && self.number < other.number
    }
}

/// In place of how well a texel is seen.
const NOT_SEEN: f32 = -1.0;

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
