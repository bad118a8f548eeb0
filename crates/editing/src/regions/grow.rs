//! Growing and shrinking a region by a distance.
//!
//! A front goes out from the texels at the border, nearest texel first; each
//! texel it reaches takes over from its neighbour the border texel that it was
//! reached from, and its distance is the straight one to that. So there are no
//! steps along the grid to add up, and the front stays on the surface.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use glam::Vec3;

use super::geometry::TexelGeometry;
use super::selection::Bits;
use super::{Over, RegionMaps, Selection};

impl TexelGeometry {
    /// The texels no further than `distance_m` from the border texels of a
    /// region, reached from it over texels that `over` allows to change. Give
    /// them the region's number to grow it.
    ///
    /// Distances are between centres of texels: from the outermost within to
    /// the outermost of the grown region. Maps of other sizes give nothing.
    #[must_use]
    pub fn grown(&self, maps: &RegionMaps, number: u16, distance_m: f32, over: &Over) -> Selection {
        let labels = Labels::new(self, maps);
        let inside = |texel| labels.at(texel) == Some(number);
        let free = |texel| {
            let label = labels.at(texel);
            label.is_some_and(|label| label != number && over.allows(label))
        };
        self.front(distance_m, &inside, &free)
    }

    /// The texels of a region no further than `distance_m` from what lies
    /// around it on the surface. Give them the number 0 to shrink it. Where the
    /// mesh ends nothing lies around, and nothing is taken away.
    #[must_use]
    pub fn shrunk(&self, maps: &RegionMaps, number: u16, distance_m: f32) -> Selection {
        let labels = Labels::new(self, maps);
        let outside = |texel| labels.at(texel).is_some_and(|label| label != number);
        let inside = |texel| labels.at(texel) == Some(number);
        self.front(distance_m, &outside, &inside)
    }

    /// Texels that `over` holds, no further than `distance_m` from texels that
    /// `source` holds, over texels that `over` holds.
    fn front(
        &self,
        distance_m: f32,
        source: &dyn Fn(u32) -> bool,
        over: &dyn Fn(u32) -> bool,
    ) -> Selection {
        let mut front = Front::new(self, distance_m);
        for texel in 0..self.texel_count() as u32 {
            if source(texel)
                && let Some(position) = self.rim(texel, over)
            {
                self.around(texel, &mut |next| front.offer(next, texel, position, over));
            }
        }
        let mut found = Vec::new();
        while let Some((texel, from)) = front.next() {
            found.push(texel);
            let Some(position) = self.position_m(from) else {
                continue;
            };
            self.around(texel, &mut |next| front.offer(next, from, position, over));
        }
        Selection::new(found)
    }

    /// Position of a texel next to one that `over` holds.
    fn rim(&self, texel: u32, over: &dyn Fn(u32) -> bool) -> Option<Vec3> {
        self.owner(texel)?;
        let mut is_rim = false;
        self.around(texel, &mut |next| is_rim = is_rim || over(next));
        if is_rim { self.position_m(texel) } else { None }
    }
}

/// The numbers of all texels, if the maps are of the sizes of the geometry.
struct Labels<'a> {
    maps: Vec<(u32, &'a [u16])>,
}

impl<'a> Labels<'a> {
    fn new(geometry: &TexelGeometry, maps: &'a RegionMaps) -> Self {
        let pages = geometry.pages().iter();
        let fits = pages.len() == maps.maps.len()
            && pages
                .clone()
                .zip(&maps.maps)
                .all(|(page, map)| page.end() - u64::from(page.first) == map.labels.len() as u64);
        let all = pages.zip(&maps.maps).map(|(p, m)| (p.first, &m.labels[..]));
        Self {
            maps: if fits { all.collect() } else { Vec::new() },
        }
    }

    fn at(&self, texel: u32) -> Option<u16> {
        let map = self.maps.partition_point(|m| m.0 <= texel).checked_sub(1)?;
        let (first, labels) = self.maps[map];
        labels.get((texel - first) as usize).copied()
    }
}

struct Front<'a> {
    geometry: &'a TexelGeometry,
    distance_m: f32,
    /// Distance as the bits of a number that is not negative (they keep its
    /// order), texel, border texel.
    open: BinaryHeap<Reverse<(u32, u32, u32)>>,
    reached: Bits,
}

impl<'a> Front<'a> {
    fn new(geometry: &'a TexelGeometry, distance_m: f32) -> Self {
        Self {
            geometry,
            distance_m,
            open: BinaryHeap::new(),
            reached: Bits::new(geometry.texel_count()),
        }
    }

    fn offer(&mut self, texel: u32, from: u32, position: Vec3, over: &dyn Fn(u32) -> bool) {
        if self.reached.holds(texel) || !over(texel) {
            return;
        }
        let Some(own) = self.geometry.position_m(texel) else {
            return;
        };
        let distance = own.distance(position);
        if distance <= self.distance_m {
            self.open.push(Reverse((distance.to_bits(), texel, from)));
        }
    }

    /// The nearest texel not reached yet, and the border texel it belongs to.
    fn next(&mut self) -> Option<(u32, u32)> {
        loop {
            let Reverse((_, texel, from)) = self.open.pop()?;
            if self.reached.insert(texel) {
                return Some((texel, from));
            }
        }
    }
}
