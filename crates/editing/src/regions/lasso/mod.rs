//! The lasso: what is seen within a line drawn on the screen.
//!
//! Whether something lies before a texel is read off a depth buffer where that
//! is beyond doubt, and else asked by a ray: near silhouettes, on slopes and
//! where two pieces of surface come close.

mod depth;
mod outline;
mod projection;

use glam::{DVec2, DVec3};

use super::Selection;
use super::geometry::TexelGeometry;
use depth::{Depth, Plane};
use outline::Line;
pub use projection::Projection;
use projection::Seen;

/// A ray that ends this near to a texel has reached it, as part of the radius
/// of the whole surface. Choice of this project: 0.02 mm on 40 cm.
const REACHED: f64 = 1e-4;

/// What lies less before a texel, in parts of the radius, is taken for the same
/// surface. Choice of this project: 0.1 mm on 40 cm.
const SAME_SURFACE: f64 = 5e-4;

/// Something this many pixels further before a texel hides it for certain.
const HIDES_PX: f64 = 4.0;

impl TexelGeometry {
    /// The texels whose centre lies within a polygon on the screen (CSS pixels
    /// from the top left; even-odd where the line crosses itself), that face the
    /// eye and that nothing hides. What lies off the picture is not seen. `visible` accepts the patches that are shown.
    #[must_use]
    pub fn lasso(
        &self,
        polygon: &[[f64; 2]],
        projection: &Projection,
        visible: &dyn Fn(usize) -> bool,
    ) -> Selection {
        let (Some(line), Some(radius_m)) = (Line::new(polygon), self.radius_m()) else {
            return Selection::default();
        };
        if !projection.is_finite() {
            return Selection::default();
        }
        let look = Look {
            geometry: self,
            depth: Depth::new(self.mesh(), projection, line.bounds(), visible),
            projection,
            radius_m,
            visible,
        };
        let mut texels = Vec::new();
        for triangle in 0..self.mesh().count() as u32 {
            look.triangle(triangle, &line, &mut texels);
        }
        Selection::new(texels)
    }

    fn radius_m(&self) -> Option<f64> {
        let corners = self.mesh().corners.iter().flatten().copied();
        let radius = ganosis_surface::Bounds::of(corners)?.radius_m();
        radius.is_finite().then_some(f64::from(radius))
    }
}

struct Look<'a> {
    geometry: &'a TexelGeometry,
    depth: Depth,
    projection: &'a Projection,
    radius_m: f64,
    visible: &'a dyn Fn(usize) -> bool,
}

impl Look<'_> {
    /// Texels of one triangle.
    fn triangle(&self, triangle: u32, line: &Line, texels: &mut Vec<u32>) {
        let mesh = self.geometry.mesh();
        if !(self.visible)(mesh.patches[triangle as usize] as usize) {
            return;
        }
        let corners = mesh.corners[triangle as usize].map(|c| c.as_dvec3());
        let normal = (corners[1] - corners[0]).cross(corners[2] - corners[0]);
        if normal.dot(self.projection.eye() - corners[0]) <= 0.0 {
            return;
        }
        let Some((outline, page)) = self.geometry.outline(triangle) else {
            return;
        };
        let seen = corners.map(|c| self.projection.see(c));
        if let [Some(a), Some(b), Some(c)] = seen
            && !line.may_hold(&[a.place, b.place, c.place])
        {
            return;
        }
        let plane = Plane::of(seen);
        outline.touched(outline.bounds(), &mut |span| {
            for x in span.first..=span.last {
                let texel = page.texel(x, span.row);
                if self.geometry.owner(texel) != Some(triangle) {
                    continue;
                }
                let (w, _) = outline.nearest(x, span.row);
                let point = corners[0] * w[0] + corners[1] * w[1] + corners[2] * w[2];
                if let Some(seen) = self.projection.see(point)
                    && self.projection.shows(seen.place)
                    && line.holds(seen.place)
                    && self.is_open(point, &seen, plane.as_ref())
                {
                    texels.push(texel);
                }
            }
        });
    }

    /// Whether nothing lies between the eye and a point.
    fn is_open(&self, point: DVec3, seen: &Seen, plane: Option<&Plane>) -> bool {
        let same_m = SAME_SURFACE * self.radius_m;
        let hides_m = same_m + HIDES_PX * self.depth.pixel_m(self.projection, seen.depth_m);
        let (mut free, mut hidden) = (plane.is_some(), plane.is_some());
        if let Some(plane) = plane {
            self.depth
                .around(seen.place, &mut |place: DVec2, nearest_m: f64| {
                    let own_m = plane.depth_m(place);
                    // A plane so steep that it leaves the texel within a pixel says nothing.
                    let own_m = own_m.filter(|own| (own - seen.depth_m).abs() <= hides_m);
                    free = free && own_m.is_some_and(|own| own - nearest_m <= same_m);
                    hidden = hidden && own_m.is_some_and(|own| own - nearest_m > hides_m);
                });
        }
        if free || hidden {
            return free;
        }
        let eye = self.projection.eye();
        let away = point - eye;
        let hit = self
            .geometry
            .picker()
            .ray(eye.as_vec3(), away.as_vec3(), self.visible);
        hit.is_none_or(|hit| f64::from(hit.distance_m) >= away.length() - REACHED * self.radius_m)
    }
}
