//! Elements and bands against the pigments that are claimed.

use std::collections::{BTreeMap, BTreeSet};

use ganosis_dossier::document::{Certainty, Claim, Evidence, PaletteEntry, Response, Technique};

use super::{Collector, claim_place, entry_name, evidence_name, of_claim};
use crate::finding::Place;
use crate::index::{Index, pigments};
use crate::tables::atomic_number;
use crate::told::{Joined, Value, sentences};

pub(super) fn check(index: &Index, found: &mut Collector) {
    for claim in index
        .document
        .claims
        .iter()
        .filter(|claim| rests_on_object(claim))
    {
        contradictions(index, claim, found);
        identified_otherwise(index, claim, found);
        bands(index, claim, found);
    }
    never_checked(index, found);
    later_elements(index, found);
}

fn rests_on_object(claim: &Claim) -> bool {
    matches!(
        claim.certainty,
        Certainty::Measured | Certainty::Observed | Certainty::Continued
    )
}

/// Sets of elements that tell of a palette entry: its own, else the table's.
fn alternatives<'a>(index: &Index<'a>, entry: &'a PaletteEntry) -> Vec<Vec<&'a str>> {
    if !entry.elements.is_empty() {
        return vec![entry.elements.iter().map(String::as_str).collect()];
    }
    index
        .known(&entry.id)
        .map(|row| row.alternatives())
        .unwrap_or_default()
}

/// Of a set, what an instrument that finds `least_z` and heavier can see.
fn visible<'a>(set: &[&'a str], least_z: usize) -> Vec<&'a str> {
    let seen = set
        .iter()
        .filter(|e| atomic_number(e).is_some_and(|z| z >= least_z));
    seen.copied().collect()
}

/// `None` if the technique cannot tell.
fn supports(index: &Index, item: &Evidence, entry: &PaletteEntry) -> Option<bool> {
    let least_z = index.technique(item)?.least_z?;
    if item.elements.is_empty() {
        return None;
    }
    let sets = alternatives(index, entry);
    let seen: Vec<Vec<&str>> = sets
        .iter()
        .map(|set| visible(set, least_z))
        .filter(|set| !set.is_empty())
        .collect();
    let whole = |set: &Vec<&str>| set.iter().all(|e| item.elements.iter().any(|f| f == e));
    (!seen.is_empty()).then(|| seen.iter().any(whole))
}

fn identified_by_compound(index: &Index, claim: &Claim, entry: &PaletteEntry) -> bool {
    index.cited(claim).any(|item| {
        index.technique(item).is_some_and(|row| row.is_molecular())
            && item.identified.contains(&entry.id)
    })
}

fn contradictions(index: &Index, claim: &Claim, found: &mut Collector) {
    for entry in pigments(claim).filter_map(|id| index.entry(id)) {
        let told: Vec<(&Evidence, bool)> = index
            .cited(claim)
            .filter_map(|item| Some((item, supports(index, item, entry)?)))
            .collect();
        let supported = told.iter().any(|(_, yes)| *yes);
        if told.is_empty() || supported || identified_by_compound(index, claim, entry) {
            continue;
        }
        let sets = alternatives(index, entry);
        let sets = sets
            .iter()
            .map(|set| Value::list(Joined::And, set.iter().copied().map(Value::text)));
        let finds = told.iter().map(|(item, _)| {
            let elements = Value::text(item.elements.join(", "));
            let found = [("evidence", evidence_name(item)), ("elements", elements)];
            sentences::ELEMENTS_FOUND.with(found).into()
        });
        let values = [
            of_claim(claim),
            ("pigment", entry_name(entry)),
            ("elements", Value::list(Joined::Or, sets)),
            ("found", Value::list(Joined::Apart, finds)),
        ];
        let place = Place {
            pigment: Some(entry.id.clone()),
            anchor: told.first().and_then(|(item, _)| item.anchor.clone()),
            ..claim_place(claim)
        };
        found.add(sentences::ELEMENTS_CONTRADICT, place, values);
    }
}

fn identified_otherwise(index: &Index, claim: &Claim, found: &mut Collector) {
    let identified: BTreeSet<&str> = index
        .cited(claim)
        .filter(|item| index.technique(item).is_some_and(|row| row.is_analysis()))
        .flat_map(|item| item.identified.iter().map(String::as_str))
        .collect();
    if identified.is_empty() {
        return;
    }
    for id in pigments(claim).filter(|id| !identified.contains(id)) {
        if index
            .entry(id)
            .is_some_and(|entry| components_identified(index, claim, entry))
        {
            continue;
        }
        let others = identified
            .iter()
            .map(|id| Value::named(&ganosis_dossier::Text::default(), id));
        let values = [
            of_claim(claim),
            ("pigment", Value::text(id)),
            ("others", Value::list(Joined::And, others)),
        ];
        let place = Place {
            pigment: Some(id.to_owned()),
            ..claim_place(claim)
        };
        found.add(sentences::IDENTIFIED_OTHERWISE, place, values);
    }
}

