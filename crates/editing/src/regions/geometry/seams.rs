//! Where the surface goes on at another place of the images.

use glam::DVec2;

use super::cover::{Cover, SEAM, outline};
use super::mesh::{Mesh, NONE, Side};
use super::{Page, TexelGeometry};

/// Most steps along one edge: twice the widest image that browsers take.
const MOST_STEPS: f64 = 32_768.0;

/// Pairs of texels, both ways, in rising order. Walks along every edge that
/// lies at two places of the images, half a texel a step.
pub(crate) fn find(mesh: &Mesh, pages: &[Page], cover: &mut Cover) -> Vec<(u32, u32)> {
    let mut pairs = Vec::new();
    for group in 0..mesh.group_count() {
        let mut before: Option<Side> = None;
        for side in mesh.sides(group) {
            if let Some(before) = before
                && !mesh.is_joined(before, side)
            {
                walk(mesh, pages, cover, [before, side], &mut pairs);
            }
            before = Some(side);
        }
    }
    let back: Vec<(u32, u32)> = pairs.iter().map(|(a, b)| (*b, *a)).collect();
    pairs.extend(back);
    pairs.sort_unstable();
    pairs.dedup();
    for (texel, _) in &pairs {
        cover.ways[*texel as usize] |= SEAM;
    }
    pairs
}

fn walk(mesh: &Mesh, pages: &[Page], cover: &Cover, sides: [Side; 2], pairs: &mut Vec<(u32, u32)>) {
    let lines = sides.map(|side| Line::new(mesh, pages, side));
    let [Some(one), Some(other)] = lines else {
        return;
    };
    let longest = one.length().max(other.length());
    let steps = (longest * 2.0).ceil().clamp(1.0, MOST_STEPS);
    for k in 0..steps as u32 {
        let t = (f64::from(k) + 0.5) / steps;
        let texels = [&one, &other].map(|line| line.texel(mesh, cover, t));
        if let [Some(a), Some(b)] = texels
            && a != b
            && pairs.last() != Some(&(a, b))
        {
            pairs.push((a, b));
        }
    }
}

/// An edge on its map.
struct Line<'a> {
    ends: [DVec2; 2],
    /// Into the triangle, a texel long.
    inwards: DVec2,
    page: &'a Page,
    chart: u32,
}

impl<'a> Line<'a> {
    fn new(mesh: &Mesh, pages: &'a [Page], side: Side) -> Option<Self> {
        let (outline, page) = outline(mesh, pages, side.triangle)?;
        let opposite = outline.corners()[(side.edge + 2) % 3];
        let scale = DVec2::new(f64::from(page.size[0]), f64::from(page.size[1]));
        let ends = mesh
            .directed(side, &mesh.uvs)
            .map(|uv| uv.as_dvec2() * scale);
        Some(Self {
            ends,
            inwards: (opposite - (ends[0] + ends[1]) * 0.5).normalize_or_zero(),
            page,
            chart: mesh.charts[side.triangle as usize],
        })
    }

    fn length(&self) -> f64 {
        self.ends[0].distance(self.ends[1])
    }

    /// The texel here, or one texel inwards, that shows this piece of the surface.
    fn texel(&self, mesh: &Mesh, cover: &Cover, t: f64) -> Option<u32> {
        let place = self.ends[0].lerp(self.ends[1], t);
        [0.01, 1.0].into_iter().find_map(|inwards| {
            let texel = self.page.under(place + self.inwards * inwards);
            let owner = cover.owners[texel as usize];
            (owner != NONE && mesh.charts[owner as usize] == self.chart).then_some(texel)
        })
    }
}

impl TexelGeometry {
    /// Calls `visit` for every texel that the surface goes on to from this one.
    pub(crate) fn around(&self, texel: u32, visit: &mut impl FnMut(u32)) {
        use super::cover::{DOWN, RIGHT};
        let (Some(page), Some(chart)) = (self.page_of(texel), self.chart(texel)) else {
            return;
        };
        let ways = |at: u32| self.cover.ways[at as usize];
        let (x, width) = ((texel - page.first) % page.size[0], page.size[0]);
        let mut go = |open: bool, to: u32| {
            if open && self.chart(to) == Some(chart) {
                visit(to);
            }
        };
        if x > 0 {
            go(ways(texel - 1) & RIGHT != 0, texel - 1);
        }
        if x + 1 < width {
            go(ways(texel) & RIGHT != 0, texel + 1);
        }
        if texel - page.first >= width {
            go(ways(texel - width) & DOWN != 0, texel - width);
        }
        if u64::from(texel) + u64::from(width) < page.end() {
            go(ways(texel) & DOWN != 0, texel + width);
        }
        if ways(texel) & SEAM != 0 {
            let from = self.seams.partition_point(|pair| pair.0 < texel);
            let pairs = self.seams[from..].iter().take_while(|p| p.0 == texel);
            pairs.for_each(|pair| visit(pair.1));
        }
    }

    fn chart(&self, texel: u32) -> Option<u32> {
        let owner = self.owner(texel)?;
        Some(self.mesh.charts[owner as usize])
    }
}
