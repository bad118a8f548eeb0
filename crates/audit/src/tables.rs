//! The tables the audit works from: rules, pigments, techniques, limits.
//! They are compiled in; each row names its source or says "from memory".

use std::collections::HashMap;
use std::sync::OnceLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::Severity;

/// One rule.
#[derive(Debug, Clone, Deserialize)]
pub struct Rule {
    /// Id.
    pub id: String,
    severity: String,
    /// Title.
    pub title: String,
    /// What would settle a finding.
    pub settles: String,
    /// Where the demand comes from.
    pub source: String,
}

impl Rule {
    /// How much a finding of it matters.
    #[must_use]
    pub fn severity(&self) -> Severity {
        self.severity.parse().unwrap_or(Severity::Error)
    }
}

/// One pigment, or a layer that is found like one.
#[derive(Debug, Clone, Deserialize)]
pub struct Pigment {
    /// Id.
    pub id: String,
    names: String,
    /// Hue in a word.
    pub hue: String,
    key_elements: String,
    other_elements: String,
    /// First year of use, if known.
    pub earliest_year: Option<i32>,
    /// Last year of use, if known.
    pub latest_year: Option<i32>,
    /// Period in words.
    pub period: String,
    /// Ultraviolet-induced luminescence in words.
    pub uvl: String,
    /// Infrared reflectance in words.
    pub irr: String,
    /// Visible-induced infrared luminescence: none, detectable or strong.
    pub vil: String,
    /// Source of the elements.
    pub elements_source: String,
    /// Source of the years.
    pub dates_source: String,
    /// Source of `vil`.
    pub vil_source: String,
    /// Caution.
    pub caution: String,
    /// Remarks.
    pub notes: String,
}

impl Pigment {
    /// Names, the usual one first.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.names.split('|')
    }

    /// The usual name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.names().next().unwrap_or(&self.id)
    }

    /// Sets of elements, each of which tells of it; none if no element does.
    #[must_use]
    pub fn alternatives(&self) -> Vec<Vec<&str>> {
        let sets = self.key_elements.split(';');
        sets.map(|set| set.split_whitespace().collect())
            .filter(|set: &Vec<&str>| !set.is_empty())
            .collect()
    }

    /// True if the element belongs to it, as a key or otherwise.
    #[must_use]
    pub fn may_hold(&self, symbol: &str) -> bool {
        let words = |text: &str| {
            text.split(|c: char| !c.is_alphanumeric())
                .any(|word| word == symbol)
        };
        words(&self.key_elements) || words(&self.other_elements)
    }
}

/// What an observation by a technique can carry.
#[derive(Debug, Clone, Deserialize)]
pub struct TechniqueRow {
    /// Word of the technique.
    pub technique: String,
    class: String,
    elements: String,
    /// Lightest element it can be expected to find, by atomic number.
    pub least_z: Option<usize>,
}

impl TechniqueRow {
    /// Can identify a pigment.
    #[must_use]
    pub fn is_analysis(&self) -> bool {
        self.class == "analysis"
    }
    /// Looks at the object itself.
    #[must_use]
    pub fn is_of_the_object(&self) -> bool {
        self.class != "context"
    }
    /// Finds elements.
    #[must_use]
    pub fn is_elemental(&self) -> bool {
        self.elements == "elemental"
    }
    /// Identifies compounds.
    #[must_use]
    pub fn is_molecular(&self) -> bool {
        self.elements == "molecular"
    }
}

/// A limit.
#[derive(Debug, Clone, Deserialize)]
pub struct Tolerance {
    /// Name.
    pub name: String,
    /// Value in `unit`.
    pub value: f64,
    /// Unit.
    pub unit: String,
    /// What it limits.
    pub what: String,
    /// Source.
    pub source: String,
}

/// All tables, with their look-ups.
pub struct Tables {
    /// Rules in order.
    pub rules: Vec<Rule>,
    /// Pigments.
    pub pigments: Vec<Pigment>,
    /// Techniques.
    pub techniques: Vec<TechniqueRow>,
    /// Limits.
    pub tolerances: Vec<Tolerance>,
    by_name: HashMap<String, usize>,
}

impl Tables {
    /// The rule with this id.
    #[must_use]
    pub fn rule(&self, id: &str) -> Option<&Rule> {
        self.rules.iter().find(|rule| rule.id == id)
    }

