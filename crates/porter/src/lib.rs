//! The porter: opens what takes long to open, meshes and greyscale images, before the viewer takes it in.
//!
//! In the browser it runs in a worker, as a module of its own, so that the page goes on meanwhile; the
//! viewer then needs no reader of these formats. On the desk the same code is called directly.
//!
//! Invariants: everything but the handle runs without a browser; files come as bytes, never from a network
//! or disk; nothing in a file can make it panic.

mod grey;
#[cfg(target_arch = "wasm32")]
mod handle;

pub use grey::{DecodeError, Grey, grey};
#[cfg(target_arch = "wasm32")]
pub use handle::{Images, Mesh};
