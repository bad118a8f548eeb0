//! From distance to mesh: sampling, isosurface, charts, packing, and the glTF file.

pub(crate) mod charts;
pub(crate) mod glb;
pub(crate) mod lattice;
pub(crate) mod mesh;
pub(crate) mod packing;
pub(crate) mod raster;
pub(crate) mod unwrap;
