//! Areas, colours and distances, measured on the surface.

mod paint;
mod sample;
mod spots;
mod thin;

use std::collections::{BTreeMap, HashMap, HashSet};

use ganosis_colorimetry::LabD50;
use ganosis_dossier::document::{Anchor, StateKind};
use ganosis_surface::{Patch, Surface};
use glam::{DVec3, Vec3};

use crate::Sources;
use crate::index::{Index, pigments};
use crate::sources::Labels;
use crate::told::{Told, Value, sentences};
use paint::Painter;
pub use paint::{PaintedColours, Spread};
use sample::Sample;
pub use spots::Spot;
use thin::Thin;

/// Square centimetres in a square metre.
pub const CM2_PER_M2: f64 = 1e4;

/// How much of the coloured surface of a state no claim covers.
#[derive(Debug, Clone, Default)]
pub struct Coverage {
    /// Coloured surface of the state in m², parts left out.
    pub coloured_m2: f64,
    /// Of it outside every claim, by region number (0: in no region).
    pub uncovered_m2: BTreeMap<u32, f64>,
    anchors: HashMap<u32, Thin>,
    /// Colours of surface, by region number and whether a claim covers it, that
    /// counts as coloured only in that it differs from the state as found.
    differing: HashMap<(u32, bool), PaintedColours>,
}

impl Coverage {
    /// All that no claim covers, m².
    #[must_use]
    pub fn uncovered_total_m2(&self) -> f64 {
        self.uncovered_m2.values().sum()
    }
    /// A point in the middle of what is not covered in a region.
    #[must_use]
    pub fn anchor(&self, number: u32) -> Option<Anchor> {
        self.anchors.get(&number)?.middle()
    }
}

/// A part on the surface.
#[derive(Debug, Clone, Default)]
pub struct PartAreas {
    /// Whole area in m².
    pub m2: f64,
    /// By region number (0: in no region).
    pub by_region_m2: BTreeMap<u32, f64>,
    middle: Thin,
}

impl PartAreas {
    /// A point in its middle.
    #[must_use]
    pub fn anchor(&self) -> Option<Anchor> {
        self.middle.middle()
    }
}

/// What was measured. Areas are those of the mesh.
#[derive(Debug, Clone, Default)]
pub struct Measures {
    /// Area of the whole surface in m²; absent without a mesh.
    pub total_m2: Option<f64>,
    /// Area of each region by number, m²; empty without mesh and region map.
    pub regions_m2: BTreeMap<u32, f64>,
    /// By id.
    pub parts: HashMap<String, PartAreas>,
    /// By state, in the order of the document; `None` where it was not measured.
    pub coverage: Vec<Option<Coverage>>,
    /// Painted colours by number of the state in the document and region number.
    pub painted: HashMap<(usize, u32), PaintedColours>,
    /// Where each observation with a place lies, by its id.
    pub spots: HashMap<String, Spot>,
    /// What could not be examined.
    pub not_examined: Vec<Told>,
    middles: HashMap<u32, Thin>,
}

impl Measures {
    /// Area of a region in cm², if it was measured.
    #[must_use]
    pub fn region_cm2(&self, number: u32) -> Option<f64> {
        self.regions_m2.get(&number).map(|m2| m2 * CM2_PER_M2)
    }

    /// A point in the middle of a region.
    #[must_use]
    pub fn region_anchor(&self, number: u32) -> Option<Anchor> {
        self.middles.get(&number)?.middle()
    }

    /// Measures a document.
    pub(crate) fn take(index: &Index, sources: &dyn Sources) -> Self {
        let mut measures = Self::default();
        measures
            .coverage
            .resize_with(index.document.states.len(), || None);
        let Some(surface) = sources.surface() else {
            measures.not_examined.push(sentences::NO_MESH.with([]));
            return measures;
        };
        let sheets = sheets(index, surface, &mut measures.not_examined);
        let mut wanted = measures.find_spots(index, surface, sources, &sheets);
        let mut painter = Painter::new(index);
        let claimed = Claimed::new(index);
        let mut total_m2 = 0.0;
        for sheet in &sheets {
            let labels = sources.labels(sheet.id);
            if labels.is_none() {
                let sheet = ("sheet", Value::text(sheet.id));
                measures
                    .not_examined
                    .push(sentences::NO_REGION_MAP.with([sheet]));
            }
            painter.load(sheet.id, sources, &mut measures.not_examined);
            let scan = Scan {
                index,
                sheet,
                labels: labels.as_ref(),
                claimed: &claimed,
            };
            total_m2 += measures.scan(&scan, surface, &mut painter, &mut wanted);
        }
        measures.total_m2 = Some(total_m2);
        measures.painted = painter.finish();
        measures.leave_out_bare(index, &claimed);
        measures.set_distances(index, wanted);
        measures
    }

