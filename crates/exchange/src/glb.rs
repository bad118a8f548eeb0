//! A dossier as one binary glTF 2.0 file, and back.
//!
//! States are material variants (`KHR_materials_variants`); a part that a
//! state does not show has a material there that is cut away whole. Pins and
//! observations with a place are nodes without a mesh, with their record in
//! `extras`; the document is in the `extras` of the file as a whole.

mod read;
mod write;

pub use read::from_glb;
pub use write::to_glb;

/// Field of `extras` that holds what is ours.
const EXTRAS: &str = "ganosis";
