//! Help for tests: comparing pictures, reading tables of published values,
//! finding sample files, small meshes, and a graphics device without a window.
//!
//! Only tests use this crate. It simplifies on purpose: pictures are 8-bit
//! RGBA, tables are small enough to be read at once.

pub mod mesh;
pub mod picture;
pub mod samples;
pub mod table;
