//! What can go wrong, where, and what to do about it.

use thiserror::Error;

/// Why something could not be read, found or fitted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{what} ({place}). {advice}")]
pub struct ImagingError {
    /// What is wrong.
    pub what: String,
    /// File, line, field or patch.
    pub place: String,
    /// What to do.
    pub advice: String,
}

impl ImagingError {
    /// An error from its three parts.
    pub fn new(
        what: impl Into<String>,
        place: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Self {
            what: what.into(),
            place: place.into(),
            advice: advice.into(),
        }
    }
}

/// The result of this crate.
pub type Result<T> = std::result::Result<T, ImagingError>;
