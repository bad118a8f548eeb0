//! What the claims rest on, as patterns over the surface.

use std::collections::BTreeMap;

use ganosis_dossier::document::{
    Certainty, Claim, Dossier, Evidence, Finish, State, Technique, Verdict,
};
use ganosis_renderer::Pattern;
use ganosis_surface::{Patch, Surface, area};
use glam::Vec2;

use crate::content::Values;
use crate::lamp::leading_claim;

/// What the patterns tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// How certain the claim is.
    Certainty,
    /// By what kind of observation.
    Technique,
    /// How old the newest observation is, counted back from the newest in the dossier.
    Age,
    /// What reviewers say.
    Review,
}

impl Theme {
    const ALL: [(Self, &'static str); 4] = [
        (Self::Certainty, "certainty"),
        (Self::Technique, "technique"),
        (Self::Age, "age"),
        (Self::Review, "review"),
    ];

    /// The theme of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, n)| *n == name).map(|(t, _)| *t)
    }

    /// Its name in a view.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(t, _)| *t == self)
            .map_or("", |(_, n)| n)
    }
}

/// A kind within a theme: its word for the message files, and its pattern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Kind {
    /// Place in the legend.
    pub rank: usize,
    /// Word in the message files.
    pub word: &'static str,
}

const CERTAINTY: [&str; 5] = [
    "measured",
    "observed",
    "continued",
    "comparative",
    "conjectural",
];
const TECHNIQUE: [&str; 6] = [
    "elements",
    "molecules",
    "samples",
    "colours",
    "images",
    "writings",
];
const AGE: [&str; 4] = ["within-2-years", "within-10-years", "older", "undated"];
const REVIEW: [&str; 4] = ["disputed", "asked", "agreed", "not-reviewed"];

/// Patterns by rank; ink grows sparser, the last ones differ in direction.
const PATTERNS: [Pattern; 6] = [
    Pattern::Solid,
    Pattern::Close,
    Pattern::Diagonal,
    Pattern::Dots,
    Pattern::Dashes,
    Pattern::Level,
];

impl Kind {
    fn of(words: &[&'static str], rank: usize) -> Self {
        Self {
            rank,
            word: words.get(rank).copied().unwrap_or(""),
        }
    }

    /// Its pattern.
    #[must_use]
    pub fn pattern(self) -> Pattern {
        PATTERNS.get(self.rank).copied().unwrap_or_default()
    }

    /// Number of its pattern, as the page's legend draws it.
    #[must_use]
    pub fn pattern_number(self) -> u32 {
        self.pattern() as u32
    }
}

/// 0 for the strongest; a word that is not known comes last.
#[must_use]
pub fn certainty_rank(certainty: &Certainty) -> usize {
    CERTAINTY
        .iter()
        .position(|w| *w == certainty.as_str())
        .unwrap_or(CERTAINTY.len())
}

fn technique_rank(technique: &Technique) -> Option<usize> {
    use Technique as T;
    Some(match technique {
        T::Xrf | T::SemEdx => 0,
        T::Raman | T::Ftir => 1,
        T::Micrograph | T::CrossSection => 2,
        T::ReflectanceSpectrum | T::Colorimetry => 3,
        T::Visible | T::Uvl | T::Uvr | T::Irr | T::Vil | T::RakingLight => 4,
        T::Document | T::Comparison => 5,
        T::Other(_) => return None,
    })
}

fn evidence_of<'a>(document: &'a Dossier, claim: &'a Claim) -> impl Iterator<Item = &'a Evidence> {
    document
        .evidence
        .iter()
        .filter(|e| claim.evidence.contains(&e.id))
}

/// Years since year 0 of an ISO 8601 date, to the month.
fn years(date: &str) -> Option<f64> {
    let mut parts = date.split('-');
    let year: i32 = parts.next()?.parse().ok()?;
    let month: u32 = parts.next().and_then(|m| m.parse().ok()).unwrap_or(1);
    Some(f64::from(year) + (f64::from(month) - 1.0) / 12.0)
}

fn newest<'a>(evidence: impl Iterator<Item = &'a Evidence>) -> Option<f64> {
    evidence
        .filter_map(|e| years(e.date.as_deref()?))
        .max_by(f64::total_cmp)
}

fn review_rank(claim: &Claim) -> usize {
    let open = |verdict: Verdict| {
        claim
            .reviews
            .iter()
            .any(|r| r.verdict == verdict && r.answer.is_none())
    };
    if open(Verdict::Dispute) {
        0
    } else if open(Verdict::Ask) {
        1
    } else if claim.reviews.iter().any(|r| r.verdict == Verdict::Agree) {
        2
    } else {
        3
    }
}

