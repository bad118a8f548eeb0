//! What goes out of a dossier and comes back: pins and observations as Web
//! Annotations, and (feature `files`) the copy for the public, the pages of a
//! site, and files that other programs open.
//!
//! # Annotations
//!
//! Pins and observations as Web Annotations (W3C Recommendation "Web
//! Annotation Data Model", 23 February 2017), out of a dossier and in again.
//!
//! * [`collection`]: the annotations of a dossier as JSON-LD.
//! * [`merge`]: annotations into the pins of a dossier, with a report.
//! * [`problems`]: what the model requires and a value lacks.
//!
//! How things are said in the words of the model: the text of a pin is a
//! `TextualBody` for `commenting`, its title one for `tagging`, the result of
//! an observation one for `describing`; several languages are a `Choice`. What
//! a pin shows is a body for `linking` with an address such as
//! `dossier.json#claim:c-07`. The target is the surface file; the place on it
//! is a `FragmentSelector` (see [`place_of`]). Addresses are relative: the
//! file belongs beside `dossier.json`.
//!
//! Invariants: no input or output, no clock; the same dossier gives the same
//! bytes. Reading never changes an observation, which is a record of a
//! measurement, and never takes anything away.

#[cfg(feature = "files")]
pub mod bag;
mod collect;
#[cfg(feature = "files")]
mod error;
#[cfg(feature = "files")]
pub mod glb;
#[cfg(feature = "files")]
pub mod iiif;
mod items;
mod merge;
mod model;
mod names;
mod place;
#[cfg(feature = "files")]
pub mod public;
#[cfg(feature = "files")]
pub mod site;
#[cfg(feature = "files")]
pub mod solid;
#[cfg(feature = "files")]
pub mod table;
#[cfg(feature = "files")]
mod taken_in;
#[cfg(feature = "files")]
pub mod usd;
mod words;

pub use collect::collection;
#[cfg(feature = "files")]
pub use error::{ExportError, ImportError};
pub use items::ReadError;
pub use merge::{Change, LeftOut, Merged, merge};
pub use model::problems;
pub use place::{PLACE_SYNTAX, anchor_of, place_of};
#[cfg(feature = "files")]
pub use taken_in::TakenIn;

/// Most bytes of a file of annotations. A choice of ours: 100,000 long notes.
pub const LARGEST_BYTES: u64 = 64 << 20;

/// The context that gives the words their meaning (section 3.1 of the model).
const CONTEXT: &str = "http://www.w3.org/ns/anno.jsonld";

/// Field of a pin that came from elsewhere: its annotation, who made it, when.
const FROM: &str = "annotation";