    fn scan(
        &mut self,
        scan: &Scan,
        surface: &Surface,
        painter: &mut Painter,
        wanted: &mut Wanted,
    ) -> f64 {
        let size_px = scan.labels.map(|l| [l.width_px, l.height_px]);
        let size_px = size_px.or(painter.size_px()).unwrap_or([1024, 1024]);
        let density = sample::density(surface, scan.sheet.number, size_px);
        let mut total_m2 = 0.0;
        for patch in surface
            .patches
            .iter()
            .filter(|p| p.sheet == scan.sheet.number)
        {
            let owner = Owner::of(scan.index, patch);
            sample::samples(surface, patch, density, &mut |sample| {
                total_m2 += sample.m2;
                let number = scan.labels.map_or(0, |l| u32::from(l.at(sample.uv)));
                self.add(scan, &owner, number, &sample);
                if let Some(points) = wanted.points.get_mut(&number) {
                    points.push(sample.position_m);
                }
                self.paint(scan, &owner, number, &sample, painter);
            });
        }
        total_m2
    }

    fn add(&mut self, scan: &Scan, owner: &Owner, number: u32, sample: &Sample) {
        if number != 0 {
            *self.regions_m2.entry(number).or_default() += sample.m2;
            self.middles
                .entry(number)
                .or_default()
                .add(scan.sheet.id, sample);
        }
        for part in &owner.parts {
            // Asked for by reference first: a key is made once a part, not once a sample.
            if !self.parts.contains_key(*part) {
                self.parts.insert((*part).to_owned(), PartAreas::default());
            }
            if let Some(areas) = self.parts.get_mut(*part) {
                areas.m2 += sample.m2;
                *areas.by_region_m2.entry(number).or_default() += sample.m2;
                areas.middle.add(scan.sheet.id, sample);
            }
        }
    }

    fn paint(
        &mut self,
        scan: &Scan,
        owner: &Owner,
        number: u32,
        sample: &Sample,
        painter: &mut Painter,
    ) {
        for state in painter.at(sample.uv) {
            if !owner.shown[state.number] {
                continue;
            }
            if number != 0 && scan.claimed.covers(state.number, number) {
                painter.note(&state, number, sample.m2);
            }
            if !owner.parts.is_empty() || !state.coloured {
                continue;
            }
            let coverage = self.coverage[state.number].get_or_insert_default();
            let covered = scan.labels.is_none() || scan.claimed.covers(state.number, number);
            coverage.coloured_m2 += sample.m2;
            if state.by_difference {
                coverage
                    .differing
                    .entry((number, covered))
                    .or_default()
                    .add(&state, sample.m2);
            }
            if !covered {
                *coverage.uncovered_m2.entry(number).or_default() += sample.m2;
                coverage
                    .anchors
                    .entry(number)
                    .or_default()
                    .add(scan.sheet.id, sample);
            }
        }
    }
}

impl Measures {
    /// Where claims say that regions were never painted, surface that looks
    /// like them is no coloured surface.
    fn leave_out_bare(&mut self, index: &Index, claimed: &Claimed) {
        let limit = index.tables.tolerance("bare");
        for (number, coverage) in self.coverage.iter_mut().enumerate() {
            let Some(coverage) = coverage else { continue };
            let bare = claimed.bare[number]
                .iter()
                .filter_map(|n| self.painted.get(&(number, *n)));
            let (sums, whole_m2) = bare
                .map(PaintedColours::sums)
                .fold(([0.0; 3], 0.0), |(a, m2), (b, more_m2)| {
                    ([a[0] + b[0], a[1] + b[1], a[2] + b[2]], m2 + more_m2)
                });
            if whole_m2 <= 0.0 {
                continue;
            }
            let mean = LabD50::from_array(sums.map(|sum| sum / whole_m2));
            for ((region, covered), colours) in std::mem::take(&mut coverage.differing) {
                let all_m2 = colours.sums().1;
                let bare_m2 = all_m2 - colours.further_m2(mean, limit);
                coverage.coloured_m2 -= bare_m2;
                if !covered && let Some(m2) = coverage.uncovered_m2.get_mut(&region) {
                    // Sums of floating point leave a trace of what is all gone.
                    *m2 = if *m2 - bare_m2 < 1e-9 * all_m2 {
                        0.0
                    } else {
                        *m2 - bare_m2
                    };
                }
            }
            coverage.uncovered_m2.retain(|_, m2| *m2 > 0.0);
        }
    }
}

