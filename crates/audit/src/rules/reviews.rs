//! Disputes and questions that wait for an answer.

use ganosis_dossier::document::{Claim, Review, Verdict};

use super::{Collector, claim_place, of_claim};
use crate::index::Index;
use crate::told::{Sentence, Value, sentences};

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
            let sentences = (sentences::DISPUTED, sentences::DISPUTED_BECAUSE);
            open_still(claim, review, sentences, found);
        }
        if let Some(review) = open(Verdict::Ask).next() {
            open_still(
                claim,
                review,
                (sentences::ASKED, sentences::ASKED_BECAUSE),
                found,
            );
        }
        let mut disputes = claim
            .reviews
            .iter()
            .filter(|r| r.verdict == Verdict::Dispute);
        if let Some(review) = disputes.find(|r| r.reason.is_empty()) {
            let values = [of_claim(claim), ("by", by(review))];
            found.add(sentences::REVIEW_WITHOUT_REASON, claim_place(claim), values);
        }
    }
}

/// `sentences`: without and with the reason.
fn open_still(
    claim: &Claim,
    review: &Review,
    (plain, because): (Sentence, Sentence),
    found: &mut Collector,
) {
    let (place, by) = (claim_place(claim), ("by", by(review)));
    if review.reason.is_empty() {
        found.add(plain, place, [of_claim(claim), by]);
    } else {
        let reason = ("reason", Value::Written(review.reason.clone()));
        found.add(because, place, [of_claim(claim), by, reason]);
    }
}

fn by(review: &Review) -> Value {
    if review.by.is_empty() {
        sentences::SOMEBODY.into()
    } else {
        Value::text(&review.by)
    }
}
