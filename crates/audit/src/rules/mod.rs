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

use ganosis_dossier::document::{
    Certainty, Claim, Evidence, PaletteEntry, Region, SetAside, State,
};

use crate::finding::{Audit, Finding, Measure, Place, Severity, Standing};
use crate::index::Index;
use crate::measure::Measures;
use crate::told::{Sentence, Told, Value, sentences};

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

    fn add<const N: usize>(
        &mut self,
        sentence: Sentence,
        place: Place,
        values: [(&'static str, Value); N],
    ) {
        self.add_measured(sentence, place, values, Vec::new());
    }

    fn add_measured<const N: usize>(
        &mut self,
        sentence: Sentence,
        place: Place,
        values: [(&'static str, Value); N],
        measures: Vec<Measure>,
    ) {
        let (about, told) = (place.name(), sentence.with(values));
        self.push(sentence.rule(), about, place, told, measures);
    }

    fn push(
        &mut self,
        rule: &'static str,
        about: String,
        place: Place,
        told: Told,
        measures: Vec<Measure>,
    ) {
        let row = self.index.tables.rule(rule);
        self.findings.push(Finding {
            rule,
            severity: row.map_or(Severity::Error, crate::tables::Rule::severity),
            about,
            place,
            told,
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
            let sentence = sentences::UNKNOWN_SET_ASIDE;
            let told = sentence.with([
                ("rule", Value::text(&aside.rule)),
                ("about", Value::text(&aside.about)),
            ]);
            let about = format!("{} {}", aside.rule, aside.about);
            self.push(sentence.rule(), about, Place::default(), told, Vec::new());
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

fn region_name(region: &Region) -> Value {
    Value::named(&region.title, &region.id)
}

fn entry_name(entry: &PaletteEntry) -> Value {
    Value::named(&entry.title, &entry.id)
}

fn state_name(state: &State) -> Value {
    Value::named(&state.title, &state.id)
}

fn evidence_name(item: &Evidence) -> Value {
    Value::named(&item.title, &item.id)
}

/// The claim of a sentence.
fn of_claim(claim: &Claim) -> (&'static str, Value) {
    ("claim", Value::text(&claim.id))
}

fn certainty(certainty: &Certainty) -> Value {
    match certainty {
        Certainty::Measured => sentences::MEASURED.into(),
        Certainty::Observed => sentences::OBSERVED.into(),
        Certainty::Continued => sentences::CONTINUED.into(),
        Certainty::Comparative => sentences::COMPARATIVE.into(),
        Certainty::Conjectural => sentences::CONJECTURAL.into(),
        Certainty::Other(word) => Value::text(word),
    }
}

fn claim_place(claim: &Claim) -> Place {
    Place {
        claim: Some(claim.id.clone()),
        ..Place::default()
    }
}
