//! What holds for whole regions: colours under a lamp, patterns of the overlay, statistics.

use std::collections::BTreeMap;

use ganosis_colorimetry::LabD50;
use ganosis_dossier::document::{Claim, State};
use ganosis_renderer::{RegionRow, RegionTable};
use serde_json::{Value, json};

use super::{App, Place, StateTexel};
use crate::content::{Appearance, Content, ImageKind};
use crate::lamp::{self, StateUnderLamp};
use crate::light::Mode;
use crate::overlay::{self, Kind};
use crate::probe::{self, Claimed};
use crate::view::View;

/// The state on a side; band layers have no claims.
fn state_of<'a>(content: &'a Content, id: &str) -> Option<&'a State> {
    match content.appearance(id)? {
        Appearance::State(index) => content.document.states.get(index),
        Appearance::Band(_) => None,
    }
}

/// States of the second pair.
fn further_sides<'a>(content: &'a Content, view: &View) -> [Option<&'a State>; 2] {
    [&view.third, &view.fourth].map(|id| state_of(content, id))
}

fn sides<'a>(content: &'a Content, view: &View) -> [Option<&'a State>; 2] {
    [&view.left, &view.right].map(|id| state_of(content, id))
}

fn under_lamp(content: &Content, view: &View, state: Option<&State>) -> Option<StateUnderLamp> {
    lamp::state_under(
        &content.document,
        state?,
        &content.spectra,
        view.lamp.as_ref()?,
    )
}

fn table(content: &Content, view: &View, states: [Option<&State>; 2]) -> RegionTable {
    let lamps = states.map(|state| under_lamp(content, view, state));
    let kinds = states.map(|state| match (state, view.overlay) {
        (Some(state), Some(theme)) => overlay::kinds(&content.document, state, theme),
        _ => BTreeMap::new(),
    });
    let mut otherwise = RegionRow::default();
    for (side, lamp) in lamps.iter().enumerate() {
        if let Some(lamp) = lamp {
            otherwise.lamp[side] = lamp.otherwise;
        }
    }
    let finishes = states.map(|state| match state {
        Some(state) if view.light.mode != Mode::AsMeasured => {
            overlay::finishes(&content.document, state)
        }
        _ => BTreeMap::new(),
    });
    let row = |number: u32| {
        let mut row = otherwise;
        for side in 0..2 {
            row.finish[side] = finishes[side].get(&number).copied().unwrap_or(0);
            if let Some(matrix) = lamps[side].as_ref().and_then(|l| l.regions.get(&number)) {
                row.lamp[side] = *matrix;
            }
            if let Some(kind) = kinds[side].get(&number) {
                row.pattern[side] = kind.pattern();
            }
        }
        row
    };
    let numbers = content.document.regions.iter().map(|r| r.number);
    RegionTable {
        otherwise,
        regions: numbers.map(|n| (n, row(n))).collect(),
    }
}

impl App {
    pub(super) fn refresh_table(&mut self) {
        if !self.table_stale {
            return;
        }
        if let (Some(content), Some(view), Some(renderer)) =
            (&self.content, &self.view, &mut self.renderer)
        {
            renderer.set_region_table(0, table(content, view, sides(content, view)));
            if view.shown_count() > 2 {
                let states = further_sides(content, view);
                renderer.set_region_table(1, table(content, view, states));
            }
            self.table_stale = false;
        }
    }

    /// What the lamp does: `{computed: [ids of regions], mismatches: […]}`, or null without one.
    /// `computed` are the regions of either side whose colour came from a spectrum.
    pub fn lamp_report(&mut self) -> Value {
        if self.lamp_told.is_none() {
            self.lamp_told = Some(self.make_lamp_report());
        }
        self.lamp_told.clone().unwrap_or_default()
    }

