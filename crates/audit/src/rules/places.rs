//! Where observations lie, against where they are said to lie.

use ganosis_dossier::document::{Certainty, Claim, Evidence, Region};

use super::{Collector, evidence_name, list, region_name};
use crate::finding::{Measure, Place};
use crate::index::Index;
use crate::measure::Measures;

pub(super) fn check(index: &Index, measures: &Measures, found: &mut Collector) {
    for claim in &index.document.claims {
        if claim.certainty == Certainty::Measured {
            measured(index, measures, claim, found);
        }
    }
    for item in &index.document.evidence {
        anchored(index, measures, item, found);
    }
}

/// How an observation lies to a region.
enum Lies {
    Inside,
    /// Outside; how far in mm, if it was measured.
    Outside(Option<f64>),
    Unknown,
}

fn lies(index: &Index, measures: &Measures, item: &Evidence, region: &Region) -> Lies {
    let spot_mm = index.tables.tolerance("spot");
    if let Some(spot) = measures.spots.get(&item.id) {
        let distance = spot.distances_mm.get(&region.number).copied();
        if spot.number == region.number || distance.is_some_and(|mm| mm <= spot_mm) {
            return Lies::Inside;
        }
        return Lies::Outside(distance);
    }
    match &item.region {
        Some(id) if *id == region.id => Lies::Inside,
        Some(_) => Lies::Outside(None),
        None => Lies::Unknown,
    }
}

fn measured(index: &Index, measures: &Measures, claim: &Claim, found: &mut Collector) {
    let analyses: Vec<&Evidence> = index
        .cited(claim)
        .filter(|item| index.technique(item).is_some_and(|row| row.is_analysis()))
        .collect();
    if analyses.is_empty() {
        return;
    }
    for region in claim.regions.iter().filter_map(|id| index.region(id)) {
        let mut nearest = f64::INFINITY;
        let all_outside = analyses
            .iter()
            .all(|item| match lies(index, measures, item, region) {
                Lies::Outside(distance) => {
                    nearest = nearest.min(distance.unwrap_or(f64::INFINITY));
                    true
                }
                Lies::Inside | Lies::Unknown => false,
            });
        if all_outside {
            outside(measures, claim, region, &analyses, nearest, found);
        }
    }
}

fn outside(
    measures: &Measures,
    claim: &Claim,
    region: &Region,
    analyses: &[&Evidence],
    nearest_mm: f64,
    found: &mut Collector,
) {
    let names: Vec<String> = analyses.iter().map(|item| evidence_name(item)).collect();
    let lie = if names.len() == 1 { "lies" } else { "lie" };
    let distance = if nearest_mm.is_finite() {
        format!(", {nearest_mm:.1} mm away at the nearest")
    } else {
        String::new()
    };
    let message = format!(
        "the claim \"{}\" is said to be measured, but {} {lie} outside its region {}{distance}",
        claim.id,
        list(&names),
        region_name(region)
    );
    let first = analyses.first();
    let place = Place {
        claim: Some(claim.id.clone()),
        region: Some(region.id.clone()),
        anchor: first
            .and_then(|item| item.anchor.clone())
            .or_else(|| measures.region_anchor(region.number)),
        ..Place::default()
    };
    let distance = Measure {
        name: "distance",
        value: nearest_mm,
        unit: "mm",
    };
    let known = nearest_mm.is_finite().then_some(distance);
    found.add_measured(
        "analysis-outside-region",
        place,
        message,
        known.into_iter().collect(),
    );
}

fn anchored(index: &Index, measures: &Measures, item: &Evidence, found: &mut Collector) {
    let place = Place {
        evidence: Some(item.id.clone()),
        anchor: item.anchor.clone(),
        ..Place::default()
    };
    let analysis = index.technique(item).is_some_and(|row| row.is_analysis());
    let nowhere = |anchor: &Option<ganosis_dossier::document::Anchor>| {
        anchor
            .as_ref()
            .is_none_or(|a| a.uv.is_none() && a.position_m.is_none())
    };
    if analysis && nowhere(&item.anchor) {
        let message = format!("where {} was analysed is not recorded", evidence_name(item));
        found.add("analysis-without-place", place, message);
        return;
    }
    let Some(region) = item.region.as_ref().and_then(|id| index.region(id)) else {
        return;
    };
    let Some(spot) = measures.spots.get(&item.id) else {
        return;
    };
    if let Lies::Outside(distance) = lies(index, measures, item, region) {
        let real = index.region_numbered(spot.number).map_or_else(
            || "in no region".to_owned(),
            |other| format!("in the region {}", region_name(other)),
        );
        let far = distance
            .map(|mm| format!(", {mm:.1} mm away"))
            .unwrap_or_default();
        let message = format!(
            "{} names the region {}, but its place is {real}{far}",
            evidence_name(item),
            region_name(region)
        );
        let distance = distance.map(|mm| Measure {
            name: "distance",
            value: mm,
            unit: "mm",
        });
        found.add_measured(
            "anchor-outside-region",
            place,
            message,
            distance.into_iter().collect(),
        );
    }
}
