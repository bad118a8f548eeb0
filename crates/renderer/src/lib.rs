//! Draws one object in two appearances at once and decides between them pixel by pixel.
//!
//! The renderer knows textures, tables and numbers. It does not know states, claims, evidence or
//! files; therefore the same code draws in a browser (WebGPU, WebGL 2) and without a window.
//!
//! Colour: textures are sampled to linear light, mixed there, and encoded once (sRGB). Unlit, the
//! pixel on the canvas is the colour of the layer to within one code value.

pub mod check;
pub mod differences;

mod device;
mod frame;
mod geometry;
#[cfg(test)]
mod link;
mod mips;
mod paint;
mod pipelines;
mod readback;
mod region_table;
mod renderer;
mod shader;
#[cfg(test)]
mod shader_tests;
mod target;
mod texture;
mod tiles;

pub use device::{BackendInfo, Gpu};
pub use frame::{Compare, Cut, Frame, FrameUniform, Lamp, Light, Section, WHOLE};
pub use geometry::{Relief, Upload};
pub use paint::{
    BandLook, LayerContent, LayerPaint, MOST_LAYERS, PatchPaint, Side, SidePaint, SurfaceUniform,
    UvTransform, Wrap,
};
pub use readback::Readback;
pub use region_table::{LampMatrix, Pattern, RegionRow, RegionTable};
pub use renderer::{Asked, Renderer, TILE_MIB};
pub use texture::{Samples, TextureId};
pub use tiles::{Ask, NO_SHEET, TileId, Wanted};
pub use wgpu::TextureView as TargetView;

/// What can go wrong between the renderer and the graphics hardware.
#[derive(Debug, thiserror::Error)]
pub enum RendererError {
    /// No adapter answered.
    #[error(
        "this browser or machine offers no graphics device ({detail}); turn on hardware acceleration or try another browser"
    )]
    NoDevice {
        /// What the system said.
        detail: String,
    },
    /// The canvas cannot be drawn to.
    #[error("the picture area cannot be drawn to ({detail})")]
    Canvas {
        /// What the system said.
        detail: String,
    },
    /// An image or a picture is larger than the device takes.
    #[error(
        "{what} is {width_px} × {height_px} px; this device takes at most {largest_px} px a side"
    )]
    TooLarge {
        /// What is too large.
        what: String,
        /// Its width (px).
        width_px: u32,
        /// Its height (px).
        height_px: u32,
        /// Largest side (px).
        largest_px: u32,
    },
    /// Sizes that do not belong together.
    #[error("{what}: {detail}")]
    Mismatch {
        /// Which input.
        what: String,
        /// What does not fit.
        detail: String,
    },
}
