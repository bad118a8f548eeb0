//! Draping: photographs whose place is known, laid onto the sheets of a surface.
//!
//! For each texel: its place and normal ([`texels`]); every photograph that sees it, by an exact ray
//! ([`sight`], [`view`]); a mixture of the best of them ([`blend`]). Light is linear and in single
//! precision from the decoded code to the end. Photographs are not toned to one another: where two
//! of different brightness meet, the mixture passes from one to the other.
//!
//! Nothing here opens a file or looks at a clock: photographs and progress come and go through
//! [`run::Shell`], intermediate results through [`room::Room`].

pub mod areas;
mod asked;
pub mod blend;
pub mod fill;
mod group;
mod joins;
mod lattice;
mod levels;
pub mod margin;
pub mod mesh;
pub mod mix;
mod mixer;
pub mod picture;
pub mod room;
pub mod run;
mod scan;
pub mod sheet_out;
pub mod sight;
mod sighting;
pub mod steps;
pub mod texels;
pub mod tile;
pub mod view;
mod window;

pub use mesh::{Findings, Mesh, SheetSize};
pub use mix::Mix;
pub use picture::{Channel, Picture};
pub use room::Room;
pub use run::{Drape, PhotoReport, Report, Settings, Shell, Stage};
pub use texels::Tiles;
pub use tile::{TileResult, coverage};
pub use view::{Mask, View};
