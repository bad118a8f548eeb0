//! Surfaces made by formula.
#![allow(dead_code, unreachable_pub, reason = "each test uses a part")]

use ganosis_editing::regions::{MapSize, RegionMap, RegionMaps, TexelGeometry};
use ganosis_surface::{Patch, Sheet, Surface};
use glam::{Vec2, Vec3};

/// A grid of `across` × `down` pieces, two triangles each, over the rectangle of
/// UVs from `low` to `high`. `place` takes 0..1 in both directions.
pub fn grid(
    sheet: usize,
    [across, down]: [u32; 2],
    [low, high]: [Vec2; 2],
    place: impl Fn(f32, f32) -> Vec3,
) -> Patch {
    let mut patch = Patch {
        sheet,
        ..Patch::default()
    };
    for j in 0..=down {
        for i in 0..=across {
            let (s, t) = (i as f32 / across as f32, j as f32 / down as f32);
            patch.positions.push(place(s, t));
            patch.uvs.push(low + (high - low) * Vec2::new(s, t));
        }
    }
    patch.normals = vec![Vec3::ZERO; patch.positions.len()];
    let at = |i: u32, j: u32| j * (across + 1) + i;
    for (i, j) in (0..down).flat_map(|j| (0..across).map(move |i| (i, j))) {
        let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i, j + 1), at(i + 1, j + 1)];
        patch.indices.extend([a, c, b, b, c, d]);
    }
    patch
}

/// All of 0..1.
pub const WHOLE: [Vec2; 2] = [Vec2::ZERO, Vec2::ONE];

/// Patches on one sheet, or on several.
pub fn surface(patches: Vec<Patch>) -> Surface {
    let sheets = patches.iter().map(|p| p.sheet).max().unwrap_or(0) + 1;
    Surface {
        sheets: (0..sheets)
            .map(|k| Sheet::plain(format!("sheet {k}")))
            .collect(),
        patches,
        ..Surface::default()
    }
}

/// A square in the plane z = 0, `side_m` wide, seen from +z, its middle at the origin.
pub fn plane(side_m: f32, pieces: u32) -> Surface {
    surface(vec![grid(0, [pieces; 2], WHOLE, |s, t| {
        Vec3::new((s - 0.5) * side_m, (0.5 - t) * side_m, 0.0)
    })])
}

/// Geometry and empty maps of `size` × `size` texels for every sheet.
pub fn canvas(surface: &Surface, size: u32) -> (TexelGeometry, RegionMaps) {
    let sizes: Vec<MapSize> = (0..surface.sheets.len())
        .map(|sheet| MapSize {
            sheet,
            width_px: size,
            height_px: size,
        })
        .collect();
    let maps = surface.sheets.iter();
    let maps = RegionMaps {
        maps: maps
            .map(|sheet| RegionMap::empty(&sheet.name, size, size))
            .collect(),
    };
    (TexelGeometry::new(surface, &sizes).unwrap(), maps)
}

/// Numbers from a seed (xorshift64*, G. Marsaglia 2003 and S. Vigna 2016).
pub struct Random(pub u64);

impl Random {
    pub fn below(&mut self, count: u32) -> u32 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let word = self.0.wrapping_mul(2_685_821_657_736_338_717) >> 32;
        ((word * u64::from(count)) >> 32) as u32
    }

    /// From 0 to 1.
    pub fn part(&mut self) -> f32 {
        self.below(1 << 24) as f32 / 16_777_216.0
    }
}