/// A palette entry may itself be a mixture: the analysis shows all its
/// elements and identifies pigments that bring no others.
fn components_identified(index: &Index, claim: &Claim, entry: &PaletteEntry) -> bool {
    index.cited(claim).any(|item| {
        let parts: Vec<&PaletteEntry> = item
            .identified
            .iter()
            .filter_map(|id| index.entry(id))
            .collect();
        let within = |part: &&PaletteEntry| {
            !part.elements.is_empty() && part.elements.iter().all(|e| entry.elements.contains(e))
        };
        !parts.is_empty() && parts.iter().all(within) && supports(index, item, entry) == Some(true)
    })
}

fn bands(index: &Index, claim: &Claim, found: &mut Collector) {
    let known: Vec<&str> = pigments(claim)
        .filter_map(|id| index.known(id))
        .map(|row| row.vil.as_str())
        .collect();
    if known.is_empty() || known.len() != pigments(claim).count() {
        return;
    }
    for item in index
        .cited(claim)
        .filter(|item| item.technique == Technique::Vil)
    {
        let sentence = match &item.response {
            Some(Response::None) if known.contains(&"strong") => sentences::BAND_MISSING,
            Some(Response::Strong) if known.iter().all(|vil| *vil == "none") => {
                sentences::BAND_THERE
            }
            _ => continue,
        };
        let values = [of_claim(claim), ("evidence", evidence_name(item))];
        let place = Place {
            evidence: Some(item.id.clone()),
            anchor: item.anchor.clone(),
            ..claim_place(claim)
        };
        found.add(sentence, place, values);
    }
}

/// Claimed pigments that have elements XRF could find, where nobody looked.
fn never_checked(index: &Index, found: &mut Collector) {
    let least_z = index
        .tables
        .technique("xrf")
        .and_then(|row| row.least_z)
        .unwrap_or(0);
    let mut checked: BTreeMap<&str, bool> = BTreeMap::new();
    for claim in index
        .document
        .claims
        .iter()
        .filter(|claim| rests_on_object(claim))
    {
        let elemental = index.cited(claim).any(|item| {
            !item.elements.is_empty() && index.technique(item).is_some_and(|row| row.is_elemental())
        });
        for entry in pigments(claim).filter_map(|id| index.entry(id)) {
            let sets = alternatives(index, entry);
            if sets.iter().any(|set| !visible(set, least_z).is_empty()) {
                let now = elemental || identified_by_compound(index, claim, entry);
                *checked.entry(&entry.id).or_default() |= now;
            }
        }
    }
    for entry in checked
        .iter()
        .filter(|(_, yes)| !**yes)
        .filter_map(|(id, _)| index.entry(id))
    {
        let values = [("pigment", entry_name(entry))];
        let place = Place {
            pigment: Some(entry.id.clone()),
            ..Place::default()
        };
        found.add(sentences::PIGMENT_NEVER_CHECKED, place, values);
    }
}

/// Elements that only pigments later than the object would bring.
fn later_elements(index: &Index, found: &mut Collector) {
    let Some(latest) = index.document.object.latest_year else {
        return;
    };
    let cited: BTreeSet<&str> = index
        .document
        .claims
        .iter()
        .filter(|claim| rests_on_object(claim))
        .flat_map(|claim| claim.evidence.iter().map(String::as_str))
        .collect();
    let mut known: BTreeMap<&str, Option<i32>> = BTreeMap::new();
    for item in cited.iter().filter_map(|id| index.evidence(id)) {
        for element in &item.elements {
            let first = *known
                .entry(element)
                .or_insert_with(|| first_year(index, element));
            if let Some(year) = first.filter(|year| *year > latest) {
                let values = [
                    ("evidence", evidence_name(item)),
                    ("element", Value::text(element)),
                    ("year", Value::text(year.to_string())),
                    ("latest", Value::text(latest.to_string())),
                ];
                let place = Place {
                    evidence: Some(item.id.clone()),
                    anchor: item.anchor.clone(),
                    ..Place::default()
                };
                found.add(sentences::LATER_ELEMENT, place, values);
            }
        }
    }
}

/// First year of the pigments an element tells of; `None` if one of those that
/// may hold it has always been in use, or if it tells of none.
fn first_year(index: &Index, element: &str) -> Option<i32> {
    let holding = index.tables.pigments.iter().filter(|p| p.may_hold(element));
    let years: Option<Vec<i32>> = holding.map(|p| p.earliest_year).collect();
    let tells = index
        .tables
        .pigments
        .iter()
        .any(|p| p.alternatives().concat().contains(&element));
    years.filter(|_| tells)?.into_iter().min()
}
