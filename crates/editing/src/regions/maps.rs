//! The label images of a document.

/// The label image of one sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RegionMap {
    /// Id of the sheet in the document.
    pub sheet: String,
    /// Width in texels.
    pub width_px: u32,
    /// Height in texels.
    pub height_px: u32,
    /// Row by row from the top, `width_px * height_px` numbers.
    pub labels: Vec<u16>,
}

/// The region maps of all sheets, in the order of the document.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RegionMaps {
    /// One per sheet.
    pub maps: Vec<RegionMap>,
}
