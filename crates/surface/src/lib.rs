//! The surface of an object: its mesh with UVs, the sheets the UVs lie on,
//! and what can be asked of them.
//!
//! - [`gltf_in`] reads glTF 2.0 (.glb and .gltf).
//! - [`flat`] carries a surface from one module's memory to another's.
//! - `levels` (a feature) makes lighter copies for looking at the surface.
//! - [`pick`] finds the surface point under a ray, or nearest to a place.
//! - [`area`] measures areas and goes from a UV to the surface.
//! - [`measure`] has distances over the surface, areas of loops, angles and profiles.
//! - [`relief`] smooths normals and finds what the surface hides of the sky.
//! - [`anchor`] keeps a place on the surface across a change of mesh.
//!
//! What is simplified: the geometry is taken at rest (skins, morph targets and
//! animations are left out and named in [`Surface::notes`]); only triangles are
//! kept; of a material only its base colour is kept.
//!
//! Invariants: no input or output, no thread, no clock; every index and offset
//! of a file is checked before it is used, and no file can make it panic.

pub mod anchor;
pub mod area;
mod error;
pub mod flat;
#[cfg(feature = "gltf")]
pub mod gltf_in;
#[cfg(feature = "levels")]
pub mod levels;
pub mod measure;
mod model;
pub mod pick;
pub mod relief;

pub use anchor::Anchor;
pub use error::SurfaceError;
pub use model::{
    AlphaMode, Bounds, Counts, ImageSource, Patch, Sheet, Surface, Texture, UvTransform, Wrap,
    beside,
};
