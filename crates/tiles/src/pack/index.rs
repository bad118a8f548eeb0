//! The list of a pyramid's files.

use serde::{Deserialize, Serialize};

use super::Loss;

/// What stands at `format`.
pub const FORMAT: &str = "ganosis-tiles/1";

/// Names of the tiles of one image. A tile is the file `<first two digits>/<name>.<ending>` beside the
/// list; its name is the first 16 hexadecimal digits of the SHA-256 of its bytes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Index {
    /// [`FORMAT`].
    pub format: String,
    /// Width and height of the image (px).
    pub size_px: [u32; 2],
    /// Side of what a tile shows (px).
    pub tile_px: u32,
    /// Border around it (px).
    pub border_px: u32,
    /// End of the names of its files.
    pub ending: String,
    /// What of the image the tiles keep.
    pub keep: String,
    /// What it costs in colour, where not everything is kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loss: Option<Loss>,
    /// File of the coarse levels, beside the list.
    pub base: String,
    /// Levels finer than the base, the finest first.
    pub levels: Vec<IndexLevel>,
}

/// The tiles of one level.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct IndexLevel {
    /// Tiles across and down.
    pub grid: [u32; 2],
    /// Their names in a row, row by row from the top.
    pub names: String,
}

/// Digits of a name: 64 bits, of which two among a million tiles are alike once in 37 million dossiers.
pub(crate) const NAME_DIGITS: usize = 16;

/// The path of a file beside the list.
pub(crate) fn path_of(name: &str, ending: &str) -> String {
    format!("{}/{name}.{ending}", &name[..2])
}
