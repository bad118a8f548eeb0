//! States, what their claims rest on, and where they part.

use std::collections::BTreeMap;

use ganosis_dossier::document::{Certainty, State};

use super::html::{Html, table, terms};
use super::palette::swatch;
use super::{Report, area, ids};
use crate::compare::{Parting, Side, compare};
use crate::measure::{CM2_PER_M2, is_proposal};

/// Most pairs of states that are set against each other in one report.
const MOST_PAIRS: usize = 6;

impl<'a> Report<'a> {
    pub(super) fn states(&self) -> Html {
        let states = &self.index.document.states;
        states
            .iter()
            .enumerate()
            .map(|(number, state)| self.state(number, state))
            .collect()
    }

    fn state(&self, number: usize, state: &'a State) -> Html {
        let mut out = Html::tag("h3", self.titled(&state.title, &state.id));
        out.push(self.paragraphs(&state.description));
        let coverage = self
            .audit
            .measures
            .coverage
            .get(number)
            .and_then(Option::as_ref);
        let coloured = coverage
            .filter(|_| is_proposal(&state.kind))
            .map(|coverage| {
                let covered_m2 = coverage.coloured_m2 - coverage.uncovered_total_m2();
                let percent = 100.0 * covered_m2 / coverage.coloured_m2.max(f64::MIN_POSITIVE);
                format!(
                    "{:.1} cm²; claims cover {percent:.1} %",
                    coverage.coloured_m2 * CM2_PER_M2
                )
            });
        out.push(terms([
            ("Kind", Html::text(state.kind.as_str())),
            ("Proposed by", Html::from(self.people(&state.proposed_by))),
            ("Based on", ids(&state.based_on)),
            ("Parts shown", ids(&state.parts)),
            ("Layers, from below", ids(&state.layers)),
            ("Coloured surface", Html::from(coloured.unwrap_or_default())),
        ]));
        let pictures = self.materials.pictures_of_state(&state.id);
        if !pictures.is_empty() {
            out.push(super::picture::pictures(&pictures));
        }
        Html::element("div", &[("class", "whole")], out)
    }

    /// Claims and area by state and certainty.
    pub(super) fn certainty(&self) -> Html {
        let document = self.index.document;
        let mut rows = Vec::new();
        for state in document
            .states
            .iter()
            .filter(|state| is_proposal(&state.kind))
        {
            let mut sums: BTreeMap<&str, (usize, f64)> = BTreeMap::new();
            for claim in document
                .claims
                .iter()
                .filter(|c| c.states.contains(&state.id))
            {
                let regions = claim.regions.iter().filter_map(|id| self.index.region(id));
                let parts = claim
                    .parts
                    .iter()
                    .filter_map(|id| self.audit.measures.parts.get(id));
                let m2: f64 = parts.map(|areas| areas.m2).sum();
                let cm2: f64 = regions
                    .filter_map(|r| self.audit.measures.region_cm2(r.number))
                    .sum();
                let sum = sums.entry(claim.certainty.as_str()).or_default();
                *sum = (sum.0 + 1, sum.1 + cm2 + m2 * CM2_PER_M2);
            }
            let whole: f64 = sums.values().map(|sum| sum.1).sum();
            for word in Certainty::WORDS {
                let Some((claims, cm2)) = sums.get(word).copied() else {
                    continue;
                };
                let share = if whole > 0.0 {
                    format!("{:.1} %", 100.0 * cm2 / whole)
                } else {
                    String::new()
                };
                rows.push(vec![
                    Html::text(self.text(&state.title)),
                    Html::text(word),
                    Html::from(claims.to_string()),
                    area((whole > 0.0).then_some(cm2)),
                    Html::from(share),
                ]);
            }
        }
        if rows.is_empty() {
            return Html::default();
        }
        let ladder = "measured: identified by analysis at this region; observed: remains are seen, not analysed; \
            continued: carried over from a measured or observed region; comparative: from parallels; conjectural: supposed.";
        let mut out = Html::tag("p", ladder);
        out.push(table(
            &[
                "State",
                "Certainty",
                "Claims",
                "Area",
                "Share of the claimed",
            ],
            rows,
        ));
        out
    }

    pub(super) fn partings(&self) -> Html {
        let document = self.index.document;
        let proposals: Vec<&'a State> = document
            .states
            .iter()
            .filter(|state| is_proposal(&state.kind))
            .collect();
        let pairs = proposals
            .iter()
            .enumerate()
            .flat_map(|(i, left)| proposals[i + 1..].iter().map(move |right| (*left, *right)));
        pairs
            .take(MOST_PAIRS)
            .map(|(left, right)| self.pair(left, right))
            .collect()
    }

    fn pair(&self, left: &'a State, right: &'a State) -> Html {
        let measures = &self.audit.measures;
        let Some(partings) = compare(self.index.document, &left.id, &right.id, measures) else {
            return Html::default();
        };
        let name = |state: &'a State| {
            let title = self.text(&state.title);
            if title.is_empty() {
                state.id.clone()
            } else {
                title.to_owned()
            }
        };
        let (one, other) = (name(left), name(right));
        let mut out = Html::tag("h3", format!("{one} and {other}"));
        if partings.is_empty() {
            out.push(Html::tag("p", "They make the same claims."));
            return out;
        }
        let rows = partings.iter().map(|parting| self.parting(parting));
        out.push(table(&["Where", "Area", &one, &other, "ΔE00"], rows));
        out
    }

    fn parting(&self, parting: &Parting) -> Vec<Html> {
        let region = parting.region.as_ref().and_then(|id| self.index.region(id));
        let part = parting.part.as_ref().and_then(|id| self.index.part(id));
        let title = region.map(|r| self.titled(&r.title, &r.id));
        let title = title.or(part.map(|p| self.titled(&p.title, &p.id)));
        let id = parting.region.as_ref().or(parting.part.as_ref());
        vec![
            title.unwrap_or_else(|| Html::from(id.cloned().unwrap_or_default())),
            area(parting.area_cm2),
            self.side(&parting.left),
            self.side(&parting.right),
            Html::from(
                parting
                    .delta_e_2000
                    .map(|x| format!("{x:.1}"))
                    .unwrap_or_default(),
            ),
        ]
    }

    fn side(&self, side: &Side) -> Html {
        if side.claims.is_empty() {
            return Html::text("nothing claimed");
        }
        let mut out = side.lab_d50.map(swatch).unwrap_or_default();
        let paints: Vec<String> = side
            .pigments
            .iter()
            .map(|id| self.entry_title(id))
            .collect();
        let paint = if paints.is_empty() {
            "no paint".to_owned()
        } else {
            paints.join(", ")
        };
        out.push(Html::tag("p", paint));
        out.push(Html::tag(
            "p",
            format!(
                "{}; {}",
                side.certainties.join(", "),
                self.people(&side.authors)
            ),
        ));
        let cites = match side.evidence.as_slice() {
            [] => "cites nothing".to_owned(),
            ids => ids.join(", "),
        };
        let rests = format!("{}: {cites}", side.claims.join(", "));
        out.push(Html::element("p", &[("class", "id")], rests));
        out
    }
}
