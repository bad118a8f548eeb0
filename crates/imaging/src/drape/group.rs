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

/// Where places on the surface are in one photograph; of those that it does not see the numbers mean nothing.
pub(crate) struct Projected {
    /// On the normalised plane, before distortion.
    pub(crate) normalised: [Row<f64>; 2],
    /// In pixels from the top left corner.
    pub(crate) pixel: [Row<f64>; 2],
    /// Along the axis of the lens, in metres.
    pub(crate) depth_m: Row<f64>,
}

impl Projected {
    pub(crate) fn new() -> Self {
        Self {
            normalised: [[0.0; MOST]; 2],
            pixel: [[0.0; MOST]; 2],
            depth_m: [0.0; MOST],
        }
    }
}

/// Where the texels of a group are in one photograph, and how well it sees them; of those that it does not
/// see the numbers mean nothing.
pub(crate) struct Look {
    /// Where they are.
    pub(crate) projected: Projected,
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
            projected: Projected::new(),
            cosine: [0.0; MOST],
            px_per_m2: [0.0; MOST],
            px_per_m: [0.0; MOST],
        }
    }

    /// The box in the picture of those that are seen, low and high corner in pixels, and the most that one of
    /// these lengths is there.
    pub(crate) fn extent(&self, sees: &[bool], lengths_m: &Row<f64>) -> ([[f64; 2]; 2], f64) {
        extent(self, sees, lengths_m)
    }
}

/// [`Look::extent`], for whichever of these a processor has.
#[multiversion::multiversion(targets(
    "x86_64+avx2+fma",
    "x86_64+avx512f+avx512vl+avx512dq+avx512bw"
))]
fn extent(look: &Look, sees: &[bool], lengths_m: &Row<f64>) -> ([[f64; 2]; 2], f64) {
    let n = sees.len();
    // Times −1 the least is the most.
    let least = |of: &Row<f64>, sign: f64| {
        let mut least = [f64::INFINITY; LANES];
        for (values, sees) in of[..n].chunks(LANES).zip(sees.chunks(LANES)) {
            for (least, (value, sees)) in least.iter_mut().zip(values.iter().zip(sees)) {
                let value = if *sees { sign * value } else { f64::INFINITY };
                *least = if value < *least { value } else { *least };
            }
        }
        least.into_iter().fold(f64::INFINITY, f64::min)
    };
    let low = look.projected.pixel.each_ref().map(|row| least(row, 1.0));
    let high = look.projected.pixel.each_ref().map(|row| -least(row, -1.0));
    let mut lengths_px = [0.0; MOST];
    for ((length, m), per_m) in lengths_px.iter_mut().zip(lengths_m).zip(&look.px_per_m) {
        *length = m * per_m;
    }
    ([low, high], -least(&lengths_px, -1.0))
}

/// Numbers of double precision that a processor takes at a time, at most: 512 bits.
pub(crate) const LANES: usize = 8;

const _: () = assert!(MOST.is_multiple_of(LANES), "whole parts");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_extent_is_that_of_what_is_seen() {
        let mut look = Look::new();
        let number = |i: usize, k: usize| ((i * 7919 + k * 104_729) % 1009) as f64 - 300.0;
        for i in 0..MOST {
            (look.projected.pixel[0][i], look.projected.pixel[1][i]) = (number(i, 0), number(i, 1));
            look.px_per_m[i] = 1000.0 + number(i, 2);
        }
        let lengths_m: Row<f64> = std::array::from_fn(|i| 1e-3 * (1000.0 + number(i, 3)));
        for count in [1, 9, 250, MOST] {
            let sees: Vec<bool> = (0..count).map(|i| i % 3 == 0).collect();
            look.projected.pixel[0][1] = f64::NAN;
            let seen = || (0..count).filter(|i| i % 3 == 0);
            let (boxed, most_px) = look.extent(&sees, &lengths_m);
            for (k, (low, high)) in boxed[0].into_iter().zip(boxed[1]).enumerate() {
                let least = seen()
                    .map(|i| look.projected.pixel[k][i])
                    .fold(f64::INFINITY, f64::min);
                let most = seen()
                    .map(|i| look.projected.pixel[k][i])
                    .fold(-f64::INFINITY, f64::max);
                assert_eq!([low, high], [least, most]);
            }
            let length = |i: usize| lengths_m[i] * look.px_per_m[i];
            let most = seen().map(length).fold(0.0, f64::max);
            assert!((most_px - most).abs() < 1e-9, "{most_px} {most}");
        }
    }
}
