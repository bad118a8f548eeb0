//! What came of the texels of one tile.

use super::room::{bytes_of, bytes_of_u16, u16_of_bytes, words_of_bytes};
use super::run::{PhotoReport, Report};

/// No photograph.
pub const NO_PHOTO: u16 = u16::MAX;
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
    pub(crate) counts: Vec<Counts>,
}

/// What is counted of a photograph on a tile. Whole numbers, so that sums are the same in any order.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Counts {
    /// Chart texels seen.
    pub(crate) seen: u32,
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
    pub(crate) fn reject(&mut self, own: &[f32], light: &[f32]) {
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
