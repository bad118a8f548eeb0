//! Where the divider of a swipe lies.

/// The divider over a canvas of CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Divider {
    normal: [f64; 2],
    size: [f64; 2],
    extent: f64,
    position: f64,
}

impl Divider {
    /// At `position` 0..1 across a canvas of `size` CSS pixels, its normal turned by `angle_deg`
    /// clockwise from the x axis.
    #[must_use]
    pub fn new(size: [f64; 2], position: f64, angle_deg: f64) -> Self {
        let angle = angle_deg.to_radians();
        let normal = [angle.cos(), angle.sin()];
        let extent = size[0] * normal[0].abs() + size[1] * normal[1].abs();
        Self {
            normal,
            size,
            extent: extent.max(1.0),
            position,
        }
    }

    /// Position of a divider through a point.
    #[must_use]
    pub fn position_at(&self, x: f64, y: f64) -> f64 {
        let from_centre = [x - self.size[0] / 2.0, y - self.size[1] / 2.0];
        (from_centre[0] * self.normal[0] + from_centre[1] * self.normal[1]) / self.extent + 0.5
    }

    /// Signed distance of a point from the line (CSS px), positive on the right one's side.
    #[must_use]
    pub fn distance(&self, x: f64, y: f64) -> f64 {
        (self.position_at(x, y) - self.position) * self.extent
    }

    /// The middle of the line within the canvas: where the handle goes.
    #[must_use]
    pub fn handle(&self) -> [f64; 2] {
        let offset = (self.position - 0.5) * self.extent;
        let foot = [
            self.size[0] / 2.0 + self.normal[0] * offset,
            self.size[1] / 2.0 + self.normal[1] * offset,
        ];
        let along = [-self.normal[1], self.normal[0]];
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for axis in 0..2 {
            if along[axis].abs() > 1e-9 {
                let ends = [
                    -foot[axis] / along[axis],
                    (self.size[axis] - foot[axis]) / along[axis],
                ];
                low = low.max(ends[0].min(ends[1]));
                high = high.min(ends[0].max(ends[1]));
            }
        }
        let middle = if low < high { (low + high) / 2.0 } else { 0.0 };
        [0, 1].map(|a| (foot[a] + along[a] * middle).clamp(0.0, self.size[a]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_upright_divider_runs_from_left_to_right() {
        let divider = Divider::new([200.0, 100.0], 0.25, 0.0);
        assert!((divider.position_at(0.0, 7.0)).abs() < 1e-12);
        assert!((divider.position_at(200.0, 7.0) - 1.0).abs() < 1e-12);
        assert!((divider.distance(60.0, 0.0) - 10.0).abs() < 1e-9);
        assert_eq!(divider.handle(), [50.0, 50.0]);
    }

    #[test]
    fn a_turned_divider_covers_the_canvas_from_corner_to_corner() {
        let divider = Divider::new([200.0, 100.0], 0.5, 45.0);
        assert!(divider.position_at(0.0, 0.0).abs() < 1e-12);
        assert!((divider.position_at(200.0, 100.0) - 1.0).abs() < 1e-12);
        assert_eq!(divider.handle(), [100.0, 50.0]);
    }
}
