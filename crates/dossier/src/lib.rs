//! The dossier: everything about one object, as plain data.
//!
//! * [`document`]: the types of `dossier.json`, format 1.
//! * [`read`]: bytes to document and findings.
//!
//! This crate is data and format: no colour arithmetic, no mesh, no rendering.
//! Reading returns the document *and* what is wrong with it; an error means
//! that nothing could be read at all.
//!
//! Features: `folder` (folder store, writing), `zip` (zip store), `check`
//! (the whole check, images included), `schema` (JSON Schema). Without them
//! the crate is small and builds for wasm32.

pub mod document;
pub mod finding;
pub mod read;

pub use document::{Dossier, Text};
pub use finding::{Finding, Severity};
pub use read::{ReadError, Reading, document_from_bytes};
