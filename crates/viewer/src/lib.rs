//! The viewer: holds all state of the view and turns a dossier into what the renderer draws.
//!
//! The page draws panels from it and sends it intents; it holds no state of its own. Everything but
//! the handle runs without a browser, and is tested so.

pub mod app;
pub mod camera;
pub mod content;
#[cfg(feature = "files")]
pub mod decode;
pub mod divider;
pub mod input;
pub mod lamp;
pub mod light;
pub mod overlay;
pub mod probe;
pub mod view;

#[cfg(target_arch = "wasm32")]
mod handle;
#[cfg(target_arch = "wasm32")]
pub use handle::Viewer;
