//! A place on the surface that outlives a change of the mesh.

use glam::{Vec2, Vec3};

use crate::Surface;
use crate::pick::{Hit, Picker};

/// A place on the surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Anchor {
    /// Name of the sheet.
    pub sheet: String,
    /// On the sheet's image ([`Surface::sheet_uv`]; v = 0 is the top row).
    pub uv: Vec2,
    /// World position in metres.
    pub position_m: Vec3,
    /// Unit normal.
    pub normal: Vec3,
}

/// A candidate must face within this angle of the anchor's normal: the two
/// sides of a thin leaf are different places. Choice of this project; cosine of 80°.
const SAME_SIDE_COSINE: f32 = 0.173_648;

impl Anchor {
    /// From a hit on this surface; `None` if the hit is from another one.
    pub fn from_hit(surface: &Surface, hit: &Hit) -> Option<Self> {
        let sheet = surface.sheets.get(surface.patches.get(hit.patch)?.sheet)?;
        Some(Self {
            sheet: sheet.name.clone(),
            uv: hit.uv,
            position_m: hit.position_m,
            normal: hit.normal,
        })
    }

    /// Finds the place again on a surface that may have been meshed anew: the
    /// nearest point within `within_m` that faces the same way; if none does,
    /// the nearest one. `None` if the surface is further away than `within_m`.
    pub fn find(&self, picker: &Picker, within_m: f32) -> Option<Hit> {
        self.find_visible(picker, within_m, &|_| true)
    }

    /// As [`Anchor::find`], on the patches that `visible` accepts.
    pub fn find_visible(
        &self,
        picker: &Picker,
        within_m: f32,
        visible: &dyn Fn(usize) -> bool,
    ) -> Option<Hit> {
        let normal = self.normal.normalize_or_zero();
        let faces = |n: Vec3| normal == Vec3::ZERO || n.dot(normal) >= SAME_SIDE_COSINE;
        picker
            .nearest_facing(self.position_m, within_m, visible, &faces)
            .or_else(|| picker.nearest(self.position_m, within_m, visible))
    }
}
