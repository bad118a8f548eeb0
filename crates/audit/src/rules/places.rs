//! Where observations lie, against where they are said to lie.

use ganosis_dossier::document::{Certainty, Claim, Evidence, Region};

use super::{Collector, evidence_name, of_claim, region_name};
use crate::finding::{Measure, Place};
use crate::index::Index;
use crate::measure::Measures;
use crate::told::{Joined, Value, sentences};

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
    let names = analyses.iter().map(|item| evidence_name(item));
    let values = [
        of_claim(claim),
        ("analyses", Value::list(Joined::And, names)),
        ("count", Value::number(analyses.len() as f64, 0)),
        ("region", region_name(region)),
        ("distance", Value::number(nearest_mm, 1)),
    ];
    let first = analyses.first();
    let place = Place {
        claim: Some(claim.id.clone()),
        region: Some(region.id.clone()),
        anchor: first
            .and_then(|item| item.anchor.clone())
            .or_else(|| measures.region_anchor(region.number)),
        ..Place::default()
    };
    if nearest_mm.is_finite() {
        let distance = Measure::of(sentences::DISTANCE, nearest_mm, "mm");
        let sentence = sentences::ANALYSIS_OUTSIDE_BY;
        found.add_measured(sentence, place, values, vec![distance]);
    } else {
        let [claim, analyses, count, region, _] = values;
        let values = [claim, analyses, count, region];
        found.add(sentences::ANALYSIS_OUTSIDE, place, values);
    }
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
        let values = [("evidence", evidence_name(item))];
        found.add(sentences::ANALYSIS_WITHOUT_PLACE, place, values);
        return;
    }
    let Some(region) = item.region.as_ref().and_then(|id| index.region(id)) else {
        return;
    };
    let Some(spot) = measures.spots.get(&item.id) else {
        return;
    };
    if let Lies::Outside(distance) = lies(index, measures, item, region) {
        let (evidence, named) = (
            ("evidence", evidence_name(item)),
            ("region", region_name(region)),
        );
        let other = index.region_numbered(spot.number);
        let other = other.map(|other| ("other", region_name(other)));
        let far = distance.map(|mm| ("distance", Value::number(mm, 1)));
        let measured = distance.map(|mm| Measure::of(sentences::DISTANCE, mm, "mm"));
        let told = match (other, far) {
            (Some(other), Some(far)) => {
                sentences::ANCHOR_OUTSIDE_BY.with([evidence, named, other, far])
            }
            (Some(other), None) => sentences::ANCHOR_OUTSIDE.with([evidence, named, other]),
            (None, Some(far)) => sentences::ANCHOR_NOWHERE_BY.with([evidence, named, far]),
            (None, None) => sentences::ANCHOR_NOWHERE.with([evidence, named]),
        };
        let (rule, about) = (sentences::ANCHOR_OUTSIDE.rule(), place.name());
        found.push(rule, about, place, told, measured.into_iter().collect());
    }
}
