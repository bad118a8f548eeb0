//! What the states show at a place, and how far it is from what is claimed.

use std::collections::HashMap;

use ganosis_colorimetry::gamut::map_to_gamut;
use ganosis_colorimetry::{Encoded, LabD50, Linear, LinearSrgb, P3, Srgb, XyzD50, delta_e_2000};
use ganosis_dossier::document::{ColourSpace, Layer};

use super::is_proposal;
use crate::Sources;
use crate::index::Index;
use crate::sources::Colours;
use crate::told::{Told, Value, sentences};

/// A code with its space: 0x00RRGGBB for sRGB, 0x01RRGGBB for Display P3.
type Code = u32;

fn code(rgb: [u8; 3], p3: bool) -> Code {
    u32::from_be_bytes([u8::from(p3), rgb[0], rgb[1], rgb[2]])
}

fn rgb(code: Code) -> ([u8; 3], bool) {
    let [p3, r, g, b] = code.to_be_bytes();
    ([r, g, b], p3 == 1)
}

fn lab(code: Code) -> LabD50 {
    match rgb(code) {
        (rgb, false) => Encoded::<Srgb>::from_u8(rgb).into(),
        (rgb, true) => Encoded::<P3>::from_u8(rgb).into(),
    }
}

fn linear(code: Code) -> LinearSrgb {
    match rgb(code) {
        (rgb, false) => Encoded::<Srgb>::from_u8(rgb).decode(),
        (rgb, true) => Linear::from(Encoded::<P3>::from_u8(rgb).decode().to_xyz_d50()),
    }
}

/// Pairs of colours remembered, 12 bytes each. A choice of ours.
const MOST_PAIRS: usize = 1 << 20;

/// Area by painted colour.
#[derive(Debug, Clone, Default)]
pub struct PaintedColours(HashMap<Code, f64>);

/// Differences over an area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Half of the area differs by less, ΔE00.
    pub median: f64,
    /// 95 % of the area differ by less, ΔE00.
    pub percentile_95: f64,
    /// ΔE00 between the claimed colour and the nearest that sRGB can show.
    pub lost_to_gamut: f64,
}

impl PaintedColours {
    /// Area in m² whose colour is further than `delta_e` from `reference`
    /// brought to the same lightness: shade in a hollow makes no paint.
    pub(crate) fn further_m2(&self, reference: LabD50, delta_e: f64) -> f64 {
        let reference = reference.to_xyz_d50();
        let further = self.0.iter().filter(|(code, _)| {
            let colour = lab(**code);
            let scale = colour.to_xyz_d50().y / reference.y.max(f64::MIN_POSITIVE);
            let shaded = XyzD50::new(
                reference.x * scale,
                reference.y * scale,
                reference.z * scale,
            );
            delta_e_2000(shaded.into(), colour) > delta_e
        });
        further.map(|(_, m2)| m2).sum()
    }

    /// Sums of CIELAB coordinates by area, and the area.
    pub(crate) fn sums(&self) -> ([f64; 3], f64) {
        self.0
            .iter()
            .fold(([0.0; 3], 0.0), |(mut sums, whole), (code, m2)| {
                for (sum, x) in sums.iter_mut().zip(lab(*code).to_array()) {
                    *sum += x * m2;
                }
                (sums, whole + m2)
            })
    }

    pub(crate) fn add(&mut self, shown: &Shown, m2: f64) {
        *self.0.entry(shown.code).or_default() += m2;
    }

    /// Differences of the painted colour from `claimed`; `None` for no area.
    #[must_use]
    pub fn differences(&self, claimed: LabD50) -> Option<Spread> {
        let mut pairs: Vec<(f64, f64)> = self
            .0
            .iter()
            .map(|(code, m2)| (delta_e_2000(claimed, lab(*code)), *m2))
            .collect();
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        let whole: f64 = pairs.iter().map(|pair| pair.1).sum();
        let at = |share: f64| {
            let mut below = 0.0;
            let reached = pairs.iter().find(|pair| {
                below += pair.1;
                below >= share * whole
            });
            reached.or(pairs.last()).map(|pair| pair.0)
        };
        Some(Spread {
            median: at(0.5)?,
            percentile_95: at(0.95)?,
            lost_to_gamut: map_to_gamut::<Srgb>(claimed).delta_e_2000,
        })
    }
}

/// What one state shows at a place.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shown {
    pub(crate) number: usize,
    pub(crate) coloured: bool,
    /// Coloured only in that it differs from the state as found.
    pub(crate) by_difference: bool,
    code: Code,
}

/// Composes the colour layers of the states on one sheet after another.
pub(crate) struct Painter<'a> {
    states: Vec<(usize, Vec<&'a Layer>)>,
    as_found: Vec<&'a Layer>,
    sheet: HashMap<&'a str, (Colours<'a>, bool)>,
    painted: HashMap<(usize, u32), PaintedColours>,
    coloured_delta_e: f64,
    coloured_alpha: f64,
    pairs: HashMap<(Code, Code), bool>,
}

