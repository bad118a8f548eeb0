//! The wgpu renderer.