/// Regions that claims cover, by state.
pub(crate) struct Claimed {
    all: Vec<HashSet<u32>>,
    /// Those that claims leave without a paint.
    bare: Vec<HashSet<u32>>,
}

impl Claimed {
    fn new(index: &Index) -> Self {
        let none = vec![HashSet::new(); index.document.states.len()];
        let (mut all, mut bare) = (none.clone(), none);
        for claim in &index.document.claims {
            for state in claim.states.iter().filter_map(|id| index.state_number(id)) {
                let regions = claim.regions.iter().filter_map(|id| index.region(id));
                let numbers: Vec<u32> = regions.map(|region| region.number).collect();
                if pigments(claim).next().is_none() {
                    bare[state].extend(&numbers);
                }
                all[state].extend(numbers);
            }
        }
        Self { all, bare }
    }

    fn covers(&self, state: usize, number: u32) -> bool {
        self.all.get(state).is_some_and(|set| set.contains(&number))
    }
}

struct Scan<'a> {
    index: &'a Index<'a>,
    sheet: &'a SheetOf<'a>,
    labels: Option<&'a Labels<'a>>,
    claimed: &'a Claimed,
}

/// A sheet of the document and its number in the mesh.
pub(crate) struct SheetOf<'a> {
    pub(crate) id: &'a str,
    pub(crate) number: usize,
}

fn sheets<'a>(index: &Index<'a>, surface: &Surface, not: &mut Vec<Told>) -> Vec<SheetOf<'a>> {
    let mut found = Vec::new();
    for sheet in &index.document.surface.sheets {
        match surface.sheet_named(&sheet.material) {
            Some(number) => found.push(SheetOf {
                id: &sheet.id,
                number,
            }),
            None => not.push(sentences::NO_MATERIAL.with([
                ("sheet", Value::text(&sheet.id)),
                ("material", Value::text(&sheet.material)),
            ])),
        }
    }
    found
}

/// Which parts a patch belongs to, and in which states it is shown.
struct Owner<'a> {
    parts: Vec<&'a str>,
    shown: Vec<bool>,
}

impl<'a> Owner<'a> {
    fn of(index: &Index<'a>, patch: &Patch) -> Self {
        let all = index.document.surface.parts.iter();
        let parts: Vec<&str> = all
            .filter(|part| patch.node_path.contains(&part.node))
            .map(|part| part.id.as_str())
            .collect();
        let states = index.document.states.iter();
        let shown = states
            .map(|state| {
                parts
                    .iter()
                    .all(|part| state.parts.iter().any(|id| id == part))
            })
            .collect();
        Self { parts, shown }
    }
}

/// Regions whose distance from a spot is wanted.
pub(crate) struct Wanted {
    /// Evidence and region number.
    pairs: Vec<(String, u32)>,
    points: HashMap<u32, Vec<Vec3>>,
}

impl Measures {
    fn set_distances(&mut self, index: &Index, wanted: Wanted) {
        for (id, number) in wanted.pairs {
            let Some(place) = index.evidence(&id).and_then(|_| self.spots.get_mut(&id)) else {
                continue;
            };
            let points = wanted.points.get(&number).map_or(&[][..], Vec::as_slice);
            let from = DVec3::from_array(place.position_m);
            let nearest = points
                .iter()
                .map(|p| p.as_dvec3().distance(from))
                .fold(f64::INFINITY, f64::min);
            if nearest.is_finite() {
                place.distances_mm.insert(number, nearest * 1e3);
            }
        }
    }
}

/// True for states whose colours are proposed, not photographed.
pub(crate) fn is_proposal(kind: &StateKind) -> bool {
    *kind != StateKind::AsFound
}
