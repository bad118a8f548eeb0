//! Coloured surface, and parts, that no claim covers.

use std::collections::HashSet;

use super::{Collector, region_name, state_name};
use crate::finding::{Measure, Place};
use crate::index::Index;
use crate::measure::{CM2_PER_M2, Coverage, Measures, is_proposal};

pub(super) fn check(index: &Index, measures: &Measures, found: &mut Collector) {
    for (number, coverage) in measures.coverage.iter().enumerate() {
        if let Some(coverage) = coverage {
            uncovered(index, number, coverage, found);
        }
    }
    parts(index, measures, found);
}

fn uncovered(index: &Index, number: usize, coverage: &Coverage, found: &mut Collector) {
    let state = &index.document.states[number];
    let limit = index.tables.tolerance("uncovered-share");
    let (whole, bare) = (coverage.coloured_m2, coverage.uncovered_total_m2());
    let percent = 100.0 * bare / whole.max(f64::MIN_POSITIVE);
    if percent <= limit {
        return;
    }
    let mut largest: Vec<(u32, f64)> = coverage
        .uncovered_m2
        .iter()
        .map(|(n, m2)| (*n, *m2))
        .collect();
    largest.sort_by(|a, b| b.1.total_cmp(&a.1));
    let most: Vec<String> = largest
        .iter()
        .take(3)
        .map(|(n, m2)| {
            let name = match (n, index.region_numbered(*n)) {
                (0, _) => "outside every region".to_owned(),
                (_, Some(region)) => format!("in the region {}", region_name(region)),
                (n, None) => format!("in the region numbered {n}, which is not in the dossier"),
            };
            format!("{:.1} cm² {name}", m2 * CM2_PER_M2)
        })
        .collect();
    let message = format!(
        "in the state {}, {:.1} cm² of coloured surface ({percent:.1} %) are covered by no claim: {}",
        state_name(state),
        bare * CM2_PER_M2,
        most.join("; ")
    );
    let place = Place {
        state: Some(state.id.clone()),
        anchor: largest.first().and_then(|(n, _)| coverage.anchor(*n)),
        ..Place::default()
    };
    let measures = vec![
        Measure {
            name: "area",
            value: bare * CM2_PER_M2,
            unit: "cm²",
        },
        Measure {
            name: "share",
            value: percent,
            unit: "%",
        },
    ];
    found.add_measured("uncovered-surface", place, message, measures);
}

fn parts(index: &Index, measures: &Measures, found: &mut Collector) {
    let mut claimed: HashSet<(usize, &str)> = HashSet::new();
    let mut regions: HashSet<(usize, u32)> = HashSet::new();
    for claim in &index.document.claims {
        for state in claim.states.iter().filter_map(|id| index.state_number(id)) {
            claimed.extend(claim.parts.iter().map(|id| (state, id.as_str())));
            let numbers = claim.regions.iter().filter_map(|id| index.region(id));
            regions.extend(numbers.map(|region| (state, region.number)));
        }
    }
    let limit = index.tables.tolerance("uncovered-share");
    for (number, state) in index.document.states.iter().enumerate() {
        if !is_proposal(&state.kind) {
            continue;
        }
        for part in state.parts.iter().filter_map(|id| index.part(id)) {
            let areas = measures.parts.get(&part.id);
            let bare = areas.map(|areas| {
                let by_region = areas.by_region_m2.iter();
                let bare = by_region.filter(|(n, _)| !regions.contains(&(number, **n)));
                (bare.map(|(_, m2)| m2).sum::<f64>(), areas.m2)
            });
            let covered = bare.is_some_and(|(bare, whole)| 100.0 * bare <= limit * whole);
            if covered || claimed.contains(&(number, part.id.as_str())) {
                continue;
            }
            let area = bare.map(|(bare, _)| format!(" ({:.1} cm²)", bare * CM2_PER_M2));
            let message = format!(
                "the state {} shows the part {}{}, which no claim covers",
                state_name(state),
                super::named(&part.title, &part.id),
                area.unwrap_or_default()
            );
            let place = Place {
                part: Some(part.id.clone()),
                state: Some(state.id.clone()),
                anchor: areas.and_then(crate::measure::PartAreas::anchor),
                ..Place::default()
            };
            found.add("part-without-claim", place, message);
        }
    }
}
