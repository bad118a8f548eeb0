//! What others say of a claim, and findings that are set aside.

use serde::{Deserialize, Serialize};

use super::{OtherFields, Text, Verdict};

/// Somebody's word on a claim.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["verdict", "by"])))]
#[serde(default)]
pub struct Review {
    /// Agrees, disputes or asks.
    #[serde(skip_serializing_if = "Verdict::is_unset")]
    pub verdict: Verdict,
    /// Id of the person.
    pub by: String,
    /// Date, ISO 8601: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Why.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub reason: Text,
    /// What was answered.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answer: Option<Answer>,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// An answer to a review.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["by", "text"])))]
#[serde(default)]
pub struct Answer {
    /// Id of the person.
    pub by: String,
    /// Date, ISO 8601: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// The answer in words.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub text: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}

/// A finding of the audit that somebody has looked at and lets stand.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(extend("required" = ["rule", "about", "by", "reason"])))]
#[serde(default)]
pub struct SetAside {
    /// Id of the rule.
    pub rule: String,
    /// What the finding is about, as the audit names it, such as `claim:c-07`.
    pub about: String,
    /// Id of the person.
    pub by: String,
    /// Date, ISO 8601: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<String>,
    /// Why it may stand.
    #[serde(skip_serializing_if = "Text::is_empty")]
    pub reason: Text,
    /// Fields this version does not know.
    #[serde(flatten)]
    pub other: OtherFields,
}
