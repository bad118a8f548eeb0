//! Colour differences between two CIELAB colours.

mod ab;
mod e2000;
mod e94;

pub use ab::delta_e_ab;
pub use e94::{Application94, delta_e_94};
pub(crate) use e2000::delta_e_2000_lanes;
pub use e2000::{Weights2000, delta_e_2000, delta_e_2000_weighted};
