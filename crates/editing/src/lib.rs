//! Changing a dossier: drawing on its region maps, and the steps of a draft.
//!
//! Invariants: no input or output, no thread, no clock; the same steps give the
//! same result everywhere; no input can make it panic.

pub mod journal;
pub mod regions;
