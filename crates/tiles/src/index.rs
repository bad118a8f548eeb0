//! The list of a pyramid's files.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::{BORDER_PX, Pyramid, TILE_PX};

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

/// Differences between texels and what tiles keep of them (CIEDE2000), over a sample of all tiles.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Loss {
    /// Mean.
    pub mean: f64,
    /// 99 of 100 texels differ by no more.
    pub percentile_99: f64,
    /// Texels that were compared.
    pub texels: u64,
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

/// Longest side of an image (px): 64 times what the largest texture of any device has, and few enough tiles to be numbered.
const MOST_PX: u32 = 1 << 20;

/// The path of a file beside the list.
pub(crate) fn path_of(name: &str, ending: &str) -> String {
    format!("{}/{name}.{ending}", &name[..2])
}

/// The name of a file by its bytes.
pub(crate) fn name_of(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    let digits: String = hash.iter().map(|b| format!("{b:02x}")).collect();
    digits[..NAME_DIGITS].to_owned()
}

/// Why a list of tiles is of no use.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("it is no list of tiles that this version reads ({0}); pack the dossier again")]
pub struct IndexError(String);

impl Index {
    /// Reads a list: what it names is then as many tiles as its pyramid has, by names of the right form.
    ///
    /// # Errors
    /// [`IndexError`] for anything else.
    pub fn read(bytes: &[u8]) -> Result<Self, IndexError> {
        let refused = |why: String| IndexError(why);
        let index: Self = serde_json::from_slice(bytes).map_err(|e| refused(e.to_string()))?;
        if index.format != FORMAT {
            return Err(refused(format!("its format is {:?}", index.format)));
        }
        if [index.tile_px, index.border_px] != [TILE_PX, BORDER_PX] {
            return Err(refused("its tiles have another size".to_owned()));
        }
        if index
            .size_px
            .iter()
            .any(|side| !(1..=MOST_PX).contains(side))
        {
            return Err(refused(format!("its image has {:?} px", index.size_px)));
        }
        let plain = |text: &str| text.bytes().all(|b| b.is_ascii_alphanumeric());
        if !plain(&index.ending) {
            return Err(refused("its files end in no plain word".to_owned()));
        }
        let levels: Vec<_> = index.pyramid().levels().collect();
        if levels.len() != index.levels.len() {
            return Err(refused(format!(
                "it has {} levels and its image {}",
                index.levels.len(),
                levels.len()
            )));
        }
        for (own, level) in index.levels.iter().zip(levels) {
            let count = u64::from(level.grid[0]) * u64::from(level.grid[1]);
            let right = own.names.bytes().all(|b| b.is_ascii_hexdigit());
            if own.grid != level.grid
                || !right
                || own.names.len() as u64 != count * NAME_DIGITS as u64
            {
                return Err(refused(
                    "a level does not name the tiles that it has".to_owned(),
                ));
            }
        }
        Ok(index)
    }

    /// The pyramid that it lists.
    #[must_use]
    pub fn pyramid(&self) -> Pyramid {
        Pyramid::new(self.size_px)
    }
}
