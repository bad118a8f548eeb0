//! From space to the screen.

use glam::{DMat4, DVec2, DVec3};

/// How a picture was seen: in perspective.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projection {
    /// Clip space from world space, column by column: x and y are in -1..1, y
    /// upwards, after division by w, which grows with the distance.
    pub view_projection: [f64; 16],
    /// Where the eye is, metres.
    pub eye_m: [f64; 3],
    /// Width of the picture in CSS pixels.
    pub width_px: f64,
    /// Height of the picture in CSS pixels.
    pub height_px: f64,
}

/// A point on the screen.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    /// CSS pixels from the top left.
    pub(crate) place: DVec2,
    /// Along the view, in metres where the projection's last row is of unit length.
    pub(crate) depth_m: f64,
}

impl Projection {
    pub(crate) fn is_finite(&self) -> bool {
        let sizes = [self.width_px, self.height_px];
        let numbers = self.view_projection.iter().chain(&self.eye_m);
        numbers.chain(&sizes).all(|n| n.is_finite()) && sizes.iter().all(|s| *s > 0.0)
    }

    pub(crate) fn eye(&self) -> DVec3 {
        DVec3::from_array(self.eye_m)
    }

    /// `None` for what is not before the eye.
    pub(crate) fn see(&self, point: DVec3) -> Option<Seen> {
        let clip = DMat4::from_cols_array(&self.view_projection) * point.extend(1.0);
        if clip.w <= 0.0 {
            return None;
        }
        let (x, y) = (clip.x / clip.w, clip.y / clip.w);
        let place = DVec2::new(
            (0.5 + 0.5 * x) * self.width_px,
            (0.5 - 0.5 * y) * self.height_px,
        );
        place.is_finite().then_some(Seen {
            place,
            depth_m: clip.w,
        })
    }

    /// Whether a place lies on the picture.
    pub(crate) fn shows(&self, place: DVec2) -> bool {
        let size = DVec2::new(self.width_px, self.height_px);
        place.cmpge(DVec2::ZERO).all() && place.cmple(size).all()
    }

    /// Metres that a CSS pixel covers at a depth, across the view.
    pub(crate) fn pixel_m(&self, depth_m: f64) -> f64 {
        let m = &self.view_projection;
        let row = |k: usize| DVec3::new(m[k], m[4 + k], m[8 + k]).length();
        let across = 2.0 * depth_m / (row(0) * self.width_px);
        let down = 2.0 * depth_m / (row(1) * self.height_px);
        across.max(down)
    }
}
