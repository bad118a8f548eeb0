//! Texels side by side, as rows of numbers: what is asked of one photograph is asked for all of them in one
//! loop, which a processor does several at a time.

use glam::Vec3;

use super::mesh::Face;
use super::texels::Place;

/// Side of the square of a tile that makes a group, in texels: its pixels in a photograph lie in a block or
/// two, and its numbers in the nearest memory of a processor (a choice of ours).
pub(crate) const SIDE: usize = 16;

/// Most texels in a group.
pub(crate) const MOST: usize = SIDE * SIDE;

/// Numbers of one kind, one for each texel.
pub(crate) type Row<T> = [T; MOST];

/// Places on the surface.
pub(crate) struct Group {
    /// How many there are.
    pub(crate) count: usize,
    /// Places in metres, by axis.
    pub(crate) points_m: [Row<f64>; 3],
    /// Unit normals, by axis.
    pub(crate) normals: [Row<f64>; 3],
}

impl Group {
    pub(crate) fn new() -> Self {
        Self {
            count: 0,
            points_m: [[0.0; MOST]; 3],
            normals: [[0.0; MOST]; 3],
        }
    }

    /// Puts one more in, of which there must be fewer than [`MOST`].
    pub(crate) fn push(&mut self, face: &Face, place: &Place) {
        let weights = place.weights();
        let (point, normal) = (face.point(weights), face.normal(weights));
        let put = |rows: &mut [Row<f64>; 3], v: Vec3| {
            for (row, v) in rows.iter_mut().zip(v.to_array()) {
                row[self.count] = f64::from(v);
            }
        };
        put(&mut self.points_m, point);
        put(&mut self.normals, normal);
        self.count += 1;
    }
}

/// Where the texels of a group are in one photograph, and how well it sees them; of those that it does not
/// see the numbers mean nothing.
pub(crate) struct Look {
    /// On the normalised plane, before distortion.
    pub(crate) normalised: [Row<f64>; 2],
    /// In pixels from the top left corner.
    pub(crate) pixel: [Row<f64>; 2],
    /// Along the axis of the lens, in metres.
    pub(crate) depth_m: Row<f64>,
    /// Cosine between normal and line of sight, not less than what was asked for.
    pub(crate) cosine: Row<f64>,
    /// Pixels for each square metre of surface.
    pub(crate) px_per_m2: Row<f64>,
    /// Pixels for a metre across the line of sight.
    pub(crate) px_per_m: Row<f64>,
}

impl Look {
    pub(crate) fn new() -> Self {
        Self {
            normalised: [[0.0; MOST]; 2],
            pixel: [[0.0; MOST]; 2],
            depth_m: [0.0; MOST],
            cosine: [0.0; MOST],
            px_per_m2: [0.0; MOST],
            px_per_m: [0.0; MOST],
        }
    }
}
