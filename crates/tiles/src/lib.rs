//! Images over a surface as pyramids of tiles, so that a picture costs the screen and not the image.
//!
//! Level 0 is the image itself, each level after it has half the size (rounded down, at least one pixel),
//! as the levels of a texture have. Levels are cut into square tiles with a border of their neighbours'
//! texels, so that each can be filtered by itself. The coarse levels are one image, the *base*, from which
//! whoever draws makes the smaller ones.

#[cfg(feature = "whole")]
mod index;
#[cfg(feature = "pack")]
pub mod pack;
mod pyramid;
#[cfg(feature = "whole")]
mod whole;

#[cfg(feature = "whole")]
pub use index::{FORMAT, Index, IndexError, IndexLevel, Loss};
#[cfg(feature = "whole")]
pub use whole::{TileError, damaged, whole};

pub use pyramid::{BASE_PX, BORDER_PX, Level, Place, Pyramid, STORED_PX, TILE_PX};
