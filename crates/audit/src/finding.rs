//! What the audit says.

use std::fmt;

use ganosis_dossier::document::{Anchor, SetAside};
use serde::Serialize;

use crate::measure::Measures;
use crate::told::{Sentence, Told};

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing.
    Note,
    /// It may not hold, or cannot be defended yet.
    Warning,
    /// It does not hold as it stands.
    Error,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(self.as_str())
    }
}

impl std::str::FromStr for Severity {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        [Self::Note, Self::Warning, Self::Error]
            .into_iter()
            .find(|severity| severity.as_str() == word)
            .ok_or_else(|| format!("\"{word}\" is no severity; use note, warning or error"))
    }
}

/// Where in the dossier and on the surface. Every field is an id.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Place {
    /// Claim.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub claim: Option<String>,
    /// Evidence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<String>,
    /// Region.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub region: Option<String>,
    /// Part.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// State.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub state: Option<String>,
    /// Palette entry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pigment: Option<String>,
    /// Layer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// A point on the surface to look at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub anchor: Option<Anchor>,
}

impl Place {
    /// The ids as `claim:c-07 region:bill`, the name by which a finding is set aside.
    #[must_use]
    pub fn name(&self) -> String {
        let ids = [
            ("claim", &self.claim),
            ("evidence", &self.evidence),
            ("region", &self.region),
            ("part", &self.part),
            ("state", &self.state),
            ("pigment", &self.pigment),
            ("layer", &self.layer),
        ];
        let named: Vec<String> = ids
            .iter()
            .filter_map(|(kind, id)| Some(format!("{kind}:{}", id.as_ref()?)))
            .collect();
        named.join(" ")
    }
}

/// A number that a finding rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Measure {
    /// What it is, in English, such as `area`.
    pub name: &'static str,
    /// Key of the [`Sentence`] that names it.
    pub key: &'static str,
    /// Its value.
    pub value: f64,
    /// Its unit, such as `cm²`.
    pub unit: &'static str,
}

impl Measure {
    pub(crate) fn of(name: Sentence, value: f64, unit: &'static str) -> Self {
        Self {
            name: name.english,
            key: name.key,
            value,
            unit,
        }
    }
}

/// One thing that does not hold.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Id of the rule.
    pub rule: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// What it is about; with the rule, the name for setting it aside.
    pub about: String,
    /// Where.
    pub place: Place,
    /// What is wrong, one sentence.
    #[serde(flatten)]
    pub told: Told,
    /// What would settle it.
    pub settles: &'static str,
    /// Where the demand comes from.
    pub source: &'static str,
    /// The numbers in the message.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub measures: Vec<Measure>,
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        writeln!(
            out,
            "{} [{}] {}",
            self.severity, self.rule, self.told.message
        )?;
        writeln!(out, "  where:   {}", self.about)?;
        write!(out, "  settles: {}", self.settles)
    }
}

/// A finding that somebody lets stand, with the reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// The finding.
    pub finding: Finding,
    /// Who lets it stand, when and why.
    pub set_aside: SetAside,
}

/// What the audit found.
#[derive(Debug, Clone, Serialize)]
pub struct Audit {
    /// What does not hold, the gravest first.
    pub findings: Vec<Finding>,
    /// What is let stand.
    pub set_aside: Vec<Standing>,
    /// What could not be examined, one sentence each.
    pub not_examined: Vec<Told>,
    /// Areas and colours that were measured.
    #[serde(skip)]
    pub measures: Measures,
}

impl Audit {
    /// True if anything at or above this severity remains.
    #[must_use]
    pub fn remains(&self, at_least: Severity) -> bool {
        self.findings.iter().any(|f| f.severity >= at_least)
    }
}