    fn make_lamp_report(&self) -> Value {
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return Value::Null;
        };
        let Some(choice) = &view.lamp else {
            return Value::Null;
        };
        let [left, right] = sides(content, view).map(|state| {
            under_lamp(content, view, state).map_or_else(Vec::new, |under| under.computed)
        });
        json!({
            "computed": {"left": left, "right": right},
            "mismatches": lamp::mismatches(&content.document, &content.spectra, choice),
        })
    }

    /// Area by region number (0: in no region) in m²; empty before the region map is here.
    fn areas(&mut self) -> &BTreeMap<u32, f64> {
        let known = self.areas_m2.is_some();
        if !known
            && let Some(content) = &self.content
            && let Some(surface) = content.surface()
        {
            let labels = |sheet| {
                let image = content.image_of(None, sheet, ImageKind::Labels)?;
                content.images[image].values.as_ref()
            };
            let complete = content
                .images
                .iter()
                .all(|i| i.kind != ImageKind::Labels || i.values.is_some());
            if complete {
                self.areas_m2 = Some(overlay::areas_m2(surface, &labels));
            }
        }
        self.areas_m2.get_or_insert_with(BTreeMap::new)
    }

    /// The overlay's legend, for each side: `[{word, pattern, regions, area_m2, share}]`; `share` is
    /// of all that regions of claims cover. Null without an overlay.
    pub fn legend(&mut self) -> Value {
        if let Some(told) = &self.legend_told {
            return told.clone();
        }
        if self.view.as_ref().is_none_or(|v| v.overlay.is_none()) {
            return Value::Null;
        }
        let areas = self.areas().clone();
        let legend = self.make_legend(&areas);
        if areas.is_empty() {
            // The region map is still on its way: ask again.
            self.areas_m2 = None;
        } else {
            self.legend_told = Some(legend.clone());
        }
        legend
    }

    fn make_legend(&self, areas: &BTreeMap<u32, f64>) -> Value {
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return Value::Null;
        };
        let Some(theme) = view.overlay else {
            return Value::Null;
        };
        let [left, right] = sides(content, view).map(|state| {
            let kinds = state.map(|s| overlay::kinds(&content.document, s, theme));
            legend_of(&kinds.unwrap_or_default(), areas)
        });
        json!({"theme": theme.name(), "left": left, "right": right})
    }
}

impl App {
    /// The colour of a state at a place, with what is claimed of it and what the lamp makes of it.
    #[must_use]
    pub fn colour_report(
        &self,
        place: &Place,
        texel: &StateTexel,
        codes: &[Option<[u8; 4]>],
    ) -> Value {
        let lab = probe::lab_of(texel, codes);
        let Some(content) = &self.content else {
            return Value::Null;
        };
        let document = &content.document;
        let number = u32::from(content.region_number(place.sheet, place.uv));
        let state = document.states.iter().find(|s| s.id == texel.state);
        let claim = state.and_then(|state| {
            let region = document.region_numbered(number)?;
            lamp::leading_claim(document, state, &region.id)
        });
        let claimed = claim.and_then(|claim| {
            Some(Claimed {
                claim: claim.id.clone(),
                lab_d50: claimed_lab(content, claim)?,
            })
        });
        let under = self
            .view
            .as_ref()
            .and_then(|view| under_lamp(content, view, state))
            .map(|lamp| {
                let matrix = lamp.regions.get(&number).unwrap_or(&lamp.otherwise);
                lamp::lab_under(matrix, lab)
            });
        probe::report(&texel.state, lab, claimed.as_ref(), under)
    }
}

/// The colour that a claim names: its own, or that of its pigment.
fn claimed_lab(content: &Content, claim: &Claim) -> Option<LabD50> {
    let own = claim.lab_d50.or_else(|| {
        let pigment = claim.pigment.as_ref()?;
        let entries = &content.document.palette;
        entries.iter().find(|p| p.id == *pigment)?.lab_d50
    });
    own.map(LabD50::from_array)
}

fn legend_of(kinds: &BTreeMap<u32, Kind>, areas: &BTreeMap<u32, f64>) -> Value {
    let mut rows: BTreeMap<Kind, (usize, f64)> = BTreeMap::new();
    for (number, kind) in kinds {
        let row = rows.entry(*kind).or_default();
        row.0 += 1;
        row.1 += areas.get(number).copied().unwrap_or(0.0);
    }
    let whole: f64 = rows.values().map(|(_, m2)| m2).sum();
    rows.iter()
        .map(|(kind, (regions, m2))| {
            json!({"word": kind.word, "pattern": kind.pattern_number(), "regions": regions,
                   "area_m2": m2, "share": if whole > 0.0 { m2 / whole } else { 0.0 }})
        })
        .collect()
}
