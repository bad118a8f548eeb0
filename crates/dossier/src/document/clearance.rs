//! What may be shown to everybody.
//!
//! An entry with `"public": false` is withheld: it stays in the dossier and is
//! left out of every copy made for the public. The field lies with the fields
//! that a type does not name, on purpose: a value that is no truth value then
//! never reads as "cleared", and a viewer, which gets public copies, carries
//! no code for it.

use super::{
    Attachment, Claim, Dossier, Evidence, Layer, OtherFields, PaletteEntry, Person, Pin, Region,
    Review, SavedView, State,
};

/// Name of the field.
pub const CLEARANCE_FIELD: &str = "public";

/// Something that can be withheld.
pub trait Cleared {
    /// True unless `public` says otherwise; anything but `true` withholds.
    fn is_public(&self) -> bool;
}

/// True if the fields say nothing of clearance, or `true`.
#[must_use]
pub fn clears(fields: &OtherFields) -> bool {
    fields
        .get(CLEARANCE_FIELD)
        .is_none_or(|value| *value == serde_json::Value::Bool(true))
}

macro_rules! cleared {
    ($($type:ty),+ $(,)?) => {
        $(impl Cleared for $type {
            fn is_public(&self) -> bool {
                clears(&self.other)
            }
        })+

        /// These types, by their names in the schema.
        #[cfg(feature = "schema")]
        pub(crate) const CLEARED_TYPES: &[&str] = &[$(stringify!($type)),+];
    };
}

impl Cleared for Dossier {
    fn is_public(&self) -> bool {
        clears(&self.other)
    }
}

cleared!(
    Attachment,
    Claim,
    Evidence,
    Layer,
    PaletteEntry,
    Person,
    Pin,
    Region,
    Review,
    SavedView,
    State,
);
