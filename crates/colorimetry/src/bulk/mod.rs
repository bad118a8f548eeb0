//! Many colours at a time: slices in, slices out, on the calling thread, nothing allocated.
//!
//! In double precision ([`delta_e_2000_slice`] and its kin) the results are those of the functions for
//! one colour to 1e-10, in their own units. In single precision ([`delta_e_2000_planes`] and its kin),
//! twice to four times as fast, they hold the tolerances that each states; colours lie in three planes
//! there, one a component. Slices of unequal length are worked up to the shortest; the number done is
//! returned.
//!
//! On x86-64 each loop is compiled three times, for every such processor and for those with AVX2 or
//! AVX-512, which do two or four times as many values at once; the results are the same to the last
//! bit.

mod dispatch;
mod double;
mod single;

pub use double::{delta_e_2000_slice, lab_to_srgb8_slice, srgb8_to_lab_slice};
pub use single::{
    LabPlanes, LabPlanesMut, delta_e_2000_planes, lab_planes_to_srgb8, srgb8_to_lab_planes,
};
