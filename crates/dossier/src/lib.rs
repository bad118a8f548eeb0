//! The dossier: everything about one object, as plain data.
//!
//! * [`document`]: the types of `dossier.json`, format 1.
//! * [`read`]: bytes to document and findings.
//! * [`store`]: files by relative path, from a folder, a zip or one glTF file.
//! * `check` (feature): everything that is wrong, where, and what to do.
//! * `write` (feature `folder`): saves that are complete or have not happened.
//! * `schema` (feature): the JSON Schema of the document.
//!
//! This crate is data and format: no colour arithmetic, no mesh, no rendering.
//! Reading returns the document *and* what is wrong with it; an error means
//! that nothing could be read at all.
//!
//! Features: `folder` (folder store, writing), `zip` (zip store), `check`
//! (the whole check, images included), `schema` (JSON Schema). Without them
//! the crate is small and builds for wasm32.

#[cfg(feature = "check")]
pub mod check;
pub mod document;
pub mod finding;
pub mod gltf_json;
pub mod read;
#[cfg(feature = "schema")]
pub mod schema;
pub mod store;
#[cfg(feature = "folder")]
pub mod write;

pub use document::{Dossier, Text};
pub use finding::{Finding, Severity};
pub use read::{ReadError, Reading, document_from_bytes};
pub use store::{Store, StoreError};