    /// The pigment with this id or name, whatever the case.
    #[must_use]
    pub fn pigment(&self, name: &str) -> Option<&Pigment> {
        self.by_name.get(&plain(name)).map(|&i| &self.pigments[i])
    }

    /// What is known of a technique.
    #[must_use]
    pub fn technique(&self, word: &str) -> Option<&TechniqueRow> {
        self.techniques.iter().find(|row| row.technique == word)
    }

    /// The value of a limit; infinite if there is none of this name.
    #[must_use]
    pub fn tolerance(&self, name: &str) -> f64 {
        let row = self.tolerances.iter().find(|row| row.name == name);
        row.map_or(f64::INFINITY, |row| row.value)
    }
}

/// Letters and digits in lower case, single spaces between.
fn plain(name: &str) -> String {
    let lower = name.to_lowercase();
    let words = lower.split(|c: char| !c.is_alphanumeric());
    words
        .filter(|w| !w.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

/// The tables.
#[must_use]
pub fn tables() -> &'static Tables {
    static TABLES: OnceLock<Tables> = OnceLock::new();
    TABLES.get_or_init(|| {
        let pigments: Vec<Pigment> = rows(include_str!("../data/pigments.csv"));
        let mut by_name = HashMap::new();
        for (i, pigment) in pigments.iter().enumerate() {
            for name in pigment.names().chain([pigment.id.as_str()]) {
                by_name.entry(plain(name)).or_insert(i);
            }
        }
        Tables {
            rules: rows(include_str!("../data/rules.csv")),
            pigments,
            techniques: rows(include_str!("../data/techniques.csv")),
            tolerances: rows(include_str!("../data/tolerances.csv")),
            by_name,
        }
    })
}

/// The rows that can be read; a test makes sure that it is all of them.
fn rows<T: DeserializeOwned>(text: &str) -> Vec<T> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    reader.deserialize().filter_map(Result::ok).collect()
}

/// Atomic number of an element by its symbol. IUPAC periodic table, 2022.
#[must_use]
pub fn atomic_number(symbol: &str) -> Option<usize> {
    const SYMBOLS: &str = "H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co \
        Ni Cu Zn Ga Ge As Se Br Kr Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce \
        Pr Nd Pm Sm Eu Gd Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi Po At Rn Fr Ra Ac \
        Th Pa U Np Pu Am Cm Bk Cf Es Fm Md No Lr Rf Db Sg Bh Hs Mt Ds Rg Cn Nh Fl Mc Lv Ts Og";
    let at = SYMBOLS.split_whitespace().position(|s| s == symbol)?;
    Some(at + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> usize {
        let rows = text
            .lines()
            .filter(|l| !l.starts_with('#') && !l.is_empty());
        rows.count() - 1
    }

    #[test]
    fn every_row_is_read_and_names_its_source() {
        let t = tables();
        assert_eq!(
            t.pigments.len(),
            lines(include_str!("../data/pigments.csv"))
        );
        assert_eq!(t.rules.len(), lines(include_str!("../data/rules.csv")));
        assert_eq!(
            t.techniques.len(),
            lines(include_str!("../data/techniques.csv"))
        );
        assert_eq!(
            t.tolerances.len(),
            lines(include_str!("../data/tolerances.csv"))
        );
        for p in &t.pigments {
            let sources = [&p.elements_source, &p.dates_source, &p.vil_source];
            assert!(sources.iter().all(|s| !s.is_empty()), "{}", p.id);
            let keys = p.alternatives().concat();
            assert!(keys.iter().all(|e| atomic_number(e).is_some()), "{}", p.id);
        }
        for rule in &t.rules {
            assert!(rule.severity.parse::<Severity>().is_ok(), "{}", rule.id);
            assert!(
                !rule.settles.is_empty() && !rule.source.is_empty(),
                "{}",
                rule.id
            );
        }
        assert!(t.tolerances.iter().all(|row| !row.source.is_empty()));
    }

    #[test]
    fn every_technique_of_the_format_is_in_the_table() {
        for word in ganosis_dossier::document::Technique::WORDS {
            assert!(tables().technique(word).is_some(), "{word}");
        }
    }

    #[test]
    fn names_are_found_however_they_are_spelled() {
        for name in ["Lead-tin yellow", "lead_tin_yellow", "LEAD TIN YELLOW"] {
            assert_eq!(tables().pigment(name).unwrap().id, "lead-tin-yellow");
        }
        assert!(tables().pigment("moonlight").is_none());
    }
}
