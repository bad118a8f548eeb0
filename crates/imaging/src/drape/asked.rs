//! The texels of a group, and how large they are on the surface.

use glam::DVec3;

use super::group::{Group, MOST, Row};
use super::lattice;
use super::mesh::Face;

/// The texels of a group.
pub(crate) struct Asked {
    pub(crate) group: Group,
    /// Of each its number in the tile.
    pub(crate) at: Row<usize>,
    /// Whether a chart touches it.
    pub(crate) is_chart: Row<bool>,
    /// Which of `texels` it is like.
    pub(crate) like: Row<usize>,
    /// Of that the longer step, in metres.
    pub(crate) longest_m: Row<f64>,
    pub(crate) texels: Vec<Texel>,
}

impl Asked {
    pub(crate) fn new() -> Self {
        Self {
            group: Group::new(),
            at: [0; MOST],
            is_chart: [false; MOST],
            like: [0; MOST],
            longest_m: [0.0; MOST],
            texels: Vec::with_capacity(MOST),
        }
    }

    /// Whether the group is full, and the texels of a lattice no further apart than this.
    pub(crate) fn is_finer_than(&self, apart_m: f64) -> bool {
        let most = apart_m / lattice::STEP as f64;
        self.group.count == MOST && self.longest_m.iter().all(|m| *m <= most)
    }
}

/// A texel of a triangle on the surface.
#[derive(Clone, Copy)]
pub(crate) struct Texel {
    /// The triangle.
    pub(crate) face: u32,
    /// One texel to the right, one down.
    pub(crate) steps_m: [DVec3; 2],
    /// The longer of them in metres.
    pub(crate) longest_m: f64,
}

impl Texel {
    pub(crate) fn new(number: u32, face: &Face) -> Self {
        let steps_m = face.texel_steps_m();
        Self {
            face: number,
            steps_m,
            longest_m: steps_m[0].length().max(steps_m[1].length()),
        }
    }
}
