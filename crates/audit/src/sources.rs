//! What the audit needs beside the document: the mesh and the images.

use std::borrow::Cow;

use ganosis_surface::Surface;

/// A label image: the code of each texel is the number of a region, 0 for none.
#[derive(Debug, Clone)]
pub struct Labels<'a> {
    /// Width in pixels.
    pub width_px: u32,
    /// Height in pixels.
    pub height_px: u32,
    /// Row by row from the top, `width_px * height_px` codes.
    pub codes: Cow<'a, [u16]>,
}

/// A colour image, 8 bit, encoded in the colour space of its layer.
#[derive(Debug, Clone)]
pub struct Colours<'a> {
    /// Width in pixels.
    pub width_px: u32,
    /// Height in pixels.
    pub height_px: u32,
    /// Row by row from the top, red, green, blue, alpha (not premultiplied).
    pub rgba: Cow<'a, [u8]>,
}

/// Gives the mesh and the images of a dossier. `None` means that there is
/// none, or that it could not be read; rules that need it are then left out,
/// and the audit says so.
pub trait Sources {
    /// The mesh.
    fn surface(&self) -> Option<&Surface>;
    /// The region map of one sheet, by the id of the sheet.
    fn labels(&self, sheet: &str) -> Option<Labels<'_>>;
    /// The image of a colour layer on one sheet, by their ids. A reduced image serves.
    fn colours(&self, layer: &str, sheet: &str) -> Option<Colours<'_>>;
}

/// For a document alone.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoSources;

impl Sources for NoSources {
    fn surface(&self) -> Option<&Surface> {
        None
    }
    fn labels(&self, _: &str) -> Option<Labels<'_>> {
        None
    }
    fn colours(&self, _: &str, _: &str) -> Option<Colours<'_>> {
        None
    }
}

/// Number of the texel under a coordinate; `None` where the image has none.
/// Coordinates outside 0 to 1 hold the edge.
pub(crate) fn texel(width_px: u32, height_px: u32, uv: [f64; 2]) -> Option<usize> {
    let column = position(uv[0], width_px)?;
    let row = position(uv[1], height_px)?;
    Some(row * width_px as usize + column)
}

fn position(coordinate: f64, size_px: u32) -> Option<usize> {
    let last = size_px.checked_sub(1)?;
    // Saturates: below 0 and not a number give 0.
    Some(((coordinate * f64::from(size_px)) as u32).min(last) as usize)
}

impl Labels<'_> {
    /// The code at a coordinate; 0 where there is none.
    #[must_use]
    pub fn at(&self, uv: [f64; 2]) -> u16 {
        texel(self.width_px, self.height_px, uv)
            .and_then(|at| self.codes.get(at).copied())
            .unwrap_or(0)
    }
}

impl Colours<'_> {
    /// Red, green, blue, alpha at a coordinate; transparent where there is none.
    #[must_use]
    pub fn at(&self, uv: [f64; 2]) -> [u8; 4] {
        texel(self.width_px, self.height_px, uv)
            .and_then(|at| self.rgba.get(at * 4..at * 4 + 4)?.try_into().ok())
            .unwrap_or_default()
    }
}
