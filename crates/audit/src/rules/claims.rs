//! What each claim owes: evidence, an argument, a paint, a name, a date.

use std::collections::{HashMap, HashSet};

use ganosis_dossier::document::{Certainty, Claim, StateKind};

use super::{Collector, claim_place, evidence_name, list, state_name};
use crate::finding::Place;
use crate::index::{Index, pigments};

pub(super) fn check(index: &Index, found: &mut Collector) {
    for claim in &index.document.claims {
        evidence(index, claim, found);
        argument(claim, found);
        // With an argument it says that there never was any.
        if pigments(claim).next().is_none() && claim.argument.is_empty() {
            let message = format!(
                "the claim \"{}\" names no paint, and no argument says that there was none",
                claim.id
            );
            found.add("claim-without-colour", claim_place(claim), message);
        }
        if claim.author.as_deref().is_none_or(str::is_empty) {
            let message = format!("nobody signs the claim \"{}\"", claim.id);
            found.add("claim-unsigned", claim_place(claim), message);
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
            "an analysis (XRF, SEM-EDX, Raman, FTIR or a reflectance spectrum)",
        ),
        Certainty::Observed => (
            cited().any(|row| row.is_of_the_object()),
            "an observation of the object",
        ),
        Certainty::Continued => (
            cited().any(|row| row.is_of_the_object()),
            "an observation of the place it is carried over from",
        ),
        Certainty::Comparative => (
            cited().next().is_some(),
            "a comparison, a document or another observation",
        ),
        Certainty::Conjectural | Certainty::Other(_) => (true, ""),
    };
    if enough {
        return;
    }
    let cites = match claim.evidence.as_slice() {
        [] => "none".to_owned(),
        ids => list(ids),
    };
    let message = format!(
        "the claim \"{}\" is said to be {} and needs {needs}; it cites {cites}",
        claim.id, claim.certainty
    );
    found.add("claim-without-evidence", claim_place(claim), message);
}

fn argument(claim: &Claim, found: &mut Collector) {
    let needs = matches!(
        claim.certainty,
        Certainty::Continued | Certainty::Comparative | Certainty::Conjectural
    );
    if needs && claim.argument.is_empty() {
        let message = format!(
            "the claim \"{}\" is {} and gives no argument",
            claim.id, claim.certainty
        );
        found.add("claim-without-argument", claim_place(claim), message);
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
        let message = format!(
            "the claim \"{}\" of {date} cites {} of {}",
            claim.id,
            evidence_name(item),
            item.date.as_deref().unwrap_or_default()
        );
        found.add("claim-before-evidence", claim_place(claim), message);
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
        let message = format!(
            "the claim \"{}\" is only {}, and the state {} is evidence-based",
            claim.id,
            claim.certainty,
            state_name(state)
        );
        let place = Place {
            state: Some(state.id.clone()),
            ..claim_place(claim)
        };
        found.add("too-uncertain", place, message);
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
    let what = if kind == 'r' { "region" } else { "part" };
    let paints = |claim| list(&pigments(claim).map(str::to_owned).collect::<Vec<_>>());
    let message = format!(
        "in the state {} the claims \"{}\" ({}) and \"{}\" ({}) give the {what} \"{id}\" different paints",
        state_name(state),
        one.id,
        paints(one),
        other.id,
        paints(other)
    );
    let place = Place {
        region: (kind == 'r').then(|| id.to_owned()),
        part: (kind == 'p').then(|| id.to_owned()),
        state: Some(state.id.clone()),
        ..claim_place(other)
    };
    found.add("claims-conflict", place, message);
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
