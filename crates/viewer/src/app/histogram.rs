//! How much of the surface has which band value.

use ganosis_surface::area;
use glam::Vec2;

use super::App;
use crate::content::{Content, ImageKind, Values};

/// Texels that one value is read for, and most parts along a side of a triangle: choices of ours, which
/// read a sixteenth of an image and bound what one large triangle costs.
const TEXELS_A_PLACE: f32 = 16.0;
const MOST_PARTS: f32 = 512.0;
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
            let size = Vec2::new(values.size[0] as f32, values.size[1] as f32);
            for triangle in 0..patch.triangle_count() {
                let Some(corners) = patch.triangle(triangle) else {
                    continue;
                };
                let [a, b, c] = corners.map(|v| surface.sheet_uv(patch, v));
                let texels = ((b - a) * size).perp_dot((c - a) * size).abs() / 2.0;
                // As many parts as have about the texels said.
                let parts = (texels / TEXELS_A_PLACE).sqrt().ceil();
                let parts = parts.clamp(1.0, MOST_PARTS) as u32;
                let share_m2 = area::triangle_m2(patch, triangle) / f64::from(parts * parts);
                for weights in area::centroids(parts) {
                    let uv = a * weights[0] + b * weights[1] + c * weights[2];
                    let value = f64::from(values.at(uv.to_array())) / f64::from(values.full_scale);
                    classes[((value * CLASSES as f64) as usize).min(CLASSES - 1)] += share_m2;
                }
            }
        }
        let whole: f64 = classes.iter().sum();
        (whole > 0.0).then(|| classes.iter().map(|area| area / whole).collect())
    }
}

fn values_of(content: &Content, layer: usize, sheet: usize) -> Option<&Values> {
    let image = content.image_of(Some(layer), sheet, ImageKind::Band)?;
    content.images[image].values.as_ref()
}
