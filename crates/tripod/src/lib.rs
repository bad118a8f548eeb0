//! The tripod: finds in the browser where a photograph was taken from, by the code of the command.
//!
//! It runs in a worker, as a module of its own that is fetched when somebody first places a photograph.
//! It holds the surface and one photograph; points, lenses and poses come with each question.
//!
//! Invariants: everything but the handle runs without a browser, and is tested so; files come as bytes,
//! never from a network or disk; nothing in a file can make it panic.

mod agreeing;
mod asked;
mod error;
mod geometry;
mod photo;

#[cfg(target_arch = "wasm32")]
mod handle;

use ganosis_surface::{Surface, gltf_in};

pub use agreeing::Agreed;
pub use asked::{Answer, Asked, BORDER_STEPS, Frame, Told};
pub use error::TripodError;
pub use geometry::{Geometry, Span};
pub use photo::Shown;

/// A surface, and the photograph that is being placed before it.
pub struct Tripod {
    pub(crate) surface: Surface,
    pub(crate) photo: Option<photo::Held>,
}

impl Tripod {
    /// Reads a surface; `beside` gives the files that it names.
    ///
    /// # Errors
    /// It is no glTF.
    pub fn open(
        bytes: &[u8],
        beside: &dyn Fn(&str) -> Option<Vec<u8>>,
    ) -> Result<Self, TripodError> {
        let surface = gltf_in::read(bytes, beside).map_err(|e| e.to_string())?;
        Ok(Self {
            surface,
            photo: None,
        })
    }

    /// Files that a surface names, which [`Self::open`] will ask for.
    ///
    /// # Errors
    /// It is no glTF.
    pub fn needs(bytes: &[u8]) -> Result<Vec<String>, TripodError> {
        gltf_in::needed_files(bytes).map_err(|e| e.to_string().into())
    }
}
