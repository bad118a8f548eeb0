//! Arithmetic over registered band images: photographs of one set-up, or layers of one surface.
//!
//! Values are linear and carry their unit ([`Unit`]); what is not there (off the charts, unseen,
//! divided by nothing) is NaN and stays so. Formulas follow the practice of technical imaging in
//! museums; each says where it is from.
//!
//! Ultraviolet lamps harm eyes and skin, and their dose counts towards the object's: recipes that
//! take ultraviolet images carry that caution ([`recipe`]).

pub mod arithmetic;
pub mod components;
pub mod image;
pub mod recipe;
pub mod regions;
pub mod standards;

pub use image::{Band, BandImage, Unit};
pub use recipe::{ULTRAVIOLET_CAUTION, is_ultraviolet};
