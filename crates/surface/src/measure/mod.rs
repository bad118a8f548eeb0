//! Measuring on the surface: distances, angles, what a loop encloses, and profiles.
//!
//! - [`Walks`] finds shortest ways over the surface.
//! - [`loops`] gives perimeter and area of a closed way.
//! - [`profile`] cuts the surface by a plane.
//! - [`angle_at_rad`] and [`angle_between_rad`] are plain geometry.
//!
//! Everything is measured on the triangles as they are, in double precision: what is said is exact for the
//! mesh up to what each function names. How near the mesh is to the object is for its maker to say.

pub mod loops;
mod mesh;
mod path;
pub mod profile;
mod search;
mod sleeve;

use glam::DVec3;

pub use mesh::{Mesh, Spot};
pub use path::{Path, Walks};

/// Angle at `middle` between the straight lines to two other places, in radians, 0 to π; `None` where a
/// place coincides with the middle.
#[must_use]
pub fn angle_at_rad(first: DVec3, middle: DVec3, last: DVec3) -> Option<f64> {
    angle_between_rad(first - middle, last - middle)
}

/// Angle between two directions in radians, 0 to π; `None` where one of them is no direction.
///
/// By the arctangent of cross and dot product, which keeps its digits at small angles, as the arccosine
/// does not (W. Kahan, "How Futile are Mindless Assessments of Roundoff in Floating-Point Computation?",
/// 2006, section 12).
#[must_use]
pub fn angle_between_rad(a: DVec3, b: DVec3) -> Option<f64> {
    let (a, b) = (a.try_normalize()?, b.try_normalize()?);
    Some(a.cross(b).length().atan2(a.dot(b)))
}
