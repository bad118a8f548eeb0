//! Shortest ways over the surface.
//!
//! A first way (see [`super::search`]) is pulled taut: laid out flat it is a row of triangles in which the
//! shortest way is found exactly, and where it bends around a corner that has less than half a turn of
//! surface on the other side, the row is led around that side, until no such corner is left. What remains is
//! locally the shortest way on the triangles, exactly (S.-Q. Xin and G.-J. Wang, "Efficiently determining a
//! locally exact shortest path on polyhedral surfaces", Computer-Aided Design 39(12), 2007; the same idea
//! by flips of edges: N. Sharp and K. Crane, "You can find geodesic paths in triangle meshes by just
//! flipping edges", ACM Transactions on Graphics 39(6), 2020).
//!
//! Another way, around the other side of a bump say, may be shorter by as much as the first way can err:
//! tests hold it against a far finer search.

use std::collections::HashMap;
use std::f64::consts::PI;

use glam::DVec3;

use super::mesh::{Mesh, NONE, Spot};
use super::search::{Leg, Passage, Search};
use super::sleeve::{Bend, Sleeve, Taut};

/// Most times that a way is led around a corner; each costs time in proportion to the length of the row. A
/// choice of ours: a way across a million triangles passes about a thousand corners, each of which may be
/// passed twenty times.
const MOST_FLIPS: usize = 20_000;

/// An angle that is less than half a turn by less than this is half a turn, radians. A choice of ours: a way
/// bent by it is longer than a straight one by less than a part in 10^18, which double precision cannot tell.
const STRAIGHT_RAD: f64 = 1e-9;

/// A way over the surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// Its length in metres.
    pub length_m: f64,
    /// Its points in metres, both ends included: a straight line from each to the next, on one triangle.
    pub points_m: Vec<DVec3>,
    pub(crate) sleeve: Sleeve,
    pub(crate) shares: Vec<f64>,
    pub(crate) ends: [Spot; 2],
}

/// Finds ways over one mesh, one after the other.
#[derive(Debug)]
pub struct Walks<'a> {
    mesh: &'a Mesh,
    search: Search,
}

impl<'a> Walks<'a> {
    /// Nothing is computed yet.
    #[must_use]
    pub fn new(mesh: &'a Mesh) -> Self {
        Self {
            mesh,
            search: Search::default(),
        }
    }

    /// The mesh.
    #[must_use]
    pub fn mesh(&self) -> &'a Mesh {
        self.mesh
    }

    /// The shortest way from one place to another; `None` where the surface does not join them.
    ///
    /// Takes O(n log n) for the search in a mesh of n triangles and O(k) for each of the corners that a row
    /// of k triangles is led around.
    pub fn shortest(&mut self, from: &Spot, to: &Spot) -> Option<Path> {
        let legs = self.search.find(self.mesh, from, to)?;
        let sleeve = row(self.mesh, &legs)?.without_detours();
        let (sleeve, taut) = pulled(self.mesh, sleeve, from, to);
        let mut points_m = vec![self.mesh.position_m(from)];
        let crossings = sleeve.gates.iter().zip(&taut.shares);
        points_m.extend(crossings.map(|(gate, share)| self.mesh.on_edge(*gate, *share)));
        points_m.push(self.mesh.position_m(to));
        Some(Path {
            length_m: taut.length_m,
            points_m,
            sleeve,
            shares: taut.shares,
            ends: [*from, *to],
        })
    }
}

/// The faces of the legs with what lies between: around a corner the fewest faces.
fn row(mesh: &Mesh, legs: &[Leg]) -> Option<Sleeve> {
    let mut row = Sleeve {
        faces: vec![legs.first()?.0],
        gates: Vec::new(),
    };
    for pair in legs.windows(2) {
        let [(face, passage), (next, _)] = pair else {
            continue;
        };
        if face == next {
            continue;
        }
        match (passage, mesh.between(*face, *next)) {
            (_, Some(edge)) => {
                row.faces.push(*next);
                row.gates.push(edge);
            }
            (Passage::Corner(corner), None) => fan(mesh, *corner, *face, *next, &mut row)?,
            (Passage::Edge, None) => return None,
        }
    }
    Some(row)
}

