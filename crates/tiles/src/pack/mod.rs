//! Writes pyramids: row by row, so that memory follows the width of an image and not its area.

mod codec;
mod halving;
mod loss;
mod rows;
mod writer;

pub use crate::index::{FORMAT, Index, IndexLevel, Loss};
pub use codec::Keep;
pub use rows::{Kind, Rows, Texel};
pub use writer::{Packed, Store, pack};

/// Why an image could not be packed.
#[derive(Debug, thiserror::Error)]
pub enum PackError {
    /// The image cannot be read.
    #[error("the image cannot be read ({0}); save it again as PNG, TIFF, JPEG or WebP")]
    Unreadable(String),
    /// A band or region map with more than one channel.
    #[error(
        "the image is {0}; a band or a region map has one channel: save it as a greyscale image of 8 or 16 bits"
    )]
    NotGrey(String),
    /// A tile could not be encoded.
    #[error("a tile could not be encoded ({0})")]
    Encoding(String),
    /// A file could not be written.
    #[error(
        "{file} could not be written ({error}); see whether the disk is full or the folder protected"
    )]
    Writing {
        /// The file.
        file: String,
        /// What the system says.
        error: std::io::Error,
    },
}
