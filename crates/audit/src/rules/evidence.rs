//! What each observation owes, and whether anybody uses it.

use std::collections::HashSet;

use super::{Collector, evidence_name};
use crate::finding::Place;
use crate::index::Index;
use crate::told::sentences;

pub(super) fn check(index: &Index, found: &mut Collector) {
    let claims = index
        .document
        .claims
        .iter()
        .flat_map(|claim| &claim.evidence);
    let pins = index.document.pins.iter().flat_map(|pin| &pin.evidence);
    let cited: HashSet<&str> = claims.chain(pins).map(String::as_str).collect();
    for item in &index.document.evidence {
        let mut add = |sentence| {
            let place = Place {
                evidence: Some(item.id.clone()),
                anchor: item.anchor.clone(),
                ..Place::default()
            };
            found.add(sentence, place, [("evidence", evidence_name(item))]);
        };
        if !cited.contains(item.id.as_str()) {
            add(sentences::UNUSED_EVIDENCE);
        }
        let Some(row) = index.technique(item).filter(|row| row.is_of_the_object()) else {
            continue;
        };
        if item.operator.as_deref().is_none_or(str::is_empty) {
            add(sentences::EVIDENCE_UNSIGNED);
        }
        if item.date.as_deref().is_none_or(str::is_empty) {
            add(sentences::EVIDENCE_UNDATED);
        }
        if row.is_analysis() && item.instrument.is_empty() {
            add(sentences::EVIDENCE_WITHOUT_INSTRUMENT);
        }
    }
}
