//! A row of faces from one place to another, laid out flat, and the shortest way within it.

use glam::{DVec2, DVec3};

use super::mesh::{Mesh, Spot};

/// Faces, each with the next across a shared edge.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sleeve {
    pub(crate) faces: Vec<u32>,
    /// One fewer than faces.
    pub(crate) gates: Vec<u32>,
}

/// A corner that the way bends around.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bend {
    pub(crate) corner: u32,
    /// A gate that ends in it.
    pub(crate) gate: usize,
    place: DVec2,
    /// Change of direction in radians, 0 to π.
    pub(crate) turn_rad: f64,
}

/// The shortest way within a sleeve.
#[derive(Debug)]
pub(crate) struct Taut {
    pub(crate) length_m: f64,
    pub(crate) bends: Vec<Bend>,
    /// Where it crosses each gate, from the first corner of the edge.
    pub(crate) shares: Vec<f64>,
}

/// A gate laid flat, seen on the way through it.
#[derive(Debug, Clone, Copy)]
struct Gate {
    left: (u32, DVec2),
    right: (u32, DVec2),
}

struct Flat {
    start: DVec2,
    goal: DVec2,
    gates: Vec<Gate>,
}

impl Sleeve {
    /// No face twice: the way within a triangle is straight, so what lies between two visits is a detour.
    pub(crate) fn without_detours(mut self) -> Self {
        let mut seen = std::collections::HashMap::new();
        let mut at = 0;
        while at < self.faces.len() {
            let face = self.faces[at];
            if let Some(&first) = seen.get(&face) {
                let first: usize = first;
                for gone in &self.faces[first + 1..=at] {
                    if *gone != face {
                        seen.remove(gone);
                    }
                }
                self.faces.drain(first + 1..=at);
                self.gates.drain(first..at);
                at = first;
            } else {
                seen.insert(face, at);
            }
            at += 1;
        }
        self
    }

    /// The faces one after the other in a plane, each turned about the edge that it shares with the last.
    fn laid_flat(&self, mesh: &Mesh, from: &Spot, to: &Spot) -> Flat {
        let mut corners = mesh.faces[self.faces[0] as usize];
        let mut flat = first_flat(mesh.corners(self.faces[0]));
        let mix = |flat: [DVec2; 3], weights: [f64; 3]| {
            flat[0] * weights[0] + flat[1] * weights[1] + flat[2] * weights[2]
        };
        let start = mix(flat, from.weights);
        let mut gates = Vec::with_capacity(self.gates.len());
        for (gate, next) in self.gates.iter().zip(&self.faces[1..]) {
            let ends = mesh.edges[*gate as usize];
            // Counter-clockwise as laid out, so what is across lies to the right of a → b.
            let k = (0..3).find(|k| !ends.contains(&corners[*k])).unwrap_or(2);
            let (a, b) = ((k + 1) % 3, (k + 2) % 3);
            let apex = mesh.apex(*next, *gate);
            let place = unfold(
                [flat[a], flat[b]],
                [corners[a], corners[b], apex].map(|c| mesh.places[c as usize]),
            );
            gates.push(Gate {
                left: (corners[b], flat[b]),
                right: (corners[a], flat[a]),
            });
            (corners, flat) = ([corners[b], corners[a], apex], [flat[b], flat[a], place]);
        }
        // The weights of the goal are by the corners of its own face.
        let own = mesh.faces[self.faces[self.faces.len() - 1] as usize];
        let goal = (0..3)
            .map(|k| {
                let at = own.iter().position(|c| *c == corners[k]).unwrap_or(k);
                flat[k] * to.weights[at]
            })
            .sum();
        Flat { start, goal, gates }
    }

