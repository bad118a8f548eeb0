//! Characterising a camera: from its values to tristimulus values.

mod choose;
mod model;
mod solve;
mod tone;

pub use choose::{Candidate, Options, characterise};
pub use model::{Model, ModelKind};
pub use solve::{Sample, least_squares, mean_delta_e, refine};
pub use tone::Tone;
