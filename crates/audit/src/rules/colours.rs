//! Painted colour against claimed colour, and how well the claimed colour is known.

use std::collections::{BTreeSet, HashMap};

use ganosis_dossier::document::{Claim, PaletteEntry, Region};

use super::{Collector, entry_name, region_name, state_name};
use crate::finding::{Measure, Place};
use crate::index::{Index, pigments};
use crate::measure::{Measures, Spread};

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
    let message = format!(
        "in the state {} the region {} is painted ΔE00 {:.1} from the claimed colour at the median \
         (limit {:.1}) and {:.1} at the 95th percentile (limit {:.1})",
        state_name(state),
        region_name(region),
        spread.median,
        limits.median,
        spread.percentile_95,
        limits.percentile_95
    );
    let place = Place {
        claim: Some(claim.id.clone()),
        region: Some(region.id.clone()),
        state: Some(state.id.clone()),
        anchor: measures.region_anchor(region.number),
        ..Place::default()
    };
    let numbers = vec![
        Measure {
            name: "median",
            value: spread.median,
            unit: "ΔE00",
        },
        Measure {
            name: "95th percentile",
            value: spread.percentile_95,
            unit: "ΔE00",
        },
    ];
    found.add_measured("painted-colour", place, message, numbers);
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
        let message = match entry.readings {
            None => format!(
                "how many readings the colour of {} rests on is not said",
                entry_name(entry)
            ),
            Some(n) if f64::from(n) < least => {
                format!(
                    "the colour of {} rests on {n} of at least {least} readings",
                    entry_name(entry)
                )
            }
            Some(_) => continue,
        };
        found.add("few-readings", entry_place(entry), message);
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
        let message = format!(
            "{} is claimed, but its colour was not measured",
            entry_name(entry)
        );
        found.add("pigment-without-colour", entry_place(entry), message);
    }
}
