//! Photographs under colour control and in their place: reading them, finding and reading a chart,
//! characterising the camera that took them, applying the result, and finding where they were taken
//! from.
//!
//! Camera values are linear light, 0..1 with 1 at the largest code, in the camera's own primaries
//! ([`CameraRgb`]). Positions are in pixels from the top left corner of the image, x to the right,
//! y down; the centre of the first pixel is (0.5, 0.5). Targets are CIELAB D50 for the 2° observer.
//!
//! Nothing here opens a file: photographs come as readers, results go to writers.

pub mod agreement;
pub mod bands;
pub mod calibration;
pub mod camera;
pub mod characterisation;
pub mod chart;
pub mod correct;
pub mod drape;
pub mod editions;
pub mod error;
pub mod fit;
pub mod geometry;
pub mod icc;
pub mod lens;
pub mod photo;
pub mod pose;
pub mod profiled;
mod random;
pub mod reference;
pub mod register;
pub mod tiff_out;
pub mod tolerance;

pub use calibration::Calibration;
pub use camera::CameraRgb;
pub use error::{ImagingError, Result};
pub use photo::{Encoding, Photo};
pub use reference::Reference;
