//! Disputes and questions that wait for an answer.

use ganosis_dossier::document::{Review, Verdict};

use super::{Collector, claim_place};
use crate::index::Index;

pub(super) fn check(index: &Index, found: &mut Collector) {
    for claim in &index.document.claims {
        let open = |verdict: Verdict| {
            let reviews = claim.reviews.iter().filter(move |r| r.verdict == verdict);
            reviews.filter(|r| {
                r.answer
                    .as_ref()
                    .is_none_or(|answer| answer.text.is_empty())
            })
        };
        if let Some(review) = open(Verdict::Dispute).next() {
            let message = format!(
                "the claim \"{}\" is disputed by {} and nobody has answered{}",
                claim.id,
                by(review),
                why(review)
            );
            found.add("disputed", claim_place(claim), message);
        }
        if let Some(review) = open(Verdict::Ask).next() {
            let message = format!(
                "{} asks about the claim \"{}\" and nobody has answered{}",
                by(review),
                claim.id,
                why(review)
            );
            found.add("asked", claim_place(claim), message);
        }
        let mut disputes = claim
            .reviews
            .iter()
            .filter(|r| r.verdict == Verdict::Dispute);
        if let Some(review) = disputes.find(|r| r.reason.is_empty()) {
            let message = format!(
                "{} disputes the claim \"{}\" and does not say why",
                by(review),
                claim.id
            );
            found.add("review-without-reason", claim_place(claim), message);
        }
    }
}

fn by(review: &Review) -> &str {
    if review.by.is_empty() {
        "somebody"
    } else {
        &review.by
    }
}

fn why(review: &Review) -> String {
    match review.reason.get(super::LANGUAGE) {
        "" => String::new(),
        reason => format!(": {reason}"),
    }
}
