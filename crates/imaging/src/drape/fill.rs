//! Light for places that no photograph saw, made up from what lies about them on the surface. Only
//! where it is asked for, and always marked.

use super::joins::{joined, places};
use super::run::Drape;
use super::texels::Place;
use super::tile::{TileResult, coverage};
use crate::error::Result;

/// Rounds in which made-up vertices become the mean of their neighbours (a choice of ours).
const ROUNDS: usize = 60;

/// Least weight of a texel at a corner of its triangle: so little that it counts only where a corner has
/// no texel nearer, and not nothing (a choice of ours).
const LEAST_WEIGHT: f32 = 1e-6;

/// Light at each vertex.
pub struct Fill {
    /// Vertices of each triangle, those at one place joined.
    corners: Vec<[u32; 3]>,
    light: Vec<[f32; 3]>,
    /// Whether a vertex has light: not on a part of the surface of which nothing was seen.
    has: Vec<bool>,
}

impl Fill {
    /// Gathers what was seen onto the vertices, and spreads it over the mesh to those that nothing
    /// was seen of: ring by ring, then smoothed.
    ///
    /// # Errors
    /// The room cannot be read.
    pub fn new(drape: &Drape) -> Result<Self> {
        let (corners, vertices) = joined(&drape.mesh.faces, places);
        let channels = drape.settings.channels;
        let mut sums = vec![[0.0_f32; 4]; vertices];
        for tile in 0..drape.tiles.tiles.len() {
            if drape.tiles.is_empty(tile) {
                continue;
            }
            let result = drape.tile(tile)?;
            for (i, place) in drape.tiles.places(drape.mesh, tile).iter().enumerate() {
                if result.coverage[i] != coverage::SEEN {
                    continue;
                }
                for (vertex, weight) in corners[place.face as usize].iter().zip(place.weights()) {
                    let sum = &mut sums[*vertex as usize];
                    let weight = (weight * weight).max(LEAST_WEIGHT);
                    let light = &result.light[i * channels..(i + 1) * channels];
                    for (s, v) in sum.iter_mut().zip(light) {
                        *s += weight * v;
                    }
                    sum[3] += weight;
                }
            }
        }
        let known: Vec<bool> = sums.iter().map(|s| s[3] > 0.0).collect();
        let mut light: Vec<[f32; 3]> = sums
            .iter()
            .map(|s| [0, 1, 2].map(|c| if s[3] > 0.0 { s[c] / s[3] } else { 0.0 }))
            .collect();
        let has = spread(&corners, &known, &mut light);
        Ok(Self {
            corners,
            light,
            has,
        })
    }

    /// Colours the texels of a tile that were not seen, and marks them. Those of a separate part that
    /// nothing was seen of stay as they are: nothing lies about them that they could be made up from.
    pub fn apply(&self, places: &[Place], channels: usize, result: &mut TileResult) {
        for (i, place) in places.iter().enumerate() {
            let Some(corners) = self.corners.get(place.face as usize) else {
                continue;
            };
            // A part has light at all of its vertices or at none: spreading fills what hangs together.
            if !corners.iter().any(|v| self.has[*v as usize]) {
                continue;
            }
            let is = &mut result.coverage[i];
            match *is {
                coverage::UNSEEN => *is = coverage::FILLED,
                coverage::NONE => *is = coverage::BORDER,
                _ => continue,
            }
            for c in 0..channels {
                let parts = corners.iter().zip(place.weights());
                result.light[i * channels + c] =
                    parts.map(|(v, w)| self.light[*v as usize][c] * w).sum();
            }
        }
    }
}

/// Gives which vertices have light then.
fn spread(corners: &[[u32; 3]], known: &[bool], light: &mut [[f32; 3]]) -> Vec<bool> {
    let mut has = known.to_vec();
    let round = |has: &[bool], light: &[[f32; 3]]| {
        let mut sums = vec![[0.0_f32; 4]; light.len()];
        for triangle in corners {
            for (k, &to) in triangle.iter().enumerate() {
                if known[to as usize] {
                    continue;
                }
                for from in [triangle[(k + 1) % 3], triangle[(k + 2) % 3]] {
                    if has[from as usize] {
                        let sum = &mut sums[to as usize];
                        for c in 0..3 {
                            sum[c] += light[from as usize][c];
                        }
                        sum[3] += 1.0;
                    }
                }
            }
        }
        sums
    };
    let mut smoothing = 0;
    while smoothing < ROUNDS {
        let sums = round(&has, light);
        let mut grown = false;
        for (vertex, sum) in sums.iter().enumerate() {
            if sum[3] > 0.0 {
                grown |= !has[vertex];
                has[vertex] = true;
                light[vertex] = [0, 1, 2].map(|c| sum[c] / sum[3]);
            }
        }
        smoothing += usize::from(!grown);
    }
    has
}
