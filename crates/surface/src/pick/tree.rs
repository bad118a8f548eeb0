//! The bounding volume hierarchy: built by a library, walked here in double
//! precision with slightly widened boxes, so that flat boxes and grazing rays
//! are not lost to rounding.

use glam::{DVec3, Vec3};
use obvhs::aabb::Aabb;
use obvhs::bvh2::{Bvh2, node::Bvh2Node};
use obvhs::ploc::{PlocBuilder, PlocSearchDistance, SortPrecision};

use super::triangle::Ray;

/// Boxes are widened by this part of their largest coordinate: four steps of
/// single precision (2^-24), more than the conversion to a box can lose.
const WIDEN: f64 = 4.0 / 16_777_216.0;

/// Boxes of triangles, by triangle number.
#[derive(Default)]
pub(crate) struct Tree {
    bvh: Option<Bvh2>,
}

impl std::fmt::Debug for Tree {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let nodes = self.bvh.as_ref().map_or(0, |b| b.nodes.len());
        f.debug_struct("Tree").field("nodes", &nodes).finish()
    }
}

impl Tree {
    /// Over triangles with finite corners.
    pub(crate) fn new(triangles: &[[Vec3; 3]]) -> Self {
        if triangles.is_empty() || triangles.len() > u32::MAX as usize {
            return Self::default();
        }
        let boxes: Vec<Aabb> = triangles
            .iter()
            .map(|[a, b, c]| Aabb::new(a.min(*b).min(*c).into(), a.max(*b).max(*c).into()))
            .collect();
        // The builder alone: the crate's convenience functions read a clock,
        // which does not exist on wasm32.
        let bvh = PlocBuilder::new().build(
            PlocSearchDistance::Low,
            &boxes,
            (0..boxes.len() as u32).collect(),
            SortPrecision::U64,
            0,
        );
        Self { bvh: Some(bvh) }
    }

    /// Calls `leaf` for triangles whose box the ray meets, nearer boxes first;
    /// `leaf` gives back the distance beyond which nothing is wanted.
    pub(crate) fn along(&self, ray: &Ray, leaf: impl FnMut(usize) -> f64) {
        self.walk(f64::INFINITY, |node| ray.enters(widened(node)), leaf);
    }

    /// Calls `leaf` for triangles by the distance of their box from `place`;
    /// `leaf` gives back the squared distance beyond which nothing is wanted.
    pub(crate) fn around(&self, place: DVec3, limit: f64, leaf: impl FnMut(usize) -> f64) {
        let squared = |node: &Bvh2Node| {
            let (min, max) = widened(node);
            Some((place - place.clamp(min, max)).length_squared())
        };
        self.walk(limit, squared, leaf);
    }

    fn walk(
        &self,
        mut limit: f64,
        cost: impl Fn(&Bvh2Node) -> Option<f64>,
        mut leaf: impl FnMut(usize) -> f64,
    ) {
        let Some(bvh) = &self.bvh else { return };
        let Some(root) = bvh.nodes.first() else {
            return;
        };
        let mut stack: Vec<(f64, usize)> = cost(root).map(|c| (c, 0)).into_iter().collect();
        while let Some((entered, number)) = stack.pop() {
            if entered > limit {
                continue;
            }
            let node = &bvh.nodes[number];
            let first = node.first_index as usize;
            if node.prim_count > 0 {
                for k in first..first + node.prim_count as usize {
                    limit = leaf(bvh.primitive_indices[k] as usize);
                }
                continue;
            }
            let mut children = [first, first + 1].map(|n| (cost(&bvh.nodes[n]), n));
            // The nearer child is pushed last, so it is walked first.
            if children[0].0.unwrap_or(f64::INFINITY) < children[1].0.unwrap_or(f64::INFINITY) {
                children.swap(0, 1);
            }
            stack.extend(children.iter().filter_map(|&(c, n)| Some((c?, n))));
        }
    }
}

fn widened(node: &Bvh2Node) -> (DVec3, DVec3) {
    let min = Vec3::from(node.aabb().min).as_dvec3();
    let max = Vec3::from(node.aabb().max).as_dvec3();
    let by = DVec3::splat(min.abs().max(max.abs()).max_element() * WIDEN);
    (min - by, max + by)
}
