//! Places on the finished mesh for evidence and pins.

use crate::noise::scramble;
use crate::paint::remains::survival;
use crate::paint::texel::{Place, place};
use crate::region::Region;
use crate::sculpt::Sculpture;
use crate::surface::glb::METRE_PER_CM;
use crate::surface::mesh::Mesh;
use crate::surface::unwrap::Sheet;
use anyhow::{Context, Result};
use glam::{Vec2, Vec3};
use serde::Deserialize;
use serde_json::{Value, json};

/// What the story says about a place.
#[derive(Debug, Deserialize)]
pub(crate) struct Wish {
    /// Region it must lie in.
    pub(crate) region: String,
    /// x and y, centimetres, that it should be near.
    pub(crate) near_cm: [f32; 2],
    /// Must carry remains of paint.
    #[serde(default)]
    pub(crate) remains: bool,
    /// Is on a side turned away from the viewer.
    #[serde(default)]
    pub(crate) under: bool,
}

/// Finds places.
pub(crate) struct Finder<'a> {
    sculpture: &'a Sculpture,
    meshes: [&'a Mesh; 2],
    sheets: &'a [Sheet],
    seed: u32,
    /// Side of the smallest sheet in use, texels: an anchor's texel must be its region's there too.
    size: usize,
}

impl<'a> Finder<'a> {
    pub(crate) fn new(
        sculpture: &'a Sculpture,
        meshes: [&'a Mesh; 2],
        sheets: &'a [Sheet],
        seed: u32,
        size: usize,
    ) -> Self {
        Self {
            sculpture,
            meshes,
            sheets,
            seed,
            size,
        }
    }

    fn middle(&self, sheet: &Sheet, triangle: u32) -> (Vec2, Place) {
        let t = sheet.triangles[triangle as usize];
        let uv = t.map(|c| sheet.corners[c as usize].uv).iter().sum::<Vec2>() / 3.0;
        let at = uv * self.size as f32;
        (
            uv,
            place(self.sculpture, &self.meshes, sheet, triangle, at, self.size),
        )
    }

    /// The texel of the anchor, and if it shall be roomy its four neighbours, are of the same
    /// region, as far as the carving says.
    fn is_safe(&self, sheet: &Sheet, triangle: u32, uv: Vec2, region: Region, roomy: bool) -> bool {
        let at = uv * self.size as f32;
        let middle = at.floor() + 0.5 - at;
        let around = [Vec2::NEG_X, Vec2::X, Vec2::NEG_Y, Vec2::Y];
        std::iter::once(middle)
            .chain(around.into_iter().filter(|_| roomy))
            .all(|off| {
                let at = at + off;
                place(self.sculpture, &self.meshes, sheet, triangle, at, self.size).region == region
            })
    }

    /// The anchor nearest to a wish, as the dossier writes it.
    pub(crate) fn find(&self, wish: &Wish, used: &mut Vec<Vec3>) -> Result<Value> {
        let region = Region::from_id(&wish.region).with_context(|| {
            format!(
                "the story wishes for a place in {:?}, which is no region",
                wish.region
            )
        })?;
        let mut list = self.candidates(wish);
        list.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        // What is asked is given up step by step: remains first, then the distance (cm) to other
        // anchors and to the region's edge, for small regions on coarse sheets.
        for (strict, roomy, apart_cm) in
            [(true, true, 0.3), (false, true, 0.3), (false, false, 0.12)]
        {
            for &(_, s, t) in &list {
                let sheet = &self.sheets[s];
                let (uv, place) = self.middle(sheet, t);
                let kept = !strict || !wish.remains || survival(self.seed, &place).paint > 0.9;
                let apart = used.iter().all(|u| u.distance(place.p) > apart_cm);
                if place.region == region
                    && kept
                    && apart
                    && self.is_safe(sheet, t, uv, region, roomy)
                {
                    used.push(place.p);
                    return Ok(anchor(sheet, uv, &place));
                }
            }
        }
        anyhow::bail!(
            "no place for an anchor in region {:?}: try another seed",
            wish.region
        )
    }

    /// Triangles by distance from the wished place; only the nearest few thousand are kept.
    fn candidates(&self, wish: &Wish) -> Vec<(f32, usize, u32)> {
        let near = Vec2::from(wish.near_cm);
        let mut list = Vec::new();
        for (s, sheet) in self.sheets.iter().enumerate() {
            for (t, corners) in sheet.triangles[..sheet.of_boss].iter().enumerate() {
                let c = sheet.corners[corners[0] as usize];
                let mesh = self.meshes[0];
                let (p, n) = (
                    mesh.positions[c.vertex as usize],
                    mesh.normals[c.vertex as usize],
                );
                let turned = if wish.under {
                    n.z < 0.1
                } else {
                    n.z > 0.25 || wish.region == "bed"
                };
                let distance = p.truncate().distance(near);
                if turned && distance < 6.0 {
                    list.push((distance, s, t as u32));
                }
            }
        }
        list
    }
}

fn anchor(sheet: &Sheet, uv: Vec2, place: &Place) -> Value {
    // Six decimals: a tenth of a texel at 16384, and a thousandth of a millimetre.
    let tidy = |x: f32| (f64::from(x) * 1e6).round() / 1e6;
    let p = place.p * METRE_PER_CM;
    json!({
        "sheet": sheet.id,
        "uv": [tidy(uv.x), tidy(uv.y)],
        "position_m": [tidy(p.x), tidy(p.y), tidy(p.z)],
        "normal": [tidy(place.n.x), tidy(place.n.y), tidy(place.n.z)]
    })
}

/// The seed of noise on texels from the seed of the run.
pub(crate) fn noise_seed(seed: u64) -> u32 {
    scramble(seed as u32 ^ scramble((seed >> 32) as u32 ^ 0xb055))
}
