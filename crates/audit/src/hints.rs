//! What elements and bands are consistent with. A hint for the analyst, who
//! knows the object, the instrument and the spectrum; never a verdict.

use std::fmt::Write;

use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Evidence, Response, Technique};
use serde::Serialize;

use crate::tables::{Pigment, atomic_number, tables};

/// A pigment with the reason why it is named.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Candidate {
    /// Id in the table of pigments.
    pub pigment: &'static str,
    /// Usual name.
    pub name: &'static str,
    /// Why.
    pub why: String,
    /// Known only from after the object was made.
    pub later: bool,
    /// Where the reason comes from.
    pub source: &'static str,
}

/// A hint.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hint {
    /// All of it in a sentence.
    pub sentence: String,
    /// What the observations are consistent with.
    pub consistent_with: Vec<Candidate>,
    /// What they speak against.
    pub excluded: Vec<Candidate>,
    /// What else to bear in mind.
    pub remarks: Vec<String>,
}

/// What was observed at one place.
#[derive(Debug, Clone, Copy, Default)]
pub struct Observed<'a> {
    /// Symbols of the elements found.
    pub elements: &'a [String],
    /// Lightest element that could have been found, by atomic number; `None`
    /// counts as that of XRF in air.
    pub least_z: Option<usize>,
    /// Visible-induced infrared luminescence, if it was recorded.
    pub vil: Option<&'a Response>,
    /// Latest year of the object, if known.
    pub latest_year: Option<i32>,
}

const DEFER: &str = "A hint only: mixtures, layers, the ground and the instrument can mislead; the analyst decides.";

/// What an observation with elements is consistent with. Luminescence is taken
/// from observations of visible-induced luminescence in the same region.
/// `None` for observations without elements.
#[must_use]
pub fn for_evidence(document: &Dossier, item: &Evidence) -> Option<Hint> {
    let row = tables().technique(item.technique.as_str())?;
    if !row.is_elemental() || item.elements.is_empty() {
        return None;
    }
    let vil = item.region.as_ref().and_then(|region| {
        let mut there = document.evidence.iter().filter(|other| {
            other.technique == Technique::Vil && other.region.as_ref() == Some(region)
        });
        there.find_map(|other| other.response.as_ref())
    });
    hint(&Observed {
        elements: &item.elements,
        least_z: row.least_z,
        vil,
        latest_year: document.object.latest_year,
    })
}

/// What the observations are consistent with; `None` if the elements tell of nothing.
#[must_use]
pub fn hint(observed: &Observed) -> Option<Hint> {
    let mut hint = Hint {
        sentence: String::new(),
        consistent_with: Vec::new(),
        excluded: Vec::new(),
        remarks: Vec::new(),
    };
    for pigment in &tables().pigments {
        sort_in(pigment, observed, &mut hint);
    }
    if hint.consistent_with.is_empty() && hint.excluded.is_empty() {
        return None;
    }
    hint.sentence = sentence(observed, &hint);
    hint.remarks.push(DEFER.to_owned());
    Some(hint)
}

fn sort_in(pigment: &'static Pigment, observed: &Observed, hint: &mut Hint) {
    // XRF in air: see the table of techniques.
    let xrf = tables().technique("xrf").and_then(|row| row.least_z);
    let least_z = observed.least_z.or(xrf).unwrap_or(0);
    let has = |element: &&str| observed.elements.iter().any(|e| e == element);
    let sees = |element: &&str| atomic_number(element).is_some_and(|z| z >= least_z);
    let sets = pigment.alternatives();
    let touched = |set: &&Vec<&str>| set.iter().any(|e| sees(e) && has(e));
    let Some(set) = sets
        .iter()
        .filter(touched)
        .min_by_key(|set| set.iter().filter(|e| sees(e) && !has(e)).count())
    else {
        return;
    };
    let candidate = |why: String, source: &'static str| Candidate {
        pigment: &pigment.id,
        name: pigment.name(),
        why,
        later: false,
        source,
    };
    let missing: Vec<&str> = set.iter().filter(|e| sees(e) && !has(e)).copied().collect();
    let unseen: Vec<&str> = set
        .iter()
        .filter(|e| !sees(e) && !has(e))
        .copied()
        .collect();
    let emits = pigment.vil == "strong";
    if !missing.is_empty() {
        let why = format!("{} would be expected and was not found", missing.join(", "));
        hint.excluded.push(candidate(why, &pigment.elements_source));
    } else if emits && observed.vil == Some(&Response::None) {
        let why = "a strong response in visible-induced luminescence would be expected".to_owned();
        hint.excluded.push(candidate(why, &pigment.vil_source));
    } else if pigment.vil == "none" && observed.vil == Some(&Response::Strong) {
        let why = "no response in visible-induced luminescence is known of it".to_owned();
        hint.excluded.push(candidate(why, &pigment.vil_source));
    } else {
        let told = format!("told by {}", set.join(" and "));
        let mut found = candidate(told, &pigment.elements_source);
        if !unseen.is_empty() {
            let _ = write!(
                found.why,
                " ({} may escape the instrument)",
                unseen.join(", ")
            );
        }
        if let (Some(first), Some(latest)) = (pigment.earliest_year, observed.latest_year)
            && first > latest
        {
            found.later = true;
            let later = "only (from memory), so it would be of a later paint";
            let _ = write!(found.why, "; known from about {first} {later}");
        }
        hint.consistent_with.push(found);
    }
}

