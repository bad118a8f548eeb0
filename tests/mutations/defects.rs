//! Kinds of defect: what is done to the sound dossier, and what must be said.

use ganosis_dossier::document::{
    Calibration, Certainty, Claim, Evidence, Response, Review, StateKind, Technique, Verdict,
};

use crate::sound::{MALACHITE, Scene, VERMILION};

/// One kind of defect.
pub(crate) struct Defect {
    /// Its name.
    pub(crate) name: &'static str,
    /// The rule that must find it.
    pub(crate) rule: &'static str,
    /// What the finding must be about.
    pub(crate) about: &'static str,
    /// Rules that find it too, because one thing breaks both.
    pub(crate) also: &'static [&'static str],
    /// Makes it.
    pub(crate) make: fn(&mut Scene),
}

macro_rules! defects {
    ($($name:literal: $rule:literal about $about:literal $(also [$($also:literal),+])? = $make:expr;)+) => {
        /// All kinds, each alone in its dossier.
        pub(crate) const DEFECTS: &[Defect] = &[$(Defect {
            name: $name,
            rule: $rule,
            about: $about,
            also: &[$($($also),+)?],
            make: $make,
        }),+];
    };
}

fn claim<'a>(s: &'a mut Scene, id: &str) -> &'a mut Claim {
    s.document.claims.iter_mut().find(|c| c.id == id).unwrap()
}

fn evidence<'a>(s: &'a mut Scene, id: &str) -> &'a mut Evidence {
    s.document.evidence.iter_mut().find(|e| e.id == id).unwrap()
}

macro_rules! entry {
    ($s:ident, $id:literal) => {
        $s.document
            .palette
            .iter_mut()
            .find(|p| p.id == $id)
            .unwrap()
    };
}
macro_rules! state {
    ($s:ident, $id:literal) => {
        $s.document.states.iter_mut().find(|p| p.id == $id).unwrap()
    };
}
macro_rules! layer {
    ($s:ident, $id:literal) => {
        $s.document.layers.iter_mut().find(|p| p.id == $id).unwrap()
    };
}

fn review(verdict: Verdict, reason: &str) -> Review {
    Review {
        verdict,
        by: "om".to_owned(),
        reason: reason.into(),
        ..Review::default()
    }
}

