//! How far the nearest surface is, by pixel.

use glam::{DVec2, DVec3};

use super::projection::{Projection, Seen};
use crate::regions::geometry::Mesh;

/// Most pixels of the buffer in each direction. Choice of this project.
const MOST_PX: f64 = 2048.0;

/// Most pixels of the buffer in a CSS pixel.
const MOST_FINE: f64 = 4.0;

/// What is nearer to the eye than this part of the furthest is left to rays.
const NEAR: f64 = 1e-4;

/// The inverse depth of a triangle's plane over the screen, where it is linear.
pub(crate) struct Plane {
    at: DVec2,
    inverse: f64,
    slope: DVec2,
}

impl Plane {
    /// `None` if a corner is not before the eye, or the triangle is seen edge-on.
    pub(crate) fn of(seen: [Option<Seen>; 3]) -> Option<Self> {
        let [Some(a), Some(b), Some(c)] = seen else {
            return None;
        };
        let (p, q) = (b.place - a.place, c.place - a.place);
        let whole = p.perp_dot(q);
        let inverse = 1.0 / a.depth_m;
        let (u, v) = (1.0 / b.depth_m - inverse, 1.0 / c.depth_m - inverse);
        let slope = DVec2::new(u * q.y - v * p.y, v * p.x - u * q.x) / whole;
        slope.is_finite().then_some(Self {
            at: a.place,
            inverse,
            slope,
        })
    }

    /// `None` where the plane does not come before the eye.
    pub(crate) fn depth_m(&self, place: DVec2) -> Option<f64> {
        let inverse = self.inverse + self.slope.dot(place - self.at);
        (inverse > 0.0).then(|| 1.0 / inverse)
    }
}

pub(crate) struct Depth {
    /// Top left corner, in CSS pixels.
    origin: DVec2,
    /// Pixels of the buffer in a CSS pixel.
    fine: f64,
    size: [usize; 2],
    /// Greatest inverse depth; 0 where nothing is.
    inverses: Vec<f32>,
}

impl Depth {
    /// Over a rectangle of the screen and a pixel around it.
    pub(crate) fn new(
        mesh: &Mesh,
        projection: &Projection,
        (min, max): (DVec2, DVec2),
        visible: &dyn Fn(usize) -> bool,
    ) -> Self {
        let screen = DVec2::new(projection.width_px, projection.height_px);
        let min = min.clamp(DVec2::ZERO, screen) - 1.0;
        let max = max.clamp(DVec2::ZERO, screen) + 1.0;
        let fine = (MOST_PX / (max - min).max_element()).min(MOST_FINE);
        let size = ((max - min) * fine).ceil().max(DVec2::ONE);
        let size = [size.x as usize, size.y as usize];
        let mut depth = Self {
            origin: min,
            fine,
            size,
            inverses: vec![0.0; size[0] * size[1]],
        };
        for (corners, patch) in mesh.corners.iter().zip(&mesh.patches) {
            if visible(*patch as usize) {
                depth.draw(projection, corners.map(|c| c.as_dvec3()));
            }
        }
        depth
    }

    /// Metres that a pixel of the buffer covers at a depth.
    pub(crate) fn pixel_m(&self, projection: &Projection, depth_m: f64) -> f64 {
        projection.pixel_m(depth_m) / self.fine
    }

    /// A triangle; of one that reaches behind the eye, the part before it.
    fn draw(&mut self, projection: &Projection, corners: [DVec3; 3]) {
        let seen = corners.map(|c| projection.see(c));
        if seen.iter().all(Option::is_some) {
            self.draw_seen(seen);
            return;
        }
        let deepest = seen.iter().flatten().map(|s| s.depth_m);
        let near_m = deepest.fold(0.0, f64::max) * NEAR;
        if near_m <= 0.0 {
            return;
        }
        let part = before(projection, corners, near_m);
        for k in 1..part.len().saturating_sub(1) {
            self.draw_seen([part[0], part[k], part[k + 1]].map(|p| projection.see(p)));
        }
    }

    fn draw_seen(&mut self, seen: [Option<Seen>; 3]) {
        let (Some(plane), [Some(a), Some(b), Some(c)]) = (Plane::of(seen), seen) else {
            return;
        };
        let [a, b, c] = [a, b, c].map(|s| (s.place - self.origin) * self.fine - 0.5);
        let (low, high) = (a.min(b).min(c).ceil(), a.max(b).max(c).floor());
        let last = |k: usize| self.size[k] as f64 - 1.0;
        let rows = (low.y.max(0.0), high.y.min(last(1)));
        let columns = (low.x.max(0.0), high.x.min(last(0)));
        if rows.0 > rows.1 || columns.0 > columns.1 {
            return;
        }
        let whole = (b - a).perp_dot(c - a);
        let sides = [(a, b), (b, c), (c, a)];
        for y in rows.0 as usize..=rows.1 as usize {
            for x in columns.0 as usize..=columns.1 as usize {
                let p = DVec2::new(x as f64, y as f64);
                if sides
                    .iter()
                    .all(|(a, b)| (b - a).perp_dot(p - a) * whole >= 0.0)
                {
                    let place = self.place(x, y);
                    let inverse = plane.inverse + plane.slope.dot(place - plane.at);
                    let pixel = &mut self.inverses[y * self.size[0] + x];
                    *pixel = pixel.max(inverse as f32);
                }
            }
        }
    }

    /// Middle of a pixel in CSS pixels.
    fn place(&self, x: usize, y: usize) -> DVec2 {
        self.origin + (DVec2::new(x as f64, y as f64) + 0.5) / self.fine
    }

    /// Calls `visit` with the middle of the pixel under a place and its
    /// neighbours, and the depth of the nearest surface there in metres.
    pub(crate) fn around(&self, place: DVec2, visit: &mut impl FnMut(DVec2, f64)) {
        let pixel = (place - self.origin) * self.fine;
        // Casts saturate.
        let range = |k: usize| {
            let at = (pixel[k] as usize).min(self.size[k] - 1);
            at.saturating_sub(1)..=(at + 1).min(self.size[k] - 1)
        };
        for y in range(1) {
            for x in range(0) {
                let inverse = f64::from(self.inverses[y * self.size[0] + x]);
                visit(self.place(x, y), 1.0 / inverse);
            }
        }
    }
}

/// The part of a triangle that is at least `near_m` before the eye.
fn before(projection: &Projection, corners: [DVec3; 3], near_m: f64) -> Vec<DVec3> {
    let m = &projection.view_projection;
    let row = DVec3::new(m[3], m[7], m[11]);
    let over = |p: DVec3| row.dot(p) + m[15] - near_m;
    let mut part = Vec::new();
    for k in 0..3 {
        let (a, b) = (corners[k], corners[(k + 1) % 3]);
        let (u, v) = (over(a), over(b));
        if u >= 0.0 {
            part.push(a);
        }
        if (u >= 0.0) != (v >= 0.0) {
            part.push(a + (b - a) * (u / (u - v)));
        }
    }
    part
}
