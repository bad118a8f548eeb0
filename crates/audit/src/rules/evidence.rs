//! What each observation owes, and whether anybody uses it.

use std::collections::HashSet;

use super::{Collector, evidence_name};
use crate::finding::Place;
use crate::index::Index;

pub(super) fn check(index: &Index, found: &mut Collector) {
    let claims = index
        .document
        .claims
        .iter()
        .flat_map(|claim| &claim.evidence);
    let pins = index.document.pins.iter().flat_map(|pin| &pin.evidence);
    let cited: HashSet<&str> = claims.chain(pins).map(String::as_str).collect();
    for item in &index.document.evidence {
        let mut add = |rule, message| {
            let place = Place {
                evidence: Some(item.id.clone()),
                anchor: item.anchor.clone(),
                ..Place::default()
            };
            found.add(rule, place, message);
        };
        if !cited.contains(item.id.as_str()) {
            add(
                "unused-evidence",
                format!("no claim and no pin cites {}", evidence_name(item)),
            );
        }
        let Some(row) = index.technique(item).filter(|row| row.is_of_the_object()) else {
            continue;
        };
        if item.operator.as_deref().is_none_or(str::is_empty) {
            add(
                "evidence-unsigned",
                format!("nobody signs {}", evidence_name(item)),
            );
        }
        if item.date.as_deref().is_none_or(str::is_empty) {
            add(
                "evidence-undated",
                format!("{} has no date", evidence_name(item)),
            );
        }
        if row.is_analysis() && item.instrument.is_empty() {
            add(
                "evidence-without-instrument",
                format!("{} names no instrument", evidence_name(item)),
            );
        }
    }
}