impl<'a> Painter<'a> {
    pub(crate) fn new(index: &Index<'a>) -> Self {
        let layers = |number: usize| index.colour_layers(&index.document.states[number]);
        let states = (0..index.document.states.len())
            .filter(|&n| is_proposal(&index.document.states[n].kind))
            .map(|n| (n, layers(n)))
            .filter(|(_, layers)| !layers.is_empty());
        Self {
            states: states.collect(),
            as_found: index.as_found().map(layers).unwrap_or_default(),
            sheet: HashMap::new(),
            painted: HashMap::new(),
            coloured_delta_e: index.tables.tolerance("coloured"),
            coloured_alpha: index.tables.tolerance("coloured-alpha"),
            pairs: HashMap::new(),
        }
    }

    /// Takes the images of a sheet in place of those before.
    pub(crate) fn load(&mut self, sheet: &str, sources: &'a dyn Sources, not: &mut Vec<Told>) {
        self.sheet.clear();
        let all = self
            .states
            .iter()
            .flat_map(|(_, layers)| layers)
            .chain(&self.as_found);
        let mut layers: Vec<&'a Layer> = all.copied().collect();
        layers.sort_by(|a, b| a.id.cmp(&b.id));
        layers.dedup_by(|a, b| a.id == b.id);
        for layer in layers {
            if !layer.images.iter().any(|image| image.sheet == sheet) {
                continue;
            }
            match sources.colours(&layer.id, sheet) {
                Some(colours) => {
                    let p3 = layer.colour_space == Some(ColourSpace::DisplayP3);
                    self.sheet.insert(&layer.id, (colours, p3));
                }
                None => not.push(sentences::NO_COLOURS.with([
                    ("layer", Value::text(&layer.id)),
                    ("sheet", Value::text(sheet)),
                ])),
            }
        }
    }

    /// Size of an image of this sheet.
    pub(crate) fn size_px(&self) -> Option<[u32; 2]> {
        let sizes = self.sheet.values().map(|(c, _)| [c.width_px, c.height_px]);
        sizes.max()
    }

    /// What each proposed state shows at a coordinate of this sheet.
    pub(crate) fn at(&mut self, uv: [f64; 2]) -> Vec<Shown> {
        let found = self.compose(&self.as_found, uv).map(|(code, _)| code);
        let mut shown = Vec::with_capacity(self.states.len());
        for (number, layers) in &self.states {
            let Some((code, above_ground)) = self.compose(layers, uv) else {
                continue;
            };
            shown.push(Shown {
                number: *number,
                coloured: above_ground >= self.coloured_alpha,
                by_difference: false,
                code,
            });
        }
        for one in shown.iter_mut().filter(|one| !one.coloured) {
            one.by_difference = found.is_some_and(|found| self.differ(found, one.code));
            one.coloured = one.by_difference;
        }
        shown
    }

    /// Whether two colours differ visibly; painted surface shows few pairs
    /// again and again.
    fn differ(&mut self, found: Code, code: Code) -> bool {
        if found == code {
            return false;
        }
        if self.pairs.len() > MOST_PAIRS {
            self.pairs.clear();
        }
        let limit = self.coloured_delta_e;
        *self
            .pairs
            .entry((found, code))
            .or_insert_with(|| delta_e_2000(lab(found), lab(code)) > limit)
    }

    /// The colour, and how much of the layers above the ground covers it.
    fn compose(&self, layers: &[&Layer], uv: [f64; 2]) -> Option<(Code, f64)> {
        let mut below: Option<Code> = None;
        let mut clear = 1.0;
        for (place, layer) in layers.iter().enumerate() {
            let Some((colours, p3)) = self.sheet.get(layer.id.as_str()) else {
                continue;
            };
            let [r, g, b, alpha] = colours.at(uv);
            let this = code([r, g, b], *p3);
            let share = f64::from(alpha) / 255.0;
            if place > 0 {
                clear *= 1.0 - share;
            }
            below = match (below, alpha) {
                (below, 0) => below,
                (None, _) | (_, 255) => Some(this),
                (Some(below), _) => Some(mix(below, this, share)),
            };
        }
        below.map(|code| (code, 1.0 - clear))
    }

    /// Keeps the colour of a place for the statistics of its region.
    pub(crate) fn note(&mut self, shown: &Shown, region: u32, m2: f64) {
        self.painted
            .entry((shown.number, region))
            .or_default()
            .add(shown, m2);
    }

    pub(crate) fn finish(self) -> HashMap<(usize, u32), PaintedColours> {
        self.painted
    }
}

/// Blends in linear light, as the renderer does.
fn mix(below: Code, above: Code, share: f64) -> Code {
    let (a, b) = (linear(below).to_array(), linear(above).to_array());
    let mixed = [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * share);
    code(LinearSrgb::from_array(mixed).encode().to_u8(), false)
}