/// The kind of a claim within a theme.
#[must_use]
pub fn kind_of(document: &Dossier, theme: Theme, claim: &Claim) -> Option<Kind> {
    match theme {
        Theme::Certainty => {
            let rank = certainty_rank(&claim.certainty);
            (rank < CERTAINTY.len()).then(|| Kind::of(&CERTAINTY, rank))
        }
        Theme::Technique => evidence_of(document, claim)
            .filter_map(|e| technique_rank(&e.technique))
            .min()
            .map(|rank| Kind::of(&TECHNIQUE, rank)),
        Theme::Age => {
            let latest = newest(document.evidence.iter());
            let own = newest(evidence_of(document, claim));
            let rank = match (latest, own) {
                (Some(latest), Some(own)) if latest - own <= 2.0 => 0,
                (Some(latest), Some(own)) if latest - own <= 10.0 => 1,
                (Some(_), Some(_)) => 2,
                _ => 3,
            };
            Some(Kind::of(&AGE, rank))
        }
        Theme::Review => Some(Kind::of(&REVIEW, review_rank(claim))),
    }
}

/// Kinds of the regions of a state, by region number.
#[must_use]
pub fn kinds(document: &Dossier, state: &State, theme: Theme) -> BTreeMap<u32, Kind> {
    document
        .regions
        .iter()
        .filter_map(|region| {
            let claim = leading_claim(document, state, &region.id)?;
            Some((region.number, kind_of(document, theme, claim)?))
        })
        .collect()
}

/// Finishes of the regions of a state by region number, as the renderer numbers them.
#[must_use]
pub fn finishes(document: &Dossier, state: &State) -> BTreeMap<u32, u8> {
    let number = |finish: &Finish| match finish {
        Finish::Matt => 1,
        Finish::Waxed => 2,
        Finish::Glossy => 3,
        Finish::Burnished => 4,
        Finish::Other(_) => 0,
    };
    let regions = document.regions.iter();
    let known = regions.filter_map(|region| {
        let claim = leading_claim(document, state, &region.id)?;
        Some((region.number, number(claim.finish.as_ref()?)))
    });
    known.collect()
}

/// Most samples on the whole surface. A choice of ours: a second's work at most.
const MOST_SAMPLES: f32 = 2e7;

/// Samples a texel: edges of regions fall between them evenly. A choice of ours.
const PER_TEXEL: f32 = 4.0;

/// Area of the surface by region number (0: in no region), m²: a few samples a texel of the region
/// map. `labels` gives the region map of a sheet of the mesh.
#[must_use]
pub fn areas_m2<'a>(
    surface: &Surface,
    labels: &dyn Fn(usize) -> Option<&'a Values>,
) -> BTreeMap<u32, f64> {
    let corners_of = |patch: &Patch, triangle: &[u32]| {
        [0, 1, 2].map(|i| surface.sheet_uv(patch, triangle[i] as usize))
    };
    let texels_of = |[a, b, c]: [Vec2; 3], labels: &Values| {
        let size = Vec2::new(labels.size[0] as f32, labels.size[1] as f32);
        ((b - a) * size).perp_dot((c - a) * size).abs() / 2.0
    };
    let whole: f32 = surface
        .patches
        .iter()
        .filter_map(|patch| Some((patch, labels(patch.sheet)?)))
        .map(|(patch, labels)| {
            let triangles = patch.indices.chunks_exact(3);
            triangles
                .map(|t| texels_of(corners_of(patch, t), labels))
                .sum::<f32>()
        })
        .sum();
    let density = (MOST_SAMPLES / (PER_TEXEL * whole).max(1.0)).min(1.0);
    let mut areas = BTreeMap::new();
    for patch in &surface.patches {
        let Some(labels) = labels(patch.sheet) else {
            continue;
        };
        for (index, triangle) in patch.indices.chunks_exact(3).enumerate() {
            let corners = corners_of(patch, triangle);
            let samples =
                (PER_TEXEL * texels_of(corners, labels) * density).clamp(1.0, MOST_SAMPLES);
            let steps = samples.sqrt().ceil() as u32;
            let share = area::triangle_m2(patch, index) / (f64::from(steps).powi(2));
            let [a, b, c] = corners;
            for weights in area::centroids(steps) {
                let uv = a * weights[0] + b * weights[1] + c * weights[2];
                *areas
                    .entry(u32::from(labels.at(uv.to_array())))
                    .or_default() += share;
            }
        }
    }
    areas
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dispute_that_was_answered_is_no_longer_open() {
        let claim = |text: &str| -> Claim { serde_json::from_str(text).expect("a claim") };
        let open = claim(r#"{"id": "c", "reviews": [{"verdict": "dispute", "by": "a"}]}"#);
        let answered = claim(
            r#"{"id": "c", "reviews": [{"verdict": "dispute", "by": "a", "answer": {"by": "b"}}, {"verdict": "agree", "by": "c"}]}"#,
        );
        assert_eq!(review_rank(&open), 0);
        assert_eq!(review_rank(&answered), 2);
    }
}
