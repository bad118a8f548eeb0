//! The bounding volume hierarchy: split at the median, walked in double
//! precision with slightly widened boxes, so that flat boxes and grazing rays
//! are not lost to rounding.
//!
//! Median splits give depth log₂ n and O(n log n) work for any input. Clustering
//! builders give somewhat faster rays, but the one tried (locally ordered
//! clustering) took half a minute for 20,000 triangles in a row or one within
//! another, which a hostile or merely odd file can hold.

use bytemuck::{Pod, Zeroable};
use glam::{DVec3, Vec3};

use super::triangle::Ray;
use crate::{Patch, Surface};

/// Boxes are widened by this part of their largest coordinate: four steps of
/// single precision (2^-24).
const WIDEN: f64 = 4.0 / 16_777_216.0;

/// A node with at most this many triangles is not split.
const LEAF: usize = 4;

/// Boxes of triangles, by triangle number.
#[derive(Debug, Default)]
pub struct Tree {
    nodes: Vec<Node>,
    /// Triangle numbers, each leaf's in a row.
    order: Vec<u32>,
}

/// A box; `count` triangles from `first` on, or two nodes from `first` on if `count` is 0.
#[repr(C)]
#[derive(Debug, Clone, Copy, Pod, Zeroable)]
struct Node {
    min: Vec3,
    max: Vec3,
    first: u32,
    count: u32,
}

impl Tree {
    /// Over all triangles of a surface whose indices are in range and whose positions are finite.
    #[must_use]
    pub fn of(surface: &Surface) -> Self {
        let corners = |patch: &Patch, t| patch.corners(t).unwrap_or_default();
        let all: Vec<[Vec3; 3]> = surface
            .patches
            .iter()
            .flat_map(|p| (0..p.triangle_count()).map(move |t| corners(p, t)))
            .collect();
        Self::new(&all)
    }

    /// Boxes and triangle numbers as bytes, to be written into [`Tree::room`] of the same build.
    #[must_use]
    pub fn bytes(&self) -> [&[u8]; 2] {
        [
            bytemuck::cast_slice(&self.nodes),
            bytemuck::cast_slice(&self.order),
        ]
    }

    /// Makes room for a tree over `triangles` triangles with `boxes` bytes of boxes.
    #[must_use]
    pub fn with_room(boxes: usize, triangles: usize) -> Self {
        Self {
            nodes: vec![Node::zeroed(); boxes / size_of::<Node>()],
            order: vec![0; triangles],
        }
    }

    /// Where the bytes of [`Tree::bytes`] go.
    pub fn room(&mut self) -> [&mut [u8]; 2] {
        [
            bytemuck::cast_slice_mut(&mut self.nodes),
            bytemuck::cast_slice_mut(&mut self.order),
        ]
    }

    /// Whether every box and triangle that is named is there.
    #[must_use]
    pub fn is_sound(&self, triangles: usize) -> bool {
        let nodes = self.nodes.len();
        let sound = |(number, node): (usize, &Node)| {
            let first = node.first as usize;
            if node.count == 0 {
                // Children stand after their parent, so that a walk ends.
                first > number && first + 1 < nodes
            } else {
                first + node.count as usize <= self.order.len()
            }
        };
        self.nodes.iter().enumerate().all(sound)
            && self.order.iter().all(|t| (*t as usize) < triangles)
    }

