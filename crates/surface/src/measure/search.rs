//! A first way over the surface: the shortest through corners and a few points of every edge.
//!
//! M. Lanthier, A. Maheshwari, J.-R. Sack, "Approximating shortest paths on weighted polyhedral surfaces",
//! Algorithmica 30, 2001, with equal weights; sought by A* (Hart, Nilsson, Raphael, IEEE Transactions on
//! Systems Science and Cybernetics 4(2), 1968) under the straight distance, which is never too long.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use glam::DVec3;

use super::mesh::{Mesh, NONE, Spot};

/// Points of every edge besides its corners. With three the first way is seldom a hundredth too long, and
/// it is straightened afterwards. Choice of this project.
const POINTS: usize = 3;

/// Remembers its arrays between searches.
#[derive(Debug, Default)]
pub(crate) struct Search {
    /// Length of the way to each node.
    lengths: Vec<f64>,
    /// Node before, and the face between.
    before: Vec<(u32, u32)>,
    /// Nodes that the last search came to.
    touched: Vec<u32>,
    open: BinaryHeap<Open>,
}

/// A node to go on from.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Open {
    /// The way to it and the straight rest.
    whole: f64,
    length: f64,
    node: u32,
}

impl Eq for Open {}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        // The shortest first; equal ones by number, so that the result is always the same.
        let by_length = other.whole.total_cmp(&self.whole);
        by_length.then_with(|| other.node.cmp(&self.node))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Where a way goes from one face to the next: through an edge or a corner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Passage {
    Corner(u32),
    Edge,
}

/// A face and how the way leaves it for the next.
pub(crate) type Leg = (u32, Passage);

impl Search {
    /// The faces from one spot to another and the passages between; the last passage says nothing. `None`
    /// where they do not hang together.
    pub(crate) fn find(&mut self, mesh: &Mesh, from: &Spot, to: &Spot) -> Option<Vec<Leg>> {
        self.reset(mesh);
        let corners = mesh.places.len();
        let place = |node: u32| {
            let node = node as usize;
            if node < corners {
                return mesh.places[node];
            }
            let (edge, point) = ((node - corners) / POINTS, (node - corners) % POINTS);
            mesh.on_edge(edge as u32, (point + 1) as f64 / (POINTS + 1) as f64)
        };
        let (start, goal) = (mesh.position_m(from), mesh.position_m(to));
        self.spread(mesh, from.face, NONE, start, 0.0, goal, &place);
        let (mut best, mut last) = (f64::INFINITY, NONE);
        while let Some(Open {
            whole,
            length,
            node,
        }) = self.open.pop()
        {
            if whole >= best {
                break;
            }
            if length > self.lengths[node as usize] {
                continue;
            }
            let here = place(node);
            let mut visit = |face: u32, search: &mut Self| {
                if face == to.face {
                    let reached = length + here.distance(goal);
                    if reached < best {
                        (best, last) = (reached, node);
                    }
                }
                search.spread(mesh, face, node, here, length, goal, &place);
            };
            if (node as usize) < corners {
                mesh.faces_of_corner(node)
                    .iter()
                    .for_each(|f| visit(*f, self));
            } else {
                let edge = (node as usize - corners) / POINTS;
                let faces = mesh.faces_of_edge(edge as u32);
                faces.iter().for_each(|f| visit(*f, self));
            }
        }
        (last != NONE).then(|| self.legs(last, corners, to.face))
    }

    fn reset(&mut self, mesh: &Mesh) {
        let nodes = mesh.places.len() + mesh.edges.len() * POINTS;
        if self.lengths.len() == nodes {
            for node in self.touched.drain(..) {
                self.lengths[node as usize] = f64::INFINITY;
            }
        } else {
            self.lengths = vec![f64::INFINITY; nodes];
            self.before = vec![(NONE, NONE); nodes];
            self.touched.clear();
        }
        self.open.clear();
    }

    /// To every node of a face.
    #[expect(
        clippy::too_many_arguments,
        reason = "the inner loop, called from two places"
    )]
    fn spread(
        &mut self,
        mesh: &Mesh,
        face: u32,
        node: u32,
        here: DVec3,
        length: f64,
        goal: DVec3,
        place: &impl Fn(u32) -> DVec3,
    ) {
        let first = mesh.places.len() as u32;
        let points = mesh.sides[face as usize].into_iter().flat_map(|edge| {
            let first = first + edge * POINTS as u32;
            first..first + POINTS as u32
        });
        for next in mesh.faces[face as usize].into_iter().chain(points) {
            let there = place(next);
            let reached = length + here.distance(there);
            let known = &mut self.lengths[next as usize];
            if reached < *known {
                if known.is_infinite() {
                    self.touched.push(next);
                }
                *known = reached;
                self.before[next as usize] = (node, face);
                self.open.push(Open {
                    whole: reached + there.distance(goal),
                    length: reached,
                    node: next,
                });
            }
        }
    }

    fn legs(&self, last: u32, corners: usize, goal: u32) -> Vec<Leg> {
        let mut legs = vec![(goal, Passage::Edge)];
        let mut node = last;
        while node != NONE {
            let (before, face) = self.before[node as usize];
            let passage = if (node as usize) < corners {
                Passage::Corner(node)
            } else {
                Passage::Edge
            };
            legs.push((face, passage));
            node = before;
        }
        legs.reverse();
        legs
    }
}
