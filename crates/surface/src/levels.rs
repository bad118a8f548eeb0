//! Lighter copies of a surface for looking at it: fewer triangles, packed tightly, with what that costs
//! measured.
//!
//! A level has the sheets, nodes and patches of the surface, in their order. Its vertices are some of the
//! surface's, so that layers, pins and regions hold on it; the finest level has them all.

mod closed;
mod deviation;
mod fewer;
mod glb;
mod simplified;

pub use closed::is_closed;
pub use deviation::{Deviation, deviation};
pub use fewer::{Weighed, fewer_triangles, used_vertices};
pub use glb::packed;
use simplified::in_drawing_order;
pub use simplified::simplified;

use crate::{Surface, SurfaceError, gltf_in};

/// The coarsest level has at most so many triangles, where the surface can be reduced so far: some 0.3 MB,
/// which is on its way for a tenth of a second at 20 Mbit/s (a choice of ours).
pub const COARSEST_TRIANGLES: usize = 40_000;

/// Each level has about so many times the triangles of the one before (a choice of ours: half the length
/// of an edge).
const STEP: usize = 2;

/// A level that saves less than this share of the triangles is not worth another file (a choice of ours).
const WORTH: f64 = 0.7;

/// A level as it is kept.
#[derive(Debug)]
pub struct Level {
    /// The file, a .glb.
    pub file: Vec<u8>,
    /// Its triangles.
    pub triangles: usize,
    /// How far it lies from the surface.
    pub deviation: Deviation,
    /// Whether its inner side is never seen from outside.
    pub closed: bool,
}

/// How many levels a surface of so many triangles has, where it can be reduced as far as wanted.
#[must_use]
pub fn expected_levels(triangles: usize) -> usize {
    std::iter::successors(Some(triangles), |&finer| coarser_than(finer)).count()
}

/// Triangles of the level before one of so many; none before the coarsest.
fn coarser_than(triangles: usize) -> Option<usize> {
    (triangles > COARSEST_TRIANGLES).then(|| (triangles / STEP).max(COARSEST_TRIANGLES))
}

/// Levels of a surface, the coarsest first; `done` hears of each that is ready. The finest has all triangles.
///
/// # Errors
/// Where a level cannot be read back, which would be a fault of this crate.
pub fn levels(surface: &Surface, done: &mut dyn FnMut(usize)) -> Result<Vec<Level>, SurfaceError> {
    let mut levels = vec![kept(&in_drawing_order(surface), surface)?];
    done(levels[0].triangles);
    let mut finer = surface.clone();
    while let Some(target) = coarser_than(finer.triangle_count()) {
        let coarser = simplified(&finer, target);
        let worth = finer.triangle_count() as f64 * WORTH;
        if coarser.triangle_count() as f64 > worth {
            break;
        }
        levels.push(kept(&coarser, surface)?);
        done(coarser.triangle_count());
        finer = coarser;
    }
    levels.reverse();
    Ok(levels)
}

/// Packs a level, and measures what comes out of the file.
fn kept(level: &Surface, surface: &Surface) -> Result<Level, SurfaceError> {
    let file = packed(level);
    let read = gltf_in::read(&file, &|_| None)?;
    Ok(Level {
        triangles: read.triangle_count(),
        deviation: deviation(&read, surface),
        // Packing keeps what meets where, though patches are rounded each by itself.
        closed: is_closed(level),
        file,
    })
}