    /// The shortest way within the sleeve: the funnel of D. T. Lee and F. P. Preparata, "Euclidean shortest
    /// paths in the presence of rectilinear barriers", Networks 14(3), 1984, in linear time but for restarts.
    pub(crate) fn taut(&self, mesh: &Mesh, from: &Spot, to: &Spot) -> Taut {
        let flat = self.laid_flat(mesh, from, to);
        let mut bends = funnel(&flat);
        let mut length_m = 0.0;
        let mut shares = vec![0.5; flat.gates.len()];
        let mut here = flat.start;
        let mut first = 0;
        for k in 0..=bends.len() {
            let (there, last) = match bends.get(k) {
                Some(bend) => (bend.place, bend.gate + 1),
                None => (flat.goal, flat.gates.len()),
            };
            length_m += here.distance(there);
            for (gate, share) in shares.iter_mut().enumerate().take(last).skip(first) {
                *share = self.share(mesh, gate, &flat.gates[gate], here, there);
            }
            let next = match bends.get(k + 1) {
                Some(next) => next.place,
                None => flat.goal,
            };
            if let Some(bend) = bends.get_mut(k) {
                let (before, after) = (there - here, next - there);
                bend.turn_rad = before.perp_dot(after).atan2(before.dot(after)).abs();
            }
            here = there;
            first = last;
        }
        Taut {
            length_m,
            bends,
            shares,
        }
    }

    /// Where the line from `here` to `there` crosses a gate, kept a little off the ends of the edge.
    fn share(&self, mesh: &Mesh, number: usize, gate: &Gate, here: DVec2, there: DVec2) -> f64 {
        // As places are kept off the edges of their triangle (`OFF_EDGE`): a thousandth of a millimetre on an
        // edge of a metre, far below what is measured, and far above the rounding of double precision.
        const OFF_END: f64 = 1e-6;
        let (along, across) = (there - here, gate.right.1 - gate.left.1);
        let whole = along.perp_dot(across);
        let at = (gate.left.1 - here).perp_dot(along) / whole;
        let at = if at.is_finite() { at } else { 0.5 };
        let first = mesh.edges[self.gates[number] as usize][0];
        let share = if gate.left.0 == first { at } else { 1.0 - at };
        share.clamp(OFF_END, 1.0 - OFF_END)
    }
}

/// A triangle in the plane, its first side along x.
pub(crate) fn first_flat([a, b, c]: [DVec3; 3]) -> [DVec2; 3] {
    let length = a.distance(b);
    let (ac, bc) = (a.distance(c), b.distance(c));
    let x = (ac * ac - bc * bc + length * length) / (2.0 * length);
    let y = (ac * ac - x * x).max(0.0).sqrt();
    [DVec2::ZERO, DVec2::new(length, 0.0), DVec2::new(x, y)]
}

/// Where the third corner comes to lie, to the right of the first two.
fn unfold([a, b]: [DVec2; 2], corners: [DVec3; 3]) -> DVec2 {
    let [_, along, place] = first_flat(corners);
    let way = (b - a) / along.x;
    a + way * place.x - way.perp() * place.y
}

fn funnel(flat: &Flat) -> Vec<Bend> {
    // One more gate at the goal, which has no width.
    let count = flat.gates.len();
    let side = |at: usize, left: bool| match flat.gates.get(at) {
        Some(gate) if left => gate.left.1,
        Some(gate) => gate.right.1,
        None => flat.goal,
    };
    let mut bends: Vec<Bend> = Vec::new();
    let mut apex = flat.start;
    let (mut left_at, mut right_at) = (0, 0);
    let (mut left, mut right) = (side(0, true), side(0, false));
    let mut at = 1;
    while at <= count {
        let (new_left, new_right) = (side(at, true), side(at, false));
        // Positive: counter-clockwise of the line from the apex.
        let turn = |line: DVec2, to: DVec2| (line - apex).perp_dot(to - apex);
        let mut bend = None;
        if turn(right, new_right) >= 0.0 {
            if right == apex || turn(left, new_right) < 0.0 {
                (right, right_at) = (new_right, at);
            } else {
                bend = Some((left_at, true));
            }
        }
        if bend.is_none() && turn(left, new_left) <= 0.0 {
            if left == apex || turn(right, new_left) > 0.0 {
                (left, left_at) = (new_left, at);
            } else {
                bend = Some((right_at, false));
            }
        }
        if let Some((gate, is_left)) = bend
            && let Some(passed) = flat.gates.get(gate)
        {
            let (corner, place) = if is_left { passed.left } else { passed.right };
            if bends.last().is_none_or(|last| last.corner != corner) {
                bends.push(Bend {
                    corner,
                    gate,
                    place,
                    turn_rad: 0.0,
                });
            } else if let Some(last) = bends.last_mut() {
                last.gate = gate;
            }
            apex = place;
            (left_at, right_at) = (gate, gate);
            (left, right) = (apex, apex);
            at = gate + 1;
            continue;
        }
        at += 1;
    }
    bends
}
