//! The rules. What they demand and how grave a breach is stands in
//! `data/rules.csv`; here is how a breach is found.

mod claims;
mod colours;
mod coverage;
mod dates;
mod elements;
mod evidence;
mod layers;
mod places;
mod reviews;
mod states;

use std::collections::{HashMap, HashSet};

use ganosis_dossier::Text;
use ganosis_dossier::document::{Claim, Evidence, PaletteEntry, Region, SetAside, State};

use crate::finding::{Audit, Finding, Measure, Place, Severity, Standing};
use crate::index::Index;
use crate::measure::Measures;

/// Language of the sentences; names in them are taken in it where there are.
const LANGUAGE: &str = "en";

pub(crate) fn all(index: &Index, measures: &Measures, found: &mut Collector) {
    coverage::check(index, measures, found);
    claims::check(index, found);
    reviews::check(index, found);
    places::check(index, measures, found);
    colours::check(index, measures, found);
    elements::check(index, found);
    dates::check(index, found);
    states::check(index, found);
    layers::check(index, found);
    evidence::check(index, found);
}

/// Gathers findings.
pub(crate) struct Collector<'a> {
    index: &'a Index<'a>,
    findings: Vec<Finding>,
}

impl<'a> Collector<'a> {
    pub(crate) fn new(index: &'a Index<'a>) -> Self {
        Self {
            index,
            findings: Vec::new(),
        }
    }

    fn add(&mut self, rule: &'static str, place: Place, message: String) {
        self.add_measured(rule, place, message, Vec::new());
    }

    fn add_measured(
        &mut self,
        rule: &'static str,
        place: Place,
        message: String,
        measures: Vec<Measure>,
    ) {
        let about = place.name();
        self.push(rule, about, place, message, measures);
    }

    fn push(
        &mut self,
        rule: &'static str,
        about: String,
        place: Place,
        message: String,
        measures: Vec<Measure>,
    ) {
        let row = self.index.tables.rule(rule);
        self.findings.push(Finding {
            rule,
            severity: row.map_or(Severity::Error, crate::tables::Rule::severity),
            about,
            place,
            message,
            settles: row.map_or("", |row| &row.settles),
            source: row.map_or("", |row| &row.source),
            measures,
        });
    }

    pub(crate) fn finish(mut self, measures: Measures) -> Audit {
        let asides = &self.index.document.set_aside;
        let there: HashSet<(&str, &str)> = self
            .findings
            .iter()
            .map(|f| (f.rule, f.about.as_str()))
            .collect();
        let idle: Vec<&SetAside> = asides
            .iter()
            .filter(|a| !there.contains(&(a.rule.as_str(), a.about.as_str())))
            .collect();
        for aside in idle {
            let message = format!(
                "the finding \"{}\" about \"{}\" is set aside, but there is no such finding",
                aside.rule, aside.about
            );
            let about = format!("{} {}", aside.rule, aside.about);
            self.push(
                "unknown-rule-set-aside",
                about,
                Place::default(),
                message,
                Vec::new(),
            );
        }
        // A finding is set aside only with a reason.
        let asides: HashMap<(&str, &str), &SetAside> = asides
            .iter()
            .filter(|aside| !aside.reason.is_empty())
            .map(|aside| ((aside.rule.as_str(), aside.about.as_str()), aside))
            .collect();
        let mut audit = Audit {
            findings: Vec::new(),
            set_aside: Vec::new(),
            not_examined: measures.not_examined.clone(),
            measures,
        };
        for finding in self.findings {
            match asides.get(&(finding.rule, finding.about.as_str())) {
                Some(aside) => {
                    let set_aside = (*aside).clone();
                    audit.set_aside.push(Standing { finding, set_aside });
                }
                None => audit.findings.push(finding),
            }
        }
        audit
            .findings
            .sort_by_key(|f| std::cmp::Reverse(f.severity));
        audit
    }
}

/// A thing as a sentence names it: its title and, if that differs, its id.
fn named(title: &Text, id: &str) -> String {
    match title.get(LANGUAGE) {
        "" => format!("\"{id}\""),
        title if title == id => format!("\"{id}\""),
        title => format!("\"{title}\" ({id})"),
    }
}

fn region_name(region: &Region) -> String {
    named(&region.title, &region.id)
}

fn entry_name(entry: &PaletteEntry) -> String {
    named(&entry.title, &entry.id)
}

fn state_name(state: &State) -> String {
    named(&state.title, &state.id)
}

fn evidence_name(item: &Evidence) -> String {
    named(&item.title, &item.id)
}

fn claim_place(claim: &Claim) -> Place {
    Place {
        claim: Some(claim.id.clone()),
        ..Place::default()
    }
}

/// "a, b and c".
fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
