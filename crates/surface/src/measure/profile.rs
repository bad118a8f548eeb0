//! The profile of the surface between two places: the curve in which a plane cuts it.

use glam::{DVec2, DVec3};

use super::mesh::{Mesh, NONE, Spot};

/// Least sine of the angle between the line and the direction up: 0.06°. Choice of this project.
const LEAST_SINE: f64 = 1e-3;

/// A cut through the surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Distance from the first place along the straight line to the second, and height over that line, in
    /// metres, in the order in which the curve runs: where it overhangs it goes back.
    pub samples_m: Vec<DVec2>,
    /// The same points in space.
    pub points_m: Vec<DVec3>,
    /// The curve joins the two places. Else it ends at a border of the surface, or runs into itself.
    pub whole: bool,
}

/// The cut by the plane through two places and the direction `up`, from the first place to the second: of
/// the two ways around a closed cut the shorter. Samples lie where the plane crosses edges, so the curve is
/// the surface's own. `None` where the line between the places runs along `up`.
#[must_use]
pub fn cut(mesh: &Mesh, from: &Spot, to: &Spot, up: DVec3) -> Option<Profile> {
    let (start, goal) = (mesh.position_m(from), mesh.position_m(to));
    let along = (goal - start).try_normalize()?;
    let up = up.try_normalize()?;
    let across = along.cross(up);
    // What rounding leaves of two lines that run together is no direction.
    if across.length() < LEAST_SINE {
        return None;
    }
    let across = across.normalize();
    let up = across.cross(along);
    let plane = Plane {
        mesh,
        start,
        across,
    };
    let ways = [0, 1].map(|side| plane.walk(from, to, side));
    let length = |way: &Way| {
        way.points_m
            .windows(2)
            .map(|p| p[0].distance(p[1]))
            .sum::<f64>()
    };
    let reach = |way: &Way| way.points_m.last().map_or(0.0, |p| (*p - start).dot(along));
    let [a, b] = ways;
    let way = match (a.whole, b.whole) {
        (true, true) if length(&b) < length(&a) => b,
        (true, _) => a,
        (false, true) => b,
        // Neither arrives: the one that leads towards the second place.
        (false, false) if reach(&b) > reach(&a) => b,
        (false, false) => a,
    };
    let flat = |p: &DVec3| DVec2::new((*p - start).dot(along), (*p - start).dot(up));
    Some(Profile {
        samples_m: way.points_m.iter().map(flat).collect(),
        points_m: way.points_m,
        whole: way.whole,
    })
}

struct Plane<'a> {
    mesh: &'a Mesh,
    start: DVec3,
    across: DVec3,
}

struct Way {
    points_m: Vec<DVec3>,
    whole: bool,
}

impl Plane<'_> {
    fn over_m(&self, corner: u32) -> f64 {
        (self.mesh.places[corner as usize] - self.start).dot(self.across)
    }

    /// The edges of a face that the plane crosses: none or two, since a corner in the plane counts as over it.
    fn crossed(&self, face: u32) -> Vec<u32> {
        let sides = self.mesh.sides[face as usize].into_iter();
        sides.filter(|edge| self.crosses(*edge)).collect()
    }

    fn crosses(&self, edge: u32) -> bool {
        let [a, b] = self.mesh.edges[edge as usize];
        (self.over_m(a) >= 0.0) != (self.over_m(b) >= 0.0)
    }

    fn crossing(&self, edge: u32) -> DVec3 {
        let [a, b] = self.mesh.edges[edge as usize].map(|corner| self.over_m(corner));
        self.mesh.on_edge(edge, a / (a - b))
    }

    /// From a spot out by one of the edges of its face, to the other spot or as far as it goes.
    fn walk(&self, from: &Spot, to: &Spot, side: usize) -> Way {
        let mut way = Way {
            points_m: vec![self.start],
            whole: true,
        };
        let (mut face, mut came) = (from.face, NONE);
        // A face of the cut is crossed once.
        for step in 0..=self.mesh.faces.len() {
            let leaves = if step == 0 {
                self.crossed(face).get(side).copied()
            } else {
                self.crossed(face).into_iter().find(|edge| *edge != came)
            };
            let arrived = face == to.face && (step > 0 || self.lies_before(from, to, leaves));
            if arrived {
                way.points_m.push(self.mesh.position_m(to));
                return way;
            }
            let next = leaves.and_then(|edge| {
                way.points_m.push(self.crossing(edge));
                came = edge;
                self.mesh.across(face, edge)
            });
            match next {
                Some(next) if next != from.face => face = next,
                _ => break,
            }
        }
        way.whole = false;
        way
    }

    /// Both on one face: whether the second is on the way out.
    fn lies_before(&self, from: &Spot, to: &Spot, leaves: Option<u32>) -> bool {
        let Some(edge) = leaves else { return true };
        let goal = self.mesh.position_m(to);
        (goal - self.mesh.position_m(from)).dot(self.crossing(edge) - self.start) >= 0.0
    }
}
