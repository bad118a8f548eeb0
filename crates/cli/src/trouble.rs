//! Errors for people: what, where, what to do.

use std::fmt;

/// Something that went wrong.
#[derive(Debug)]
pub(crate) struct Trouble {
    what: String,
    place: String,
    advice: String,
}

impl Trouble {
    /// An error from its three parts.
    pub(crate) fn error(
        what: impl Into<String>,
        place: impl fmt::Display,
        advice: impl Into<String>,
    ) -> anyhow::Error {
        anyhow::Error::new(Self {
            what: what.into(),
            place: place.to_string(),
            advice: advice.into(),
        })
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        let Self {
            what,
            place,
            advice,
        } = self;
        write!(out, "{what}\n  where: {place}\n  do:    {advice}")
    }
}

impl std::error::Error for Trouble {}
