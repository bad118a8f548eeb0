//! What each claim owes: evidence, an argument, a paint, a name, a date.

use std::collections::{HashMap, HashSet};

use ganosis_dossier::document::{Certainty, Claim, StateKind};

use super::{Collector, certainty, claim_place, evidence_name, of_claim, state_name};
use crate::finding::Place;
use crate::index::{Index, pigments};
use crate::told::{Joined, Value, sentences};

pub(super) fn check(index: &Index, found: &mut Collector) {
    for claim in &index.document.claims {
        evidence(index, claim, found);
        argument(claim, found);
        // With an argument it says that there never was any.
        if pigments(claim).next().is_none() && claim.argument.is_empty() {
            let sentence = sentences::CLAIM_WITHOUT_COLOUR;
            found.add(sentence, claim_place(claim), [of_claim(claim)]);
        }
        if claim.author.as_deref().is_none_or(str::is_empty) {
            let sentence = sentences::CLAIM_UNSIGNED;
            found.add(sentence, claim_place(claim), [of_claim(claim)]);
        }
        before_evidence(index, claim, found);
        too_uncertain(index, claim, found);
    }
    conflicts(index, found);
}

fn evidence(index: &Index, claim: &Claim, found: &mut Collector) {
    let cited = || index.cited(claim).filter_map(|item| index.technique(item));
    let (enough, needs) = match claim.certainty {
        Certainty::Measured => (
            cited().any(|row| row.is_analysis()),
            sentences::NEEDS_ANALYSIS,
        ),
        Certainty::Observed => (
            cited().any(|row| row.is_of_the_object()),
            sentences::NEEDS_OBSERVATION,
        ),
        Certainty::Continued => (
            cited().any(|row| row.is_of_the_object()),
            sentences::NEEDS_OTHER_PLACE,
        ),
        Certainty::Comparative => (cited().next().is_some(), sentences::NEEDS_COMPARISON),
        Certainty::Conjectural | Certainty::Other(_) => return,
    };
    if enough {
        return;
    }
    let said = ("certainty", certainty(&claim.certainty));
    let (needs, place) = (("needs", needs.into()), claim_place(claim));
    if claim.evidence.is_empty() {
        let values = [of_claim(claim), said, needs];
        found.add(sentences::CLAIM_WITHOUT_ANY_EVIDENCE, place, values);
    } else {
        let cites = Value::list(Joined::And, claim.evidence.iter().map(Value::text));
        let values = [of_claim(claim), said, needs, ("cites", cites)];
        found.add(sentences::CLAIM_WITHOUT_EVIDENCE, place, values);
    }
}

fn argument(claim: &Claim, found: &mut Collector) {
    let needs = matches!(
        claim.certainty,
        Certainty::Continued | Certainty::Comparative | Certainty::Conjectural
    );
    if needs && claim.argument.is_empty() {
        let values = [of_claim(claim), ("certainty", certainty(&claim.certainty))];
        found.add(
            sentences::CLAIM_WITHOUT_ARGUMENT,
            claim_place(claim),
            values,
        );
    }
}

fn before_evidence(index: &Index, claim: &Claim, found: &mut Collector) {
    let Some(date) = claim.date.as_deref() else {
        return;
    };
    let later = index.cited(claim).find(|item| {
        item.date
            .as_deref()
            .is_some_and(|other| is_before(date, other))
    });
    if let Some(item) = later {
        let later = item.date.as_deref().unwrap_or_default();
        let values = [
            of_claim(claim),
            ("date", Value::text(date)),
            ("evidence", evidence_name(item)),
            ("later", Value::text(later)),
        ];
        found.add(sentences::CLAIM_BEFORE_EVIDENCE, claim_place(claim), values);
    }
}

/// Dates of ISO 8601, as far as both are given.
fn is_before(one: &str, other: &str) -> bool {
    let parts = one.split('-').zip(other.split('-'));
    let differing = parts.map(|(a, b)| a.cmp(b)).find(|order| order.is_ne());
    differing.is_some_and(std::cmp::Ordering::is_lt)
}

fn too_uncertain(index: &Index, claim: &Claim, found: &mut Collector) {
    if !matches!(
        claim.certainty,
        Certainty::Comparative | Certainty::Conjectural
    ) {
        return;
    }
    for state in claim.states.iter().filter_map(|id| index.state(id)) {
        if state.kind != StateKind::EvidenceBased {
            continue;
        }
        let values = [
            of_claim(claim),
            ("certainty", certainty(&claim.certainty)),
            ("state", state_name(state)),
        ];
        let place = Place {
            state: Some(state.id.clone()),
            ..claim_place(claim)
        };
        found.add(sentences::TOO_UNCERTAIN, place, values);
    }
}

/// Two claims with different paints for one region or part in one state; each
/// pair of claims is told once.
fn conflicts(index: &Index, found: &mut Collector) {
    let mut first: HashMap<(usize, char, &str), Vec<&Claim>> = HashMap::new();
    let mut told: HashSet<(&str, &str)> = HashSet::new();
    for claim in &index.document.claims {
        for state in claim.states.iter().filter_map(|id| index.state_number(id)) {
            let regions = claim.regions.iter().map(|id| ('r', id.as_str()));
            let parts = claim.parts.iter().map(|id| ('p', id.as_str()));
            for (kind, id) in regions.chain(parts) {
                let before = first.entry((state, kind, id)).or_default();
                // More than a few on one region differ from the first few as well.
                for other in before.iter().take(4) {
                    if differ(other, claim) && told.insert((&other.id, &claim.id)) {
                        conflict(index, other, claim, (state, kind, id), found);
                    }
                }
                before.push(claim);
            }
        }
    }
}

fn differ(one: &Claim, other: &Claim) -> bool {
    let paints = |claim| {
        let mut ids: Vec<&str> = pigments(claim).collect();
        ids.sort_unstable();
        ids
    };
    let (a, b) = (paints(one), paints(other));
    !a.is_empty() && !b.is_empty() && a != b
}

fn conflict(
    index: &Index,
    one: &Claim,
    other: &Claim,
    (state, kind, id): (usize, char, &str),
    found: &mut Collector,
) {
    let state = &index.document.states[state];
    let paints = |claim| Value::list(Joined::And, pigments(claim).map(Value::text));
    let values = [
        ("state", state_name(state)),
        of_claim(one),
        ("paints", paints(one)),
        ("other", Value::text(&other.id)),
        ("other_paints", paints(other)),
        ("place", Value::text(id)),
    ];
    let place = Place {
        region: (kind == 'r').then(|| id.to_owned()),
        part: (kind == 'p').then(|| id.to_owned()),
        state: Some(state.id.clone()),
        ..claim_place(other)
    };
    let sentence = if kind == 'r' {
        sentences::CLAIMS_CONFLICT
    } else {
        sentences::CLAIMS_CONFLICT_ON_PART
    };
    found.add(sentence, place, values);
}

#[cfg(test)]
mod tests {
    use super::is_before;

    #[test]
    fn dates_compare_as_far_as_both_are_given() {
        assert!(is_before("2024", "2025-03-14") && is_before("2025-03", "2025-04-01"));
        assert!(!is_before("2025", "2025-03-14") && !is_before("2025-03-14", "2025-03-14"));
        assert!(!is_before("2025-05-02", "2025-03"));
    }
}
