//! The public copy of a dossier: everything that is cleared, and nothing else.
//!
//! * [`public_copy`]: the document without what is withheld and without what
//!   cannot be shown without it, with a list of both.
//! * [`PublicStore`]: the files of that document, as a store of its own; what
//!   is not needed for it is not in there.
//! * [`mentions`](PublicStore::mentions): texts and files that still name
//!   something withheld; only people can mend those.
//!
//! An entry is withheld by `"public": false`, or by any other value of
//! `public` than `true`. What follows from it:
//!
//! | withheld | goes with it | stays, without the reference |
//! | --- | --- | --- |
//! | person | their reviews, answers and what they set aside | claims, observations, states of theirs |
//! | layer | states that show it, views of it | layers made from it |
//! | state | claims and pins of that state alone, views of it | states that build on it |
//! | region | claims on it alone; its texels become "no region" | observations there |
//! | palette entry | claims of that paint | observations that identify it |
//! | observation, claim, pin, view | | whatever names it |
//!
//! Files leave the dossier with the last public thing that names them.

mod labels;
mod mentions;
mod store;
mod take_out;

pub use mentions::Mention;
pub use store::PublicStore;
pub use take_out::{Absent, PublicCopy, public_copy};

use ganosis_dossier::StoreError;

/// Why there is no public copy.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PublicError {
    /// `"public": false` at the top.
    #[error(
        "the dossier as a whole is not cleared (\"public\" at its top). Clear it, or take this out of what you publish."
    )]
    Nothing,
    /// Values that could not be read might say what is withheld.
    #[error(
        "{first} is of the wrong type, so that it is not certain what is cleared. Correct what \"ganosis check\" says first."
    )]
    Unclear {
        /// JSONPath of the first.
        first: String,
    },
    /// A clearance stands where it does nothing.
    #[error(
        "\"public\" at {path} has no effect there, so that it is not certain what is cleared. Correct what \"ganosis check\" says first."
    )]
    Misplaced {
        /// JSONPath.
        path: String,
    },
    /// A file that is needed cannot be had.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A region map from which a region must be taken cannot be read.
    #[error(
        "{file}: {reason}; a region that is withheld cannot be taken out of it. Save it again as greyscale PNG."
    )]
    Labels {
        /// The file.
        file: String,
        /// What the decoder said.
        reason: String,
    },
}
