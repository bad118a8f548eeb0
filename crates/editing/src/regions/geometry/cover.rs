//! Which triangle each texel shows, and where the surface goes on from a texel
//! to the next.

use super::mesh::{Mesh, NONE};
use super::outline::Outline;
use super::{Page, Span};

/// The surface goes on to the texel on the right.
pub(crate) const RIGHT: u8 = 1;
/// The surface goes on to the texel below.
pub(crate) const DOWN: u8 = 2;
/// The surface goes on across a seam.
pub(crate) const SEAM: u8 = 4;

/// By texel, through all maps.
#[derive(Debug)]
pub(crate) struct Cover {
    /// Triangle, or [`NONE`].
    pub(crate) owners: Vec<u32>,
    /// [`RIGHT`], [`DOWN`] and [`SEAM`].
    pub(crate) ways: Vec<u8>,
}

impl Cover {
    /// A texel shows the triangle that holds its centre (the first of several),
    /// else the one nearest to its centre among those that touch it.
    pub(crate) fn new(mesh: &Mesh, pages: &[Page]) -> Self {
        let count = pages.last().map_or(0, |page| page.end() as usize);
        let mut cover = Self {
            owners: vec![NONE; count],
            ways: vec![0; count],
        };
        for triangle in 0..mesh.count() as u32 {
            let Some((outline, page)) = outline(mesh, pages, triangle) else {
                continue;
            };
            outline.touched(outline.bounds(), &mut |span| {
                for x in span.first..=span.last {
                    let at = page.texel(x, span.row) as usize;
                    if cover.takes(mesh, pages, &outline, (x, span.row), cover.owners[at]) {
                        cover.owners[at] = triangle;
                    }
                }
            });
            cover.add_ways(&outline, page);
        }
        cover
    }

    fn takes(
        &self,
        mesh: &Mesh,
        pages: &[Page],
        outline: &Outline,
        (x, y): (u32, u32),
        owner: u32,
    ) -> bool {
        if owner == NONE {
            return true;
        }
        let own = outline.nearest(x, y).1;
        self::outline(mesh, pages, owner).is_none_or(|(other, _)| own < other.nearest(x, y).1)
    }

    fn add_ways(&mut self, outline: &Outline, page: &Page) {
        let mut above: Option<Span> = None;
        outline.touched_or_met(&mut |span| {
            for x in span.first..span.last {
                self.ways[page.texel(x, span.row) as usize] |= RIGHT;
            }
            if let Some(above) = above
                && above.row + 1 == span.row
            {
                for x in above.first.max(span.first)..=above.last.min(span.last) {
                    self.ways[page.texel(x, above.row) as usize] |= DOWN;
                }
            }
            above = Some(span);
        });
    }
}

/// A triangle with an area on a map.
pub(crate) fn outline<'a>(
    mesh: &Mesh,
    pages: &'a [Page],
    triangle: u32,
) -> Option<(Outline, &'a Page)> {
    let page = pages.get(mesh.maps[triangle as usize] as usize)?;
    let outline = Outline::new(mesh.uvs[triangle as usize], page.size)?;
    (outline.cross() != 0.0).then_some((outline, page))
}
