//! Painted colour against claimed colour, and how well the claimed colour is known.

use std::collections::{BTreeSet, HashMap};

use ganosis_dossier::document::{Claim, PaletteEntry, Region};

use super::{Collector, entry_name, region_name, state_name};
use crate::finding::{Measure, Place};
use crate::index::{Index, pigments};
use crate::measure::{Measures, Spread};
use crate::told::{Value, sentences};

pub(super) fn check(index: &Index, measures: &Measures, found: &mut Collector) {
    painted(index, measures, found);
    readings(index, found);
    without_colour(index, found);
}

fn painted(index: &Index, measures: &Measures, found: &mut Collector) {
    let mut by_place: HashMap<(usize, u32), Vec<&Claim>> = HashMap::new();
    for claim in &index.document.claims {
        for state in claim.states.iter().filter_map(|id| index.state_number(id)) {
            for region in claim.regions.iter().filter_map(|id| index.region(id)) {
                by_place
                    .entry((state, region.number))
                    .or_default()
                    .push(claim);
            }
        }
    }
    let mut places: Vec<(&(usize, u32), &Vec<&Claim>)> = by_place.iter().collect();
    places.sort_by_key(|(place, _)| **place);
    for (&(state, number), claims) in places {
        // Several claims on one region: which of them was painted is not known.
        let [claim] = claims.as_slice() else { continue };
        let (Some(colour), Some(region)) = (index.colour(claim), index.region_numbered(number))
        else {
            continue;
        };
        let differences = measures.painted.get(&(state, number));
        if let Some(spread) = differences.and_then(|painted| painted.differences(colour)) {
            let limits = Limits::new(index, claim, &spread);
            if !limits.hold(&spread) {
                differs(
                    index,
                    measures,
                    (state, region),
                    claim,
                    &spread,
                    &limits,
                    found,
                );
            }
        }
    }
}

/// Limits for one claim, the spread of its paint and the gamut allowed for.
struct Limits {
    median: f64,
    percentile_95: f64,
}

impl Limits {
    fn new(index: &Index, claim: &Claim, spread: &Spread) -> Self {
        let entry = claim.pigment.as_deref().and_then(|id| index.entry(id));
        let of_paint = entry
            .and_then(|entry| entry.spread_delta_e)
            .unwrap_or(0.0)
            .max(0.0);
        let limit = |name| index.tables.tolerance(name) + spread.lost_to_gamut;
        Self {
            median: limit("painted-median") + of_paint,
            percentile_95: limit("painted-95") + 2.0 * of_paint,
        }
    }

    fn hold(&self, spread: &Spread) -> bool {
        spread.median <= self.median && spread.percentile_95 <= self.percentile_95
    }
}

fn differs(
    index: &Index,
    measures: &Measures,
    (state, region): (usize, &Region),
    claim: &Claim,
    spread: &Spread,
    limits: &Limits,
    found: &mut Collector,
) {
    let state = &index.document.states[state];
    let values = [
        ("state", state_name(state)),
        ("region", region_name(region)),
        ("median", Value::number(spread.median, 1)),
        ("median_limit", Value::number(limits.median, 1)),
        ("most", Value::number(spread.percentile_95, 1)),
        ("most_limit", Value::number(limits.percentile_95, 1)),
    ];
    let place = Place {
        claim: Some(claim.id.clone()),
        region: Some(region.id.clone()),
        state: Some(state.id.clone()),
        anchor: measures.region_anchor(region.number),
        ..Place::default()
    };
    let numbers = vec![
        Measure::of(sentences::MEDIAN, spread.median, "ΔE00"),
        Measure::of(sentences::PERCENTILE_95, spread.percentile_95, "ΔE00"),
    ];
    found.add_measured(sentences::PAINTED_COLOUR, place, values, numbers);
}

fn entry_place(entry: &PaletteEntry) -> Place {
    Place {
        pigment: Some(entry.id.clone()),
        ..Place::default()
    }
}

fn readings(index: &Index, found: &mut Collector) {
    let least = index.tables.tolerance("readings");
    for entry in index
        .document
        .palette
        .iter()
        .filter(|entry| entry.lab_d50.is_some())
    {
        let pigment = ("pigment", entry_name(entry));
        match entry.readings {
            None => found.add(sentences::UNTOLD_READINGS, entry_place(entry), [pigment]),
            Some(n) if f64::from(n) < least => {
                let readings = ("readings", Value::number(f64::from(n), 0));
                let values = [pigment, readings, ("least", Value::number(least, 0))];
                found.add(sentences::FEW_READINGS, entry_place(entry), values);
            }
            Some(_) => {}
        }
    }
}

fn without_colour(index: &Index, found: &mut Collector) {
    let single = index
        .document
        .claims
        .iter()
        .filter(|claim| claim.lab_d50.is_none());
    let claimed: BTreeSet<&str> = single.flat_map(pigments).collect();
    let entries = claimed.iter().filter_map(|id| index.entry(id));
    for entry in entries.filter(|entry| entry.lab_d50.is_none()) {
        let values = [("pigment", entry_name(entry))];
        found.add(
            sentences::PIGMENT_WITHOUT_COLOUR,
            entry_place(entry),
            values,
        );
    }
}
