//! Coloured surface, and parts, that no claim covers.

use std::collections::HashSet;

use super::{Collector, region_name, state_name};
use crate::finding::{Measure, Place};
use crate::index::Index;
use crate::measure::{CM2_PER_M2, Coverage, Measures, is_proposal};
use crate::told::{Joined, Value, sentences};

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
    let cm2 = |m2: f64| ("area", Value::number(m2 * CM2_PER_M2, 1));
    let most = largest.iter().take(3).map(|(n, m2)| {
        let told = match (n, index.region_numbered(*n)) {
            (0, _) => sentences::UNCOVERED_OUTSIDE.with([cm2(*m2)]),
            (_, Some(region)) => {
                sentences::UNCOVERED_IN_REGION.with([cm2(*m2), ("region", region_name(region))])
            }
            (n, None) => sentences::UNCOVERED_IN_NUMBER
                .with([cm2(*m2), ("number", Value::text(n.to_string()))]),
        };
        Value::from(told)
    });
    let values = [
        ("state", state_name(state)),
        cm2(bare),
        ("share", Value::number(percent, 1)),
        ("most", Value::list(Joined::Apart, most)),
    ];
    let place = Place {
        state: Some(state.id.clone()),
        anchor: largest.first().and_then(|(n, _)| coverage.anchor(*n)),
        ..Place::default()
    };
    let measures = vec![
        Measure::of(sentences::AREA, bare * CM2_PER_M2, "cm²"),
        Measure::of(sentences::SHARE, percent, "%"),
    ];
    found.add_measured(sentences::UNCOVERED_SURFACE, place, values, measures);
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
            let shown = ("state", state_name(state));
            let named = ("part", Value::named(&part.title, &part.id));
            let place = Place {
                part: Some(part.id.clone()),
                state: Some(state.id.clone()),
                anchor: areas.and_then(crate::measure::PartAreas::anchor),
                ..Place::default()
            };
            match bare {
                Some((bare, _)) => {
                    let area = ("area", Value::number(bare * CM2_PER_M2, 1));
                    let sentence = sentences::PART_WITHOUT_CLAIM_AREA;
                    found.add(sentence, place, [shown, named, area]);
                }
                None => found.add(sentences::PART_WITHOUT_CLAIM, place, [shown, named]),
            }
        }
    }
}
