//! Why nothing could be handed out or taken in.

use ganosis_dossier::StoreError;

/// Why there is no file for others.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ExportError {
    /// A file of the dossier cannot be had.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A file is there and of no use.
    #[error("{file}: {reason}")]
    Unusable {
        /// The file.
        file: String,
        /// Why, and what to do.
        reason: String,
    },
    /// More than the format can hold.
    #[error("{what} is larger than {limit}, which this format cannot hold. {advice}")]
    TooLarge {
        /// What.
        what: &'static str,
        /// The limit in words.
        limit: &'static str,
        /// What to do.
        advice: &'static str,
    },
}

/// Why nothing could be taken in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ImportError {
    /// Not what it should be.
    #[error("{0}")]
    Unreadable(String),
    /// It is such a file, but none that carries a dossier.
    #[error(
        "{0} carries no dossier of ours: it was not made by \"ganosis export\", or another program has taken that out."
    )]
    NoDossier(&'static str),
}
