//! How much of the surface has which band value.

use glam::Vec2;

use super::App;
use crate::content::{Content, ImageKind, Values};

/// Texels that one value is read for, and most rows of places in a triangle: choices of ours, which
/// read a sixteenth of an image and bound what one large triangle costs.
const TEXELS_A_PLACE: f32 = 16.0;
const MOST_ROWS: f32 = 512.0;
/// Classes of a histogram: a screen shows about two pixels of each.
const CLASSES: usize = 128;

impl App {
    /// Shares of the covered surface by the value of a band layer, in equal classes over its range; none
    /// before an image of it is here. Every triangle counts by its area, with values evenly over it.
    #[must_use]
    pub fn histogram(&self, layer: &str) -> Option<Vec<f64>> {
        let content = self.content.as_ref()?;
        let surface = content.surface()?;
        let index = content.document.layers.iter().position(|l| l.id == layer)?;
        let mut classes = vec![0.0; CLASSES];
        for patch in &surface.patches {
            let Some(values) = values_of(content, index, patch.sheet) else {
                continue;
            };
            for triangle in patch.indices.chunks_exact(3) {
                let corner = |i: usize| triangle[i] as usize;
                let [a, b, c] = [0, 1, 2].map(|i| patch.positions[corner(i)].as_dvec3());
                let area = (b - a).cross(c - a).length();
                let uv = [0, 1, 2].map(|i| patch.uvs[corner(i)]);
                let places = places(uv, values.size);
                for place in &places {
                    let share =
                        f64::from(values.at(place.to_array())) / f64::from(values.full_scale);
                    let class = ((share * CLASSES as f64) as usize).min(CLASSES - 1);
                    classes[class] += area / places.len() as f64;
                }
            }
        }
        let whole: f64 = classes.iter().sum();
        (whole > 0.0).then(|| classes.iter().map(|area| area / whole).collect())
    }
}

/// Middles of a triangle's equal parts, at least one.
fn places(corners: [Vec2; 3], size: [u32; 2]) -> Vec<Vec2> {
    let [a, b, c] = corners;
    let texels = (b - a).perp_dot(c - a).abs() / 2.0 * size[0] as f32 * size[1] as f32;
    // `rows` times `rows` parts, of which each has about as many texels as said.
    let rows = (texels / TEXELS_A_PLACE)
        .sqrt()
        .ceil()
        .clamp(1.0, MOST_ROWS) as u32;
    let step = |weights: [u32; 3]| {
        let parts = weights.map(|w| w as f32 / (3 * rows) as f32);
        a * parts[0] + b * parts[1] + c * parts[2]
    };
    let mut found = Vec::new();
    for i in 0..rows {
        for j in 0..rows - i {
            let k = rows - 1 - i - j;
            found.push(step([3 * i + 1, 3 * j + 1, 3 * k + 1]));
            if k > 0 {
                // The part that stands on its point, beside it.
                found.push(step([3 * i + 2, 3 * j + 2, 3 * k - 1]));
            }
        }
    }
    found
}

fn values_of(content: &Content, layer: usize, sheet: usize) -> Option<&Values> {
    let image = content.image_of(Some(layer), sheet, ImageKind::Band)?;
    content.images[image].values.as_ref()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mean of x, y and of their squares over a triangle (its moments).
    #[test]
    fn places_lie_evenly_over_a_triangle() {
        let corners = [Vec2::ZERO, Vec2::X, Vec2::Y];
        let places = places(corners, [512, 512]);
        assert_eq!(places.len(), 91 * 91);
        let mean =
            |of: &dyn Fn(&Vec2) -> f32| places.iter().map(of).sum::<f32>() / places.len() as f32;
        assert!((mean(&|p| p.x) - 1.0 / 3.0).abs() < 1e-3);
        assert!((mean(&|p| p.x * p.x) - 1.0 / 6.0).abs() < 1e-3);
        assert!((mean(&|p| p.x * p.y) - 1.0 / 12.0).abs() < 1e-3);
        assert_eq!(super::places(corners, [2, 2]).len(), 1);
    }
}
