//! Drawing on region maps.
//!
//! A region map is one label image per sheet: the code of a texel is the number
//! of its region, 0 for none. Distances are millimetres on the surface, never
//! texels, so that a brush has one size wherever the UVs lie.

mod maps;

pub use maps::{RegionMap, RegionMaps};
