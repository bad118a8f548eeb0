//! Where observations lie: on which texel, in which region, how far from another.

use std::collections::{BTreeMap, HashMap};

use ganosis_dossier::document::{Anchor, Certainty, Evidence};
use ganosis_surface::Surface;
use ganosis_surface::area::SheetMap;
use ganosis_surface::pick::Picker;
use glam::{DVec3, Vec2};

use super::{Measures, SheetOf, Wanted};
use crate::Sources;
use crate::index::Index;
use crate::sources::Labels;

/// Furthest that an anchor may lie off the surface, metres: further, and it
/// is of another surface. A choice of ours.
const OFF_SURFACE_M: f32 = 0.05;

/// Where an observation lies.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Spot {
    /// Number of the region under it, 0 for none.
    pub number: u32,
    /// Where, in metres.
    pub position_m: [f64; 3],
    /// Distance in mm to regions that claims place it in and it is not in.
    pub distances_mm: BTreeMap<u32, f64>,
}

impl Measures {
    /// Finds the spots, and says which distances are wanted.
    pub(crate) fn find_spots(
        &mut self,
        index: &Index,
        surface: &Surface,
        sources: &dyn Sources,
        sheets: &[SheetOf],
    ) -> Wanted {
        let mut locator = Locator {
            surface,
            sheets,
            labels: sheets
                .iter()
                .filter_map(|s| Some((s.id, sources.labels(s.id)?)))
                .collect(),
            maps: HashMap::new(),
            picker: None,
        };
        for item in &index.document.evidence {
            if let Some(spot) = item.anchor.as_ref().and_then(|anchor| locator.spot(anchor)) {
                self.spots.insert(item.id.clone(), spot);
            }
        }
        self.wanted(index)
    }

    fn wanted(&self, index: &Index) -> Wanted {
        let mut pairs = Vec::new();
        for claim in &index.document.claims {
            if claim.certainty != Certainty::Measured {
                continue;
            }
            let analyses: Vec<&Evidence> = index
                .cited(claim)
                .filter(|item| index.technique(item).is_some_and(|row| row.is_analysis()))
                .collect();
            for region in claim.regions.iter().filter_map(|id| index.region(id)) {
                let inside = |item: &&Evidence| {
                    self.spots
                        .get(&item.id)
                        .is_some_and(|s| s.number == region.number)
                };
                if analyses.iter().any(inside) {
                    continue;
                }
                let placed = analyses
                    .iter()
                    .filter(|item| self.spots.contains_key(&item.id));
                pairs.extend(placed.map(|item| (item.id.clone(), region.number)));
            }
        }
        for item in &index.document.evidence {
            let named = item.region.as_ref().and_then(|id| index.region(id));
            if let (Some(region), Some(spot)) = (named, self.spots.get(&item.id))
                && region.number != spot.number
            {
                pairs.push((item.id.clone(), region.number));
            }
        }
        let points = pairs.iter().map(|pair| (pair.1, Vec::new())).collect();
        Wanted { pairs, points }
    }
}

/// Finds anchors on the surface; what it needs for it, it makes once.
struct Locator<'a> {
    surface: &'a Surface,
    sheets: &'a [SheetOf<'a>],
    labels: HashMap<&'a str, Labels<'a>>,
    maps: HashMap<usize, SheetMap<'a>>,
    picker: Option<Picker>,
}

impl Locator<'_> {
    /// By its UV where it has one, otherwise by its position.
    fn spot(&mut self, anchor: &Anchor) -> Option<Spot> {
        let (sheet, uv, position_m) = match (anchor.uv, anchor.position_m) {
            (Some(uv), Some(position)) => (anchor.sheet.clone(), uv, position),
            (Some(uv), None) => (anchor.sheet.clone(), uv, self.position(&anchor.sheet, uv)?),
            (None, Some(position)) => self.nearest(position)?,
            (None, None) => return None,
        };
        let labels = self.labels.get(sheet.as_str())?;
        let number = u32::from(labels.at(uv));
        Some(Spot {
            number,
            position_m,
            distances_mm: BTreeMap::new(),
        })
    }

    fn position(&mut self, sheet: &str, uv: [f64; 2]) -> Option<[f64; 3]> {
        let number = self.sheets.iter().find(|s| s.id == sheet)?.number;
        let surface = self.surface;
        let map = self
            .maps
            .entry(number)
            .or_insert_with(|| SheetMap::new(surface, number));
        let at = map.at(Vec2::new(uv[0] as f32, uv[1] as f32))?;
        Some(at.position_m.as_dvec3().to_array())
    }

    fn nearest(&mut self, position: [f64; 3]) -> Option<(String, [f64; 2], [f64; 3])> {
        let picker = self.picker.get_or_insert_with(|| Picker::new(self.surface));
        let place = DVec3::from_array(position).as_vec3();
        let hit = picker.nearest(place, OFF_SURFACE_M, &|_| true)?;
        let number = self.surface.patches.get(hit.patch)?.sheet;
        let sheet = self.sheets.iter().find(|s| s.number == number)?;
        let uv = hit.uv.as_dvec2().to_array();
        Some((sheet.id.to_owned(), uv, position))
    }
}