    /// Over triangles with finite corners.
    pub(crate) fn new(triangles: &[[Vec3; 3]]) -> Self {
        if triangles.is_empty() || triangles.len() > i32::MAX as usize {
            return Self::default();
        }
        // Thirds are summed, since a sum of corners may overflow.
        let third = |t: &[Vec3; 3]| t[0] / 3.0 + t[1] / 3.0 + t[2] / 3.0;
        let centres: Vec<Vec3> = triangles.iter().map(third).collect();
        let centre = |n: u32| centres[n as usize];
        let mut order: Vec<u32> = (0..triangles.len() as u32).collect();
        let mut nodes = vec![leaf(triangles, &order, 0)];
        let mut open = vec![0];
        while let Some(number) = open.pop() {
            let (first, count) = (nodes[number].first as usize, nodes[number].count as usize);
            if count <= LEAF {
                continue;
            }
            let own = &mut order[first..first + count];
            let (min, max) = own
                .iter()
                .map(|n| centre(*n))
                .fold((Vec3::INFINITY, Vec3::NEG_INFINITY), |(min, max), c| {
                    (min.min(c), max.max(c))
                });
            let axis = (max - min).max_position();
            let half = count / 2;
            own.select_nth_unstable_by(half, |a, b| {
                centre(*a)[axis].total_cmp(&centre(*b)[axis]).then(a.cmp(b))
            });
            let children = nodes.len();
            let (low, high) = (
                leaf(triangles, &own[..half], first),
                leaf(triangles, &own[half..], first + half),
            );
            nodes.extend([low, high]);
            nodes[number].first = children as u32;
            nodes[number].count = 0;
            open.extend([children, children + 1]);
        }
        Self { nodes, order }
    }

    /// Calls `leaf` for triangles whose box the ray meets, nearer boxes first;
    /// `leaf` gives back the distance beyond which nothing is wanted.
    pub(crate) fn along(&self, ray: &Ray, leaf: impl FnMut(usize) -> f64) {
        self.walk(f64::INFINITY, |node| ray.enters(widened(node)), leaf);
    }

    /// Calls `leaf` for triangles by the distance of their box from `place`;
    /// `leaf` gives back the squared distance beyond which nothing is wanted.
    pub(crate) fn around(&self, place: DVec3, limit: f64, leaf: impl FnMut(usize) -> f64) {
        let squared = |node: &Node| {
            let (min, max) = widened(node);
            Some((place - place.clamp(min, max)).length_squared())
        };
        self.walk(limit, squared, leaf);
    }

    fn walk(
        &self,
        mut limit: f64,
        cost: impl Fn(&Node) -> Option<f64>,
        mut leaf: impl FnMut(usize) -> f64,
    ) {
        let Some(root) = self.nodes.first() else {
            return;
        };
        let mut stack: Vec<(f64, usize)> = cost(root).map(|c| (c, 0)).into_iter().collect();
        while let Some((entered, number)) = stack.pop() {
            if entered > limit {
                continue;
            }
            let node = &self.nodes[number];
            let first = node.first as usize;
            if node.count > 0 {
                for k in first..first + node.count as usize {
                    limit = leaf(self.order[k] as usize);
                }
                continue;
            }
            let mut children = [first, first + 1].map(|n| (cost(&self.nodes[n]), n));
            // The nearer child is pushed last, so it is walked first.
            if children[0].0.unwrap_or(f64::INFINITY) < children[1].0.unwrap_or(f64::INFINITY) {
                children.swap(0, 1);
            }
            stack.extend(children.iter().filter_map(|&(c, n)| Some((c?, n))));
        }
    }
}

fn widened(node: &Node) -> (DVec3, DVec3) {
    let min = node.min.as_dvec3();
    let max = node.max.as_dvec3();
    let by = DVec3::splat(min.abs().max(max.abs()).max_element() * WIDEN);
    (min - by, max + by)
}

/// A leaf over these triangles, which stand from `first` on in the order.
fn leaf(triangles: &[[Vec3; 3]], numbers: &[u32], first: usize) -> Node {
    let corners = numbers.iter().flat_map(|n| triangles[*n as usize]);
    let (min, max) = corners.fold((Vec3::INFINITY, Vec3::NEG_INFINITY), |(min, max), c| {
        (min.min(c), max.max(c))
    });
    Node {
        min,
        max,
        first: first as u32,
        count: numbers.len() as u32,
    }
}
