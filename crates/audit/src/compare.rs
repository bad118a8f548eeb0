//! Where hypotheses part: two states, region by region.

use std::collections::{BTreeMap, BTreeSet};

use ganosis_colorimetry::delta_e_2000;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Anchor, Claim};
use serde::Serialize;

use crate::index::{Index, pigments};
use crate::measure::{CM2_PER_M2, Measures};

/// What one state says of a region or part.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Side {
    /// Ids of the claims; none: nothing is claimed.
    pub claims: Vec<String>,
    /// Palette entries, sorted.
    pub pigments: Vec<String>,
    /// Palette entries of the layers beneath.
    pub over: Vec<String>,
    /// Finishes.
    pub finishes: Vec<String>,
    /// Certainties.
    pub certainties: Vec<String>,
    /// Ids of the evidence.
    pub evidence: Vec<String>,
    /// Ids of the authors.
    pub authors: Vec<String>,
    /// Claimed colour, CIELAB D50, if a single claim gives one.
    pub lab_d50: Option<[f64; 3]>,
}

impl Side {
    /// True if paint, layer beneath, finish and colour are the same.
    fn looks_like(&self, other: &Self) -> bool {
        self.pigments == other.pigments
            && self.over == other.over
            && self.finishes == other.finishes
            && self.lab_d50 == other.lab_d50
    }
}

/// A region or part on which two states differ.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Parting {
    /// Id of the region.
    pub region: Option<String>,
    /// Id of the part.
    pub part: Option<String>,
    /// Area in cm², if it was measured.
    pub area_cm2: Option<f64>,
    /// A point to look at.
    pub anchor: Option<Anchor>,
    /// One state.
    pub left: Side,
    /// The other.
    pub right: Side,
    /// ΔE00 between the claimed colours, if both claim one.
    pub delta_e_2000: Option<f64>,
    /// True if they differ in what is seen; false if only in what it rests on.
    pub looks_different: bool,
}

/// Regions and parts on which two states of a document differ, the largest
/// first; `None` if either state is not there. `measures` are those of the
/// audit of the same document.
#[must_use]
pub fn compare(
    document: &Dossier,
    left: &str,
    right: &str,
    measures: &Measures,
) -> Option<Vec<Parting>> {
    let index = Index::new(document);
    index.state(left)?;
    index.state(right)?;
    let (left, right) = (sides(&index, left), sides(&index, right));
    let places: BTreeSet<&(Kind, String)> = left.keys().chain(right.keys()).collect();
    let nothing = Side::default();
    let mut partings: Vec<Parting> = places
        .into_iter()
        .filter_map(|place| {
            let one = left.get(place).unwrap_or(&nothing);
            let other = right.get(place).unwrap_or(&nothing);
            let differ = !one.looks_like(other)
                || one.certainties != other.certainties
                || one.evidence != other.evidence;
            differ.then(|| parting(&index, place, one, other, measures))
        })
        .collect();
    partings.sort_by(|a, b| {
        let area = |p: &Parting| p.area_cm2.unwrap_or(0.0);
        b.looks_different
            .cmp(&a.looks_different)
            .then(area(b).total_cmp(&area(a)))
    });
    Some(partings)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Region,
    Part,
}

fn sides(index: &Index, state: &str) -> BTreeMap<(Kind, String), Side> {
    let mut claims: BTreeMap<(Kind, String), Vec<&Claim>> = BTreeMap::new();
    for claim in index
        .document
        .claims
        .iter()
        .filter(|c| c.states.iter().any(|s| s == state))
    {
        for id in &claim.regions {
            claims
                .entry((Kind::Region, id.clone()))
                .or_default()
                .push(claim);
        }
        for id in &claim.parts {
            claims
                .entry((Kind::Part, id.clone()))
                .or_default()
                .push(claim);
        }
    }
    claims
        .into_iter()
        .map(|(place, claims)| (place, side(index, &claims)))
        .collect()
}

fn side(index: &Index, claims: &[&Claim]) -> Side {
    fn gather<'a, I: Iterator<Item = &'a str>>(
        claims: &[&'a Claim],
        of: impl Fn(&'a Claim) -> I,
    ) -> Vec<String> {
        let set: BTreeSet<&str> = claims.iter().copied().flat_map(of).collect();
        set.into_iter().map(str::to_owned).collect()
    }
    Side {
        claims: gather(claims, |c| std::iter::once(c.id.as_str())),
        pigments: gather(claims, pigments),
        over: gather(claims, |c| c.over.as_deref().into_iter()),
        finishes: gather(claims, |c| {
            c.finish.as_ref().map(|f| f.as_str()).into_iter()
        }),
        certainties: gather(claims, |c| std::iter::once(c.certainty.as_str())),
        evidence: gather(claims, |c| c.evidence.iter().map(String::as_str)),
        authors: gather(claims, |c| c.author.as_deref().into_iter()),
        lab_d50: match claims {
            [one] => index.colour(one).map(ganosis_colorimetry::LabD50::to_array),
            _ => None,
        },
    }
}

fn parting(
    index: &Index,
    (kind, id): &(Kind, String),
    left: &Side,
    right: &Side,
    measures: &Measures,
) -> Parting {
    let number = (*kind == Kind::Region)
        .then(|| index.region(id))
        .flatten()
        .map(|r| r.number);
    let part = (*kind == Kind::Part)
        .then(|| measures.parts.get(id))
        .flatten();
    let delta = left.lab_d50.zip(right.lab_d50).map(|(a, b)| {
        let lab = ganosis_colorimetry::LabD50::from_array;
        delta_e_2000(lab(a), lab(b))
    });
    Parting {
        region: (*kind == Kind::Region).then(|| id.clone()),
        part: (*kind == Kind::Part).then(|| id.clone()),
        area_cm2: number
            .and_then(|n| measures.region_cm2(n))
            .or(part.map(|areas| areas.m2 * CM2_PER_M2)),
        anchor: number
            .and_then(|n| measures.region_anchor(n))
            .or(part.and_then(crate::measure::PartAreas::anchor)),
        left: left.clone(),
        right: right.clone(),
        delta_e_2000: delta,
        looks_different: !left.looks_like(right),
    }
}
