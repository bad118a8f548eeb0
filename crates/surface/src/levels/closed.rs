//! Whether a surface encloses something, so that its inner side is never seen from outside.

use std::collections::{BTreeMap, HashMap};
use std::f64::consts::TAU;

use glam::{DVec3, Vec3};

use crate::model::place_key;
use crate::{Patch, Surface};

/// Whether every node of the surface is closed by itself and has its front outside: each edge between two
/// places is run through as often one way as the other, and each piece that hangs together has a volume
/// above zero or bounds a hollow within the others. Places are one where their coordinates are, whatever seams of UVs lie there.
#[must_use]
pub fn is_closed(surface: &Surface) -> bool {
    let mut nodes: BTreeMap<&[String], Vec<&Patch>> = BTreeMap::new();
    for patch in surface.patches.iter().filter(|p| !p.indices.is_empty()) {
        nodes.entry(&patch.node_path).or_default().push(patch);
    }
    !nodes.is_empty() && nodes.values().all(|patches| encloses(patches))
}

fn encloses(patches: &[&Patch]) -> bool {
    let mut numbers: HashMap<[u32; 3], u32> = HashMap::new();
    let mut places: Vec<Vec3> = Vec::new();
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    for patch in patches {
        let known: Vec<u32> = patch
            .positions
            .iter()
            .map(|&place| {
                *numbers.entry(place_key(place)).or_insert_with(|| {
                    places.push(place);
                    (places.len() - 1) as u32
                })
            })
            .collect();
        let corners = patch.indices.as_chunks::<3>().0;
        triangles.extend(corners.iter().map(|t| t.map(|i| known[i as usize])));
    }
    drop(numbers);
    edges_cancel(&triangles) && fronts_are_outside(&places, &triangles)
}

/// So many hollows are looked at: each costs a walk over all triangles (a choice of ours).
const MOST_HOLLOWS: usize = 64;

/// Whether each piece encloses a volume, or a hollow of the others.
fn fronts_are_outside(places: &[Vec3], triangles: &[[u32; 3]]) -> bool {
    let mut pieces = Pieces::of(places.len(), triangles);
    let volumes = volumes(places, triangles, &mut pieces);
    let hollows: Vec<u32> = volumes
        .iter()
        .filter(|(_, volume)| **volume <= 0.0)
        .map(|(piece, _)| *piece)
        .collect();
    hollows.len() <= MOST_HOLLOWS
        && hollows.iter().all(|hollow| {
            let others = triangles.iter().filter(|t| pieces.first(t[0]) != *hollow);
            winding_number(places, others, places[*hollow as usize]) > 0.5
        })
}

/// How often triangles go round a point: 1 within what they enclose, 0 outside. Solid angles after A. van
/// Oosterom and J. Strackee, "The solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30 (1983), 125–126.
fn winding_number<'a>(
    places: &[Vec3],
    triangles: impl Iterator<Item = &'a [u32; 3]>,
    around: Vec3,
) -> f64 {
    let half_angles = triangles.map(|t| {
        let [a, b, c] = t.map(|i| (places[i as usize] - around).as_dvec3());
        let [la, lb, lc] = [a, b, c].map(DVec3::length);
        let below = la * lb * lc + a.dot(b) * lc + b.dot(c) * la + c.dot(a) * lb;
        a.dot(b.cross(c)).atan2(below)
    });
    half_angles.sum::<f64>() / TAU
}

/// Whether every edge is run through as often one way as the other.
fn edges_cancel(triangles: &[[u32; 3]]) -> bool {
    // The smaller end first, and in the last bit whether that is the way it is run through.
    let mut edges: Vec<(u64, bool)> = Vec::with_capacity(triangles.len() * 3);
    for [a, b, c] in triangles {
        for (from, to) in [(a, b), (b, c), (c, a)] {
            if from != to {
                let ends = u64::from(*from.min(to)) << 32 | u64::from(*from.max(to));
                edges.push((ends, from < to));
            }
        }
    }
    edges.sort_unstable();
    edges.chunk_by(|a, b| a.0 == b.0).all(|same| {
        let forth = same.iter().filter(|(_, forth)| *forth).count();
        2 * forth == same.len()
    })
}

/// Signed volume (m³) of each piece, by its first place: the sum of tetrahedra between its triangles and one
/// point (divergence theorem).
fn volumes(places: &[Vec3], triangles: &[[u32; 3]], pieces: &mut Pieces) -> BTreeMap<u32, f64> {
    let origin = places.first().map_or(DVec3::ZERO, |p| p.as_dvec3());
    let mut volumes = BTreeMap::new();
    for t in triangles {
        let [a, b, c] = t.map(|i| places[i as usize].as_dvec3() - origin);
        *volumes.entry(pieces.first(t[0])).or_insert(0.0) += a.dot(b.cross(c)) / 6.0;
    }
    volumes
}

/// Which places hang together: each names one before it, the first of a piece itself.
struct Pieces(Vec<u32>);

impl Pieces {
    /// Of so many places, joined by triangles.
    fn of(places: usize, triangles: &[[u32; 3]]) -> Self {
        let mut pieces = Self((0..places as u32).collect());
        for [a, b, c] in triangles {
            pieces.join(*a, *b);
            pieces.join(*b, *c);
        }
        pieces
    }

    fn first(&mut self, place: u32) -> u32 {
        let mut at = place as usize;
        while self.0[at] as usize != at {
            // Halves the way for those that come later.
            self.0[at] = self.0[self.0[at] as usize];
            at = self.0[at] as usize;
        }
        at as u32
    }

    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.first(a), self.first(b));
        self.0[a.max(b) as usize] = a.min(b);
    }
}
