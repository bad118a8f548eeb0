//! What can be wrong with region maps.

/// Why a region map could not be read, written or drawn on.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RegionError {
    /// The picture is none, or none that holds numbers.
    #[error(
        "the region map of the sheet \"{sheet}\" cannot be read: {what}; \
         save it as a PNG in greys of 8 or 16 bits"
    )]
    Picture {
        /// Id of the sheet.
        sheet: String,
        /// What is wrong.
        what: String,
    },
    /// The picture could not be written.
    #[error("the region map of the sheet \"{sheet}\" cannot be written: {what}")]
    Writing {
        /// Id of the sheet.
        sheet: String,
        /// What is wrong.
        what: String,
    },
    /// The maps or the mesh are larger than what can be counted here.
    #[error("{what}, more than the {most} that can be drawn on; use a smaller one")]
    TooLarge {
        /// What is too large, with its number.
        what: String,
        /// Most that there may be.
        most: u64,
    },
    /// A sheet that the mesh does not have.
    #[error("the mesh has no sheet number {number}; it has {count}")]
    NoSheet {
        /// The number, from 0.
        number: usize,
        /// How many there are.
        count: usize,
    },
}
