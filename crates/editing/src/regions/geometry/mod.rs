//! Where each texel of the region maps lies on the surface.
//!
//! What is simplified: a texel lies at one place only. Where pieces of the
//! surface share a texel (UVs that overlap, or pieces less than a texel apart),
//! it belongs to the one that holds its centre, or comes nearest to it.

mod cover;
mod mesh;
mod outline;
mod seams;

use ganosis_surface::Surface;
use ganosis_surface::pick::Picker;
use glam::{DVec2, Vec2, Vec3};

use super::{MOST_TEXELS, RegionError};
use cover::Cover;
pub(crate) use mesh::{Mesh, NONE, Side};
pub(crate) use outline::{Outline, Span};

/// The size of the map of one sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MapSize {
    /// Index into [`Surface::sheets`].
    pub sheet: usize,
    /// Width in texels.
    pub width_px: u32,
    /// Height in texels.
    pub height_px: u32,
}

/// A texel on the surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TexelPoint {
    /// World position in metres: the surface under the texel's centre, or the
    /// point next to it where the surface holds only another part of the texel.
    pub position_m: Vec3,
    /// Unit normal of the triangle.
    pub normal: Vec3,
    /// Index into [`Surface::patches`].
    pub patch: usize,
}

/// Where the texels of all maps lie. Texels are counted through all maps, in
/// their order, row by row from the top.
///
/// A texel belongs to the surface if any part of a triangle lies in it, so that
/// no rim stays free along a seam. Takes 5 bytes a texel and about 250 a triangle.
#[derive(Debug)]
pub struct TexelGeometry {
    pages: Vec<Page>,
    mesh: Mesh,
    cover: Cover,
    seams: Vec<(u32, u32)>,
    picker: Picker,
}

/// The texels of one map among all.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Page {
    sheet: usize,
    pub(crate) first: u32,
    pub(crate) size: [u32; 2],
}

impl Page {
    pub(crate) fn end(&self) -> u64 {
        u64::from(self.first) + u64::from(self.size[0]) * u64::from(self.size[1])
    }

    pub(crate) fn texel(&self, x: u32, y: u32) -> u32 {
        self.first + y * self.size[0] + x
    }

    /// The texel under a place in texels; off the image, the one at its edge.
    /// The map has texels.
    fn under(&self, place: DVec2) -> u32 {
        // Casts saturate: below 0 and not a number give 0.
        let cell = |k: usize| (place[k] as u32).min(self.size[k] - 1);
        self.texel(cell(0), cell(1))
    }
}

impl TexelGeometry {
    /// For maps of these sizes, in the order of [`super::RegionMaps::maps`].
    ///
    /// # Errors
    /// If there are more than [`MOST_TEXELS`] texels or a billion triangles, or
    /// the surface lacks a sheet.
    pub fn new(surface: &Surface, maps: &[MapSize]) -> Result<Self, RegionError> {
        let mut pages = Vec::new();
        let mut first = 0;
        for map in maps {
            let count = surface.sheets.len();
            if map.sheet >= count {
                let number = map.sheet;
                return Err(RegionError::NoSheet { number, count });
            }
            let size = [map.width_px, map.height_px];
            pages.push(Page {
                sheet: map.sheet,
                first: first as u32,
                size,
            });
            first += u64::from(size[0]) * u64::from(size[1]);
            at_most(first, MOST_TEXELS, "texels of region maps")?;
        }
        at_most(surface.triangle_count() as u64, 1 << 30, "triangles")?;
        let map_of = |sheet| pages.iter().position(|page| page.sheet == sheet);
        let mesh = Mesh::new(surface, &map_of);
        let mut cover = Cover::new(&mesh, &pages);
        let seams = seams::find(&mesh, &pages, &mut cover);
        Ok(Self {
            pages,
            mesh,
            cover,
            seams,
            picker: Picker::new(surface),
        })
    }

    /// Number of texels of all maps, on the surface or not.
    #[must_use]
    pub fn texel_count(&self) -> usize {
        self.cover.owners.len()
    }

    /// What finds points of the surface.
    #[must_use]
    pub fn picker(&self) -> &Picker {
        &self.picker
    }

    /// Where a texel lies; `None` off the surface.
    #[must_use]
    pub fn point(&self, texel: u32) -> Option<TexelPoint> {
        let owner = self.owner(texel)?;
        Some(TexelPoint {
            position_m: self.position_m(texel)?,
            normal: self.mesh.normal(owner),
            patch: self.mesh.patches[owner as usize] as usize,
        })
    }

    /// The texel of a map under a UV (v = 0 is the top row; beyond 0 to 1 the
    /// texel at the edge); `None` off the surface.
    #[must_use]
    pub fn texel_at(&self, map: usize, uv: Vec2) -> Option<u32> {
        let page = self.pages.get(map)?;
        if page.size.contains(&0) || !uv.is_finite() {
            return None;
        }
        let size = DVec2::new(f64::from(page.size[0]), f64::from(page.size[1]));
        let texel = page.under(uv.as_dvec2() * size);
        self.owner(texel).map(|_| texel)
    }

    /// The map of a texel, and its column and row there.
    #[must_use]
    pub fn place(&self, texel: u32) -> Option<(usize, u32, u32)> {
        let map = self.pages.partition_point(|p| p.end() <= u64::from(texel));
        let page = self.pages.get(map)?;
        let at = texel - page.first;
        Some((map, at % page.size[0], at / page.size[0]))
    }

    pub(crate) fn pages(&self) -> &[Page] {
        &self.pages
    }

    pub(crate) fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    pub(crate) fn page_of(&self, texel: u32) -> Option<&Page> {
        let map = self.pages.partition_point(|p| p.end() <= u64::from(texel));
        self.pages.get(map)
    }

    /// The triangle that a texel shows.
    pub(crate) fn owner(&self, texel: u32) -> Option<u32> {
        let owner = *self.cover.owners.get(texel as usize)?;
        (owner != NONE).then_some(owner)
    }

    /// A triangle on its map, if it has an area there.
    pub(crate) fn outline(&self, triangle: u32) -> Option<(Outline, &Page)> {
        cover::outline(&self.mesh, &self.pages, triangle)
    }

    /// World position of a texel in metres; `None` off the surface.
    pub(crate) fn position_m(&self, texel: u32) -> Option<Vec3> {
        let owner = self.owner(texel)?;
        let (outline, page) = self.outline(owner)?;
        let at = texel - page.first;
        let (weights, _) = outline.nearest(at % page.size[0], at / page.size[0]);
        let corners = self.mesh.corners[owner as usize].map(|c| c.as_dvec3());
        let position = corners[0] * weights[0] + corners[1] * weights[1] + corners[2] * weights[2];
        Some(position.as_vec3())
    }
}

fn at_most(count: u64, most: u64, what: &str) -> Result<(), RegionError> {
    if count <= most {
        return Ok(());
    }
    Err(RegionError::TooLarge {
        what: format!("there are {count} {what}"),
        most,
    })
}