fn sentence(observed: &Observed, hint: &Hint) -> String {
    let vil = match observed.vil {
        Some(Response::None) => " with no VIL response",
        Some(Response::Weak) => " with a weak VIL response",
        Some(Response::Strong) => " with a strong VIL response",
        Some(Response::Other(_)) | None => "",
    };
    let names = |list: &[&Candidate]| list.iter().map(|c| c.name).collect::<Vec<_>>().join(", ");
    let (later, now): (Vec<&Candidate>, Vec<&Candidate>) =
        hint.consistent_with.iter().partition(|c| c.later);
    let mut parts = vec![match now.as_slice() {
        [] => "consistent with no pigment of the table in use by then".to_owned(),
        some => format!("consistent with {}", names(some)),
    }];
    if !later.is_empty() {
        parts.push(format!("or with a later paint: {}", names(&later)));
    }
    if !hint.excluded.is_empty() {
        let excluded: Vec<&Candidate> = hint.excluded.iter().collect();
        parts.push(format!("not supported: {}", names(&excluded)));
    }
    format!(
        "{}{vil}: {}",
        observed.elements.join(", "),
        parts.join("; ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(elements: &[&str], vil: Option<Response>) -> Hint {
        let elements: Vec<String> = elements.iter().map(|e| (*e).to_owned()).collect();
        let observed = Observed {
            elements: &elements,
            vil: vil.as_ref(),
            latest_year: Some(1350),
            ..Observed::default()
        };
        hint(&observed).unwrap()
    }

    fn ids(list: &[Candidate]) -> Vec<&str> {
        list.iter().map(|c| c.pigment).collect()
    }

    /// G. Verri, Anal. Bioanal. Chem. 394, 2009: Egyptian blue emits in the
    /// infrared under visible light; Proc. SPIE 7391, 2009: azurite does not.
    #[test]
    fn copper_without_luminescence_speaks_against_egyptian_blue() {
        let hint = of(&["Cu", "Ca"], Some(Response::None));
        for id in ["azurite", "malachite", "verdigris"] {
            assert!(
                ids(&hint.consistent_with).contains(&id),
                "{}",
                hint.sentence
            );
        }
        assert!(ids(&hint.excluded).contains(&"egyptian-blue"));
        let hint = of(&["Cu", "Ca"], Some(Response::Strong));
        assert!(
            ids(&hint.consistent_with).contains(&"egyptian-blue"),
            "{}",
            hint.sentence
        );
        assert!(ids(&hint.excluded).contains(&"azurite"));
    }

    #[test]
    fn mercury_alone_is_consistent_with_vermilion_though_sulphur_is_not_seen() {
        let hint = of(&["Hg"], None);
        assert_eq!(ids(&hint.consistent_with), ["vermilion"]);
        assert!(hint.consistent_with[0].why.contains("S may escape"));
    }

    #[test]
    fn a_hint_never_says_is_and_always_defers() {
        let hint = of(&["Pb", "Sn"], None);
        assert!(hint.sentence.contains("consistent with") && !hint.sentence.contains(" is "));
        assert!(hint.remarks.iter().any(|r| r.contains("analyst decides")));
        assert!(hint.consistent_with.iter().all(|c| !c.source.is_empty()));
        // Emerald green needs As.
        assert!(ids(&of(&["Cu"], None).excluded).contains(&"emerald-green"));
    }

    #[test]
    fn later_pigments_are_named_as_later() {
        let hint = of(&["Ti"], None);
        let white = hint
            .consistent_with
            .iter()
            .find(|c| c.pigment == "titanium-white")
            .unwrap();
        assert!(white.why.contains("later paint"));
    }
}
