//! What is wrong with a dossier, where, and what to do about it.

use std::fmt;

use serde::Serialize;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; what is shown is right.
    Warning,
    /// Something is missing from what is shown, or shown wrongly.
    Error,
}

impl fmt::Display for Severity {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.write_str(match self {
            Self::Warning => "warning",
            Self::Error => "error",
        })
    }
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Short stable name of the rule, such as `unknown-id`.
    pub rule: &'static str,
    /// How much it matters.
    pub severity: Severity,
    /// The file, relative to the dossier.
    pub file: String,
    /// Place in `dossier.json` as a JSONPath (RFC 9535), such as
    /// `$.layers[2].images[0].file`; empty if the whole file is meant.
    pub path: String,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub advice: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        writeln!(out, "{} [{}] {}", self.severity, self.rule, self.message)?;
        write!(out, "  where: {}", self.file)?;
        if !self.path.is_empty() {
            write!(out, "  {}", self.path)?;
        }
        write!(out, "\n  do:    {}", self.advice)
    }
}

/// Appends a member to a JSONPath: `.name` where RFC 9535 section 2.5.1.1
/// allows the short form, otherwise `['name']`.
#[must_use]
pub fn member_path(parent: &str, name: &str) -> String {
    let mut letters = name.chars();
    let first = letters
        .next()
        .is_some_and(|c| c == '_' || c.is_alphabetic());
    if first && letters.all(|c| c == '_' || c.is_alphanumeric()) {
        return format!("{parent}.{name}");
    }
    let quoted = name.replace('\\', "\\\\").replace('\'', "\\'");
    format!("{parent}['{quoted}']")
}
