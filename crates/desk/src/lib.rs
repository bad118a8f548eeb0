//! The desk: examines, compares, measures and edits a dossier, without drawing it.
//!
//! In the browser it runs in a worker, as a module of its own that is fetched when somebody first needs
//! it. It holds its own document, surface and region maps; the page shows what comes out of it.
//!
//! Invariants: everything but the handle runs without a browser, and is tested so; files come through
//! one closure, never from a network or disk; what is refused has changed nothing; nothing in a document
//! or file can make it panic.

mod drawing;
mod error;
mod examining;
mod ground;
mod measuring;
mod opening;
mod relief;
mod saving;
mod spot;
mod taking;

#[cfg(target_arch = "wasm32")]
mod handle;

pub use drawing::Drawing;
pub use error::DeskError;
pub use measuring::Measuring;
pub use opening::{Desk, Outcome, Part};
pub use saving::{DraftMap, MapFile, ToSave};