fn ids(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

defects! {
    "claim-removed": "uncovered-surface" about "state:evidence"
        also ["unused-evidence"]
        = |s| s.document.claims.retain(|c| c.id != "c-blue");
    "claim-taken-out-of-a-state": "uncovered-surface" about "state:guess"
        = |s| claim(s, "c-red").states = ids(&["evidence"]);
    "claim-of-another-region": "uncovered-surface" about "state:guess"
        = |s| claim(s, "c-green").regions = ids(&["bed"]);
    "paint-outside-every-region": "uncovered-surface" about "state:evidence"
        also ["uncovered-surface"]
        = |s| s.labels.get_mut("body").unwrap().1[..4000].fill(0);
    "part-unclaimed": "part-without-claim" about "part:bill state:guess"
        = |s| claim(s, "c-bill").parts.clear();
    "part-shown-elsewhere": "part-without-claim" about "part:bill state:evidence"
        = |s| state!(s, "evidence").parts = ids(&["bill"]);
    "measured-without-analysis": "claim-without-evidence" about "claim:c-red"
        also ["unused-evidence", "pigment-never-checked"]
        = |s| claim(s, "c-red").evidence.clear();
    "measured-by-eye": "claim-without-evidence" about "claim:c-blue"
        also ["pigment-never-checked"]
        = |s| claim(s, "c-blue").evidence = ids(&["vil-1"]);
    "measured-from-a-drawing": "claim-without-evidence" about "claim:c-red"
        also ["unused-evidence", "pigment-never-checked"]
        = |s| claim(s, "c-red").evidence = ids(&["doc-1"]);
    "observed-without-observation": "claim-without-evidence" about "claim:c-bed"
        also ["unused-evidence"]
        = |s| claim(s, "c-bed").evidence.clear();
    "comparative-without-comparison": "claim-without-evidence" about "claim:c-green"
        = |s| claim(s, "c-green").evidence.clear();
    "continued-from-nothing": "claim-without-evidence" about "claim:c-bill"
        also ["pigment-never-checked"]
        = |s| claim(s, "c-bill").certainty = Certainty::Continued;
    "supposed-without-argument": "claim-without-argument" about "claim:c-bill"
        = |s| claim(s, "c-bill").argument = "".into();
    "paint-not-named": "claim-without-colour" about "claim:c-blue"
        also ["uncovered-surface"]
        = |s| claim(s, "c-blue").pigment = None;
    "author-removed": "claim-unsigned" about "claim:c-green"
        = |s| claim(s, "c-green").author = None;
    "claim-older-than-analysis": "claim-before-evidence" about "claim:c-red"
        = |s| claim(s, "c-red").date = Some("2025-03-01".to_owned());
    "analysis-moved": "analysis-outside-region" about "claim:c-red region:red"
        = |s| {
            let item = evidence(s, "xrf-1");
            item.region = Some("blue".to_owned());
            let anchor = item.anchor.as_mut().unwrap();
            (anchor.uv, anchor.position_m) = (Some([0.6, 0.5]), Some([0.12, 0.05, 0.0]));
        };
    "second-region-not-analysed": "analysis-outside-region" about "claim:c-red region:bed"
        also ["painted-colour"]
        = |s| {
            claim(s, "c-red").regions = ids(&["red", "bed"]);
            s.document.claims.retain(|c| c.id != "c-bed");
            let item = evidence(s, "vis-1").id.clone();
            s.document.pins[0].evidence.push(item);
        };
    "region-misnamed": "anchor-outside-region" about "evidence:vil-1"
        = |s| evidence(s, "vil-1").region = Some("bed".to_owned());
    "place-lost": "analysis-without-place" about "evidence:xrf-2"
        = |s| evidence(s, "xrf-2").anchor = None;
    "painted-otherwise": "painted-colour" about "claim:c-red region:red state:evidence"
        = |s| s.paint("evidence-colour", 1, MALACHITE);
    "painted-in-part": "painted-colour" about "claim:c-blue region:blue state:evidence"
        = |s| {
            // A tenth of the region, beyond the 95th percentile but not the median.
            let rgba = &mut s.colours.get_mut(&("evidence-colour".into(), "body".into())).unwrap().1;
            for row in 0..10 {
                rgba[(row * 200 + 80) * 4..(row * 200 + 160) * 4].fill(255);
            }
        };
    "palette-colour-changed": "painted-colour" about "claim:c-green region:blue state:guess"
        = |s| entry!(s, "malachite").lab_d50 = Some([52.0, -10.0, 8.0]);
    "two-paints": "claims-conflict" about "claim:c-green region:blue state:evidence"
        also ["too-uncertain"]
        = |s| claim(s, "c-green").states = ids(&["guess", "evidence"]);
    "key-element-missing": "elements-contradict" about "claim:c-red pigment:vermilion"
        = |s| evidence(s, "xrf-1").elements = ids(&["Pb", "Ca"]);
    "other-pigment-claimed": "elements-contradict" about "claim:c-blue pigment:vermilion"
        also ["painted-colour"]
        = |s| claim(s, "c-blue").pigment = Some("vermilion".to_owned());
    "analyst-disagrees": "identified-otherwise" about "claim:c-blue pigment:azurite"
        = |s| evidence(s, "xrf-2").identified = ids(&["malachite"]);
    "luminescence-against-azurite": "band-contradicts" about "claim:c-blue evidence:vil-1"
        = |s| evidence(s, "vil-1").response = Some(Response::Strong);
    "elements-not-recorded": "pigment-never-checked" about "pigment:azurite"
        = |s| evidence(s, "xrf-2").elements.clear();
    "modern-element": "later-element" about "evidence:xrf-1"
        = |s| evidence(s, "xrf-1").elements.push("Cd".to_owned());
    "pigment-too-young": "pigment-not-yet" about "pigment:vermilion"
        = |s| entry!(s, "vermilion").earliest_year = Some(1600);
    "pigment-too-young-by-table": "pigment-not-yet" about "pigment:viridian"
        = |s| {
            let entry = entry!(s, "malachite");
            (entry.id, entry.title) = ("viridian".to_owned(), "Viridian".into());
            claim(s, "c-green").pigment = Some("viridian".to_owned());
        };
    "pigment-too-old": "pigment-no-longer" about "pigment:azurite"
        = |s| entry!(s, "azurite").latest_year = Some(900);
    "guess-among-evidence": "too-uncertain" about "claim:c-red state:evidence"
        = |s| {
            let claim = claim(s, "c-red");
            claim.certainty = Certainty::Conjectural;
        };
    "evidence-rests-on-guess": "based-on-hypothesis" about "state:evidence"
        = |s| {
            state!(s, "guess").based_on.clear();
            state!(s, "evidence").based_on = ids(&["guess"]);
        };
    "circle": "state-circle" about "state:found"
        = |s| {
            state!(s, "found").based_on = ids(&["guess"]);
            state!(s, "evidence").based_on = ids(&["found"]);
        };
    "based-on-itself": "state-circle" about "state:guess"
        = |s| state!(s, "guess").based_on.push("guess".to_owned());
    "nobody-proposes": "state-unsigned" about "state:guess"
        = |s| state!(s, "guess").proposed_by.clear();
    "dispute-not-answered": "disputed" about "claim:c-red"
        = |s| claim(s, "c-red").reviews[0].answer = None;
    "new-dispute": "disputed" about "claim:c-green"
        = |s| claim(s, "c-green").reviews.push(review(Verdict::Dispute, "The drawing is faded."));
    "question-not-answered": "asked" about "claim:c-bed"
        = |s| claim(s, "c-bed").reviews.push(review(Verdict::Ask, "Under which light?"));
    "dispute-without-reason": "review-without-reason" about "claim:c-red"
        = |s| claim(s, "c-red").reviews[0].reason = "".into();
    "two-readings": "few-readings" about "pigment:azurite"
        = |s| entry!(s, "azurite").readings = Some(2);
    "readings-not-said": "few-readings" about "pigment:malachite"
        = |s| entry!(s, "malachite").readings = None;
    "colour-not-measured": "pigment-without-colour" about "pigment:vermilion"
        = |s| entry!(s, "vermilion").lab_d50 = None;
    "camera-unknown": "camera-not-characterised" about "layer:found-colour"
        = |s| layer!(s, "found-colour").origin.as_mut().unwrap().calibration = None;
    "photograph-of-unknown-origin": "camera-not-characterised" about "layer:found-colour"
        = |s| layer!(s, "found-colour").origin = None;
    "camera-characterised-badly": "camera-residual" about "layer:found-colour"
        = |s| {
            let calibration = Calibration { mean_delta_e: Some(7.5), ..Calibration::default() };
            layer!(s, "found-colour").origin.as_mut().unwrap().calibration = Some(calibration);
        };
    "origin-lost": "layer-without-origin" about "layer:vil"
        = |s| layer!(s, "vil").origin = None;
    "cited-by-nobody": "unused-evidence" about "evidence:new"
        = |s| s.document.evidence.push(Evidence {
            id: "new".to_owned(),
            technique: Technique::Comparison,
            ..Evidence::default()
        });
    "operator-unknown": "evidence-unsigned" about "evidence:xrf-1"
        = |s| evidence(s, "xrf-1").operator = None;
    "date-unknown": "evidence-undated" about "evidence:vis-1"
        = |s| evidence(s, "vis-1").date = None;
    "instrument-unknown": "evidence-without-instrument" about "evidence:xrf-2"
        = |s| evidence(s, "xrf-2").instrument = "".into();
    "set-aside-for-nothing": "unknown-rule-set-aside" about "disputed claim:c-red"
        = |s| s.set_aside("disputed", "claim:c-red", "Settled long ago.");
    "kind-of-state-raised": "too-uncertain" about "claim:c-green state:guess"
        also ["too-uncertain"]
        = |s| state!(s, "guess").kind = StateKind::EvidenceBased;
    "whole-state-painted-red": "painted-colour" about "claim:c-green region:blue state:guess"
        also ["uncovered-surface"]
        = |s| (1..4).for_each(|region| s.paint("guess-colour", region, VERMILION));
}
