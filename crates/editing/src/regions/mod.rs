//! Drawing on region maps.
//!
//! A region map is one label image per sheet: the code of a texel is the number
//! of its region, 0 for none. Distances are metres on the surface, never
//! texels, so that a brush has one size wherever the UVs lie.
//!
//! A tool makes a [`Selection`] of texels from the [`TexelGeometry`];
//! [`RegionMaps::paint`] gives them a number and returns the [`Changes`], which
//! can be taken back exactly.

mod areas;
mod brush;
mod capsule;
mod changes;
mod error;
mod fill;
mod geometry;
mod grow;
mod lasso;
mod maps;
mod selection;

pub use areas::Areas;
pub use brush::StrokePoint;
pub use changes::{Changes, MapChange, Over, Rect, Run};
pub use error::RegionError;
pub use fill::{BandImage, ColourImage, Extent};
pub use geometry::{MapSize, TexelGeometry, TexelPoint};
pub use lasso::Projection;
pub use maps::{MOST_TEXELS, RegionMap, RegionMaps};
pub use selection::Selection;
