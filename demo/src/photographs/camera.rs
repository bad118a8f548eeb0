//! Simulated cameras: lenses with distortion, and where they stand.
//!
//! Written anew from the published formulas, and not taken from the code that solves poses: a mistake
//! there must not be hidden by the same mistake here.

use glam::{DMat3, DVec2, DVec3};
use serde_json::{Value, json};

/// A lens after Brown (1966) and Conrady (1919): radial terms k1 k2 k3, decentring p1 p2.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lens {
    /// Pixels.
    pub(crate) width_px: usize,
    /// Pixels.
    pub(crate) height_px: usize,
    /// Focal length in pixels.
    pub(crate) focal_px: f64,
    /// Principal point from the top left corner.
    pub(crate) centre_px: DVec2,
    /// k1 k2 k3.
    pub(crate) radial: [f64; 3],
    /// p1 p2.
    pub(crate) decentring: [f64; 2],
}

/// Rounds of the inversion; each wins about two digits at these distortions.
const ROUNDS: usize = 24;

impl Lens {
    fn factor(&self, r2: f64) -> f64 {
        let [a, b, c] = self.radial;
        1.0 + r2 * (a + r2 * (b + r2 * c))
    }

    fn aside(&self, n: DVec2) -> DVec2 {
        let [p1, p2] = self.decentring;
        let r2 = n.length_squared();
        DVec2::new(
            2.0 * p1 * n.x * n.y + p2 * (r2 + 2.0 * n.x * n.x),
            p1 * (r2 + 2.0 * n.y * n.y) + 2.0 * p2 * n.x * n.y,
        )
    }

    /// The pixel of a point in camera space, before the camera.
    pub(crate) fn pixel(&self, camera: DVec3) -> DVec2 {
        let n = camera.truncate() / camera.z;
        let bent = n * self.factor(n.length_squared()) + self.aside(n);
        bent * self.focal_px + self.centre_px
    }

    /// The normalised point seen at a pixel.
    pub(crate) fn normalised(&self, pixel: DVec2) -> DVec2 {
        let bent = (pixel - self.centre_px) / self.focal_px;
        let mut n = bent;
        for _ in 0..ROUNDS {
            n = (bent - self.aside(n)) / self.factor(n.length_squared());
        }
        n
    }

    /// As lenses are written for `ganosis pose --lens`.
    pub(crate) fn json(&self) -> Value {
        let [k1, k2, k3] = self.radial;
        let [p1, p2] = self.decentring;
        json!({
            "width_px": self.width_px,
            "height_px": self.height_px,
            "focal_px": [self.focal_px, self.focal_px],
            "centre_px": self.centre_px.to_array(),
            "distortion": {"k1": k1, "k2": k2, "k3": k3, "p1": p1, "p2": p2},
        })
    }

    /// A line of a COLMAP text model: FULL_OPENCV, with the parameters in its documented order.
    pub(crate) fn model_line(&self, number: usize) -> String {
        let [k1, k2, k3] = self.radial;
        let [p1, p2] = self.decentring;
        let (f, c) = (self.focal_px, self.centre_px);
        let (w, h) = (self.width_px, self.height_px);
        format!(
            "{number} FULL_OPENCV {w} {h} {f} {f} {} {} {k1} {k2} {p1} {p2} {k3} 0 0 0\n",
            c.x, c.y
        )
    }
}

/// Where a camera stands: camera = rotation · surface + translation, in metres; x to the right of
/// the picture, y down, z into it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Station {
    /// From the surface to the camera.
    pub(crate) rotation: DMat3,
    /// The surface's origin in camera space.
    pub(crate) translation_m: DVec3,
}

impl Station {
    /// Standing at one place and looking at another, the picture turned by `roll` radians.
    pub(crate) fn looking(from: DVec3, to: DVec3, roll: f64) -> Self {
        let forward = (to - from).normalize();
        let right = forward.cross(DVec3::Y).normalize();
        let down = forward.cross(right);
        let (s, c) = (libm::sin(roll), libm::cos(roll));
        let (x, y) = (right * c + down * s, down * c - right * s);
        let rotation = DMat3::from_cols(x, y, forward).transpose();
        Self {
            rotation,
            translation_m: -(rotation * from),
        }
    }

    /// The same camera turned by small angles about its own x and y (radians).
    pub(crate) fn nudged(&self, about_x: f64, about_y: f64) -> Self {
        let (sx, cx) = (libm::sin(about_x), libm::cos(about_x));
        let (sy, cy) = (libm::sin(about_y), libm::cos(about_y));
        let x = DMat3::from_cols(DVec3::X, DVec3::new(0.0, cx, sx), DVec3::new(0.0, -sx, cx));
        let y = DMat3::from_cols(DVec3::new(cy, 0.0, -sy), DVec3::Y, DVec3::new(sy, 0.0, cy));
        let turn = x * y;
        Self {
            rotation: turn * self.rotation,
            translation_m: turn * self.translation_m,
        }
    }

    /// A place of the surface in camera space.
    pub(crate) fn camera(&self, place_m: DVec3) -> DVec3 {
        self.rotation * place_m + self.translation_m
    }

    /// The camera's place.
    pub(crate) fn centre_m(&self) -> DVec3 {
        -(self.rotation.transpose() * self.translation_m)
    }

    /// The direction of a normalised point, on the surface's axes.
    pub(crate) fn ray(&self, normalised: DVec2) -> DVec3 {
        self.rotation.transpose() * normalised.extend(1.0)
    }

    /// As in a file of poses.
    pub(crate) fn json(&self) -> Value {
        let rows = self.rotation.transpose().to_cols_array_2d();
        json!({"rotation": rows, "translation_m": self.translation_m.to_array()})
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pixel_and_its_ray_belong_together() {
        let lens = Lens {
            width_px: 720,
            height_px: 480,
            focal_px: 1370.0,
            centre_px: DVec2::new(363.2, 238.1),
            radial: [-0.11, 0.08, -0.02],
            decentring: [6e-4, -9e-4],
        };
        let from = DVec3::new(0.3, 0.2, 1.1);
        let station = Station::looking(from, DVec3::ZERO, 0.1).nudged(0.01, -0.02);
        assert!((station.centre_m() - from).length() < 1e-12);
        for pixel in [
            DVec2::ZERO,
            DVec2::new(720.0, 480.0),
            DVec2::new(10.5, 300.25),
        ] {
            let place = from + station.ray(lens.normalised(pixel)) * 0.8;
            let back = lens.pixel(station.camera(place));
            assert!((back - pixel).length() < 1e-9, "{pixel} {back}");
        }
    }
}