/// Adds the way around a corner from one of its faces to another.
fn fan(mesh: &Mesh, corner: u32, from: u32, to: u32, row: &mut Sleeve) -> Option<()> {
    let mut before: HashMap<u32, (u32, u32)> = HashMap::from([(from, (NONE, NONE))]);
    let mut open = std::collections::VecDeque::from([from]);
    while let Some(face) = open.pop_front() {
        if face == to {
            break;
        }
        for edge in mesh.sides[face as usize] {
            if !mesh.edges[edge as usize].contains(&corner) {
                continue;
            }
            for next in mesh.faces_of_edge(edge) {
                if !before.contains_key(next) {
                    before.insert(*next, (face, edge));
                    open.push_back(*next);
                }
            }
        }
    }
    let at = row.faces.len();
    let (mut gates, mut face) = (Vec::new(), to);
    while face != from {
        let (earlier, edge) = *before.get(&face)?;
        row.faces.insert(at, face);
        gates.push(edge);
        face = earlier;
    }
    row.gates.extend(gates.into_iter().rev());
    Some(())
}

/// The row led around corners until the way in it is as short as it gets.
fn pulled(mesh: &Mesh, mut sleeve: Sleeve, from: &Spot, to: &Spot) -> (Sleeve, Taut) {
    let mut taut = sleeve.taut(mesh, from, to);
    for _ in 0..MOST_FLIPS {
        // The sharpest first.
        let mut found: Option<(f64, Sleeve)> = None;
        for bend in &taut.bends {
            if let Some((angle_rad, other)) = around(mesh, &sleeve, bend)
                && found.as_ref().is_none_or(|(least, _)| angle_rad < *least)
            {
                found = Some((angle_rad, other));
            }
        }
        let Some((_, other)) = found else {
            break;
        };
        let other = other.without_detours();
        let tried = other.taut(mesh, from, to);
        // Shorter by rounding only (some four units in the last place of double precision): there is no end
        // to that.
        if tried.length_m >= taut.length_m * (1.0 - 1e-15) {
            break;
        }
        (sleeve, taut) = (other, tried);
    }
    (sleeve, taut)
}

/// The row led around the other side of a corner, if there is less than half a turn of surface there.
fn around(mesh: &Mesh, sleeve: &Sleeve, bend: &Bend) -> Option<(f64, Sleeve)> {
    let meets = |gate: &u32| mesh.edges[*gate as usize].contains(&bend.corner);
    let (before, after) = sleeve.gates.split_at(bend.gate);
    let first = bend.gate - before.iter().rev().take_while(|gate| meets(gate)).count();
    let last = bend.gate + after.iter().take_while(|gate| meets(gate)).count() - 1;
    let (entry, exit) = (sleeve.faces[first], sleeve.faces[last + 1]);
    let (mut faces, mut gates) = (Vec::new(), Vec::new());
    let (mut face, mut came) = (entry, sleeve.gates[first]);
    let mut whole_rad: f64 = sleeve.faces[first..=last + 1]
        .iter()
        .map(|face| angle_rad(mesh, *face, bend.corner))
        .sum();
    loop {
        let mut sides = mesh.sides[face as usize].into_iter();
        let edge = sides.find(|edge| *edge != came && meets(edge))?;
        face = mesh.across(face, edge)?;
        gates.push(edge);
        if face == exit {
            break;
        }
        whole_rad += angle_rad(mesh, face, bend.corner);
        faces.push(face);
        came = edge;
        if faces.len() > mesh.faces_of_corner(bend.corner).len() {
            return None;
        }
    }
    let other_rad = whole_rad - (PI + bend.turn_rad);
    (other_rad < PI - STRAIGHT_RAD).then(|| {
        let other = Sleeve {
            faces: [&sleeve.faces[..=first], &faces, &sleeve.faces[last + 1..]].concat(),
            gates: [&sleeve.gates[..first], &gates, &sleeve.gates[last + 1..]].concat(),
        };
        (other_rad, other)
    })
}

fn angle_rad(mesh: &Mesh, face: u32, corner: u32) -> f64 {
    let corners = mesh.faces[face as usize];
    let at = corners.iter().position(|c| *c == corner).unwrap_or(0);
    let [a, b, c] = [0, 1, 2].map(|k| mesh.places[corners[(at + k) % 3] as usize]);
    super::angle_between_rad(b - a, c - a).unwrap_or(0.0)
}
