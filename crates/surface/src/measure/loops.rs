//! What a loop on the surface encloses.

use std::collections::HashMap;

use glam::{DVec2, DVec3};

use super::mesh::{Mesh, NONE, Spot};
use super::path::{Path, Walks};
use super::sleeve::first_flat;

/// A closed way through places, and the surface within.
#[derive(Debug, Clone, PartialEq)]
pub struct Loop {
    /// Its length in metres.
    pub perimeter_m: f64,
    /// The surface within in m²; `None` if the loop parts nothing off (around the waist of a ring, say).
    pub area_m2: Option<f64>,
    /// The points of the line in metres; the last joins the first.
    pub points_m: Vec<DVec3>,
}

/// The loop through places, joined by the shortest ways over the surface. Where the line crosses itself,
/// what is crossed an even number of times lies outside. Inside is the side with less of the border of the
/// surface; where neither side has any, the smaller one. `None` with fewer than three places, or if the
/// surface does not join them.
pub fn enclosed(walks: &mut Walks, corners: &[Spot]) -> Option<Loop> {
    if corners.len() < 3 {
        return None;
    }
    let ways: Option<Vec<Path>> = (0..corners.len())
        .map(|k| walks.shortest(&corners[k], &corners[(k + 1) % corners.len()]))
        .collect();
    let ways = ways?;
    let mesh = walks.mesh();
    let points = ways
        .iter()
        .flat_map(|way| &way.points_m[..way.points_m.len() - 1]);
    Some(Loop {
        perimeter_m: ways.iter().map(|way| way.length_m).sum(),
        area_m2: Line::new(mesh, &ways).area_m2(corners[0].face),
        points_m: points.copied().collect(),
    })
}

/// The line by the faces and edges that it meets.
struct Line<'a> {
    mesh: &'a Mesh,
    /// Straight pieces by face, in the plane of [`first_flat`].
    pieces: HashMap<u32, Vec<[DVec2; 2]>>,
    /// Where it crosses edges, from the first corner.
    crossings: HashMap<u32, Vec<f64>>,
}

impl<'a> Line<'a> {
    fn new(mesh: &'a Mesh, ways: &[Path]) -> Self {
        let mut line = Self {
            mesh,
            pieces: HashMap::new(),
            crossings: HashMap::new(),
        };
        for way in ways {
            for (gate, share) in way.sleeve.gates.iter().zip(&way.shares) {
                line.crossings.entry(*gate).or_default().push(*share);
            }
            for (k, face) in way.sleeve.faces.iter().enumerate() {
                let flat = first_flat(mesh.corners(*face));
                let spot = |spot: &Spot| (0..3).map(|k| flat[k] * spot.weights[k]).sum();
                let crossing =
                    |at: usize| line.crossing(*face, &flat, way.sleeve.gates[at], way.shares[at]);
                let from = if k == 0 {
                    spot(&way.ends[0])
                } else {
                    crossing(k - 1)
                };
                let to = if k == way.shares.len() {
                    spot(&way.ends[1])
                } else {
                    crossing(k)
                };
                line.pieces.entry(*face).or_default().push([from, to]);
            }
        }
        line
    }

    fn crossing(&self, face: u32, flat: &[DVec2; 3], edge: u32, share: f64) -> DVec2 {
        let [a, b] = self.mesh.edges[edge as usize].map(|end| {
            let corners = self.mesh.faces[face as usize];
            flat[corners.iter().position(|c| *c == end).unwrap_or(0)]
        });
        a.lerp(b, share)
    }

    /// Which side each corner lies on that hangs together with a face; `None` if that contradicts itself.
    fn sides(&self, start: u32) -> Option<Vec<Option<bool>>> {
        let mesh = self.mesh;
        let mut sides = vec![None; mesh.places.len()];
        let first = mesh.faces[start as usize][0];
        sides[first as usize] = Some(false);
        let mut open = vec![first];
        while let Some(corner) = open.pop() {
            let side = sides[corner as usize]?;
            for face in mesh.faces_of_corner(corner) {
                for edge in mesh.sides[*face as usize] {
                    let [a, b] = mesh.edges[edge as usize];
                    if a != corner && b != corner {
                        continue;
                    }
                    let other = if a == corner { b } else { a };
                    let crossed = self.crossings.get(&edge).map_or(0, Vec::len) % 2 == 1;
                    match sides[other as usize] {
                        None => {
                            sides[other as usize] = Some(side != crossed);
                            open.push(other);
                        }
                        Some(known) if known != (side != crossed) => return None,
                        Some(_) => {}
                    }
                }
            }
        }
        Some(sides)
    }

    fn area_m2(&self, start: u32) -> Option<f64> {
        let sides = self.sides(start)?;
        // By side: area, and length of the border.
        let (mut areas_m2, mut borders_m) = ([0.0; 2], [0.0; 2]);
        for face in 0..self.mesh.faces.len() as u32 {
            let corners = self.mesh.faces[face as usize];
            let [Some(a), Some(b), Some(c)] = corners.map(|corner| sides[corner as usize]) else {
                continue;
            };
            let labels = [a, b, c];
            let whole_m2 = self.mesh.area_m2(face);
            let inside_m2 = match self.pieces.get(&face) {
                None => whole_m2 * f64::from(u8::from(a)),
                Some(pieces) => self.part_m2(face, labels, pieces),
            };
            areas_m2[1] += inside_m2;
            areas_m2[0] += whole_m2 - inside_m2;
            for (k, edge) in self.mesh.sides[face as usize].into_iter().enumerate() {
                if edge != NONE && self.mesh.faces_of_edge(edge).len() == 1 {
                    borders_m[usize::from(labels[k])] += self.mesh.length_m(edge);
                }
            }
        }
        let by_border = borders_m[0].total_cmp(&borders_m[1]);
        Some(match by_border {
            std::cmp::Ordering::Less => areas_m2[0],
            std::cmp::Ordering::Greater => areas_m2[1],
            std::cmp::Ordering::Equal => areas_m2[0].min(areas_m2[1]),
        })
    }

    /// The part of a crossed face on the side `true`: strip by strip between all ends and crossings of the
    /// pieces, where the lines are ordered and every other space between them counts.
    fn part_m2(&self, face: u32, labels: [bool; 3], pieces: &[[DVec2; 2]]) -> f64 {
        let flat = first_flat(self.mesh.corners(face));
        let outline = [0, 1, 2].map(|k| [flat[k], flat[(k + 1) % 3]]);
        let mut cuts: Vec<f64> = pieces.iter().flatten().chain(&flat).map(|p| p.x).collect();
        for (k, a) in pieces.iter().enumerate() {
            cuts.extend(pieces[k + 1..].iter().filter_map(|b| crossing_x(a, b)));
        }
        cuts.sort_unstable_by(f64::total_cmp);
        let mut sum = 0.0;
        for pair in cuts.windows(2) {
            let (width, x) = (pair[1] - pair[0], (pair[0] + pair[1]) * 0.5);
            if width <= 0.0 {
                continue;
            }
            let bounds = outline
                .iter()
                .enumerate()
                .filter_map(|(k, side)| Some((height(side, x)?, k)));
            let Some((floor, side)) = bounds.clone().min_by(|a, b| a.0.total_cmp(&b.0)) else {
                continue;
            };
            let ceiling = bounds.map(|b| b.0).fold(floor, f64::max);
            let mut lines: Vec<f64> = pieces.iter().filter_map(|p| height(p, x)).collect();
            lines.push(ceiling);
            lines.sort_unstable_by(f64::total_cmp);
            let mut inside = self.label_on(face, side, labels, &outline[side], x);
            let mut below = floor;
            for line in lines {
                let line = line.clamp(floor, ceiling);
                if inside {
                    sum += (line - below) * width;
                }
                (below, inside) = (line, !inside);
            }
        }
        sum
    }

    /// The side on which a point of a side of a face lies.
    fn label_on(
        &self,
        face: u32,
        side: usize,
        labels: [bool; 3],
        line: &[DVec2; 2],
        x: f64,
    ) -> bool {
        let edge = self.mesh.sides[face as usize][side];
        let forward = self.mesh.edges[edge as usize][0] == self.mesh.faces[face as usize][side];
        let passed = self.crossings.get(&edge).into_iter().flatten();
        let passed = passed.filter(|share| {
            let share = if forward { **share } else { 1.0 - **share };
            let at = line[0].lerp(line[1], share).x;
            (at - line[0].x).abs() < (x - line[0].x).abs()
        });
        labels[side] != (passed.count() % 2 == 1)
    }
}

/// Height of a line over `x`, if it reaches there.
fn height([a, b]: &[DVec2; 2], x: f64) -> Option<f64> {
    ((a.x < x) != (b.x < x)).then(|| a.y + (b.y - a.y) * (x - a.x) / (b.x - a.x))
}

/// Where two lines cross, if they do.
fn crossing_x(a: &[DVec2; 2], b: &[DVec2; 2]) -> Option<f64> {
    let (u, v, w) = (a[1] - a[0], b[1] - b[0], b[0] - a[0]);
    let whole = u.perp_dot(v);
    let (s, t) = (w.perp_dot(v) / whole, w.perp_dot(u) / whole);
    let within = |share: f64| (0.0..=1.0).contains(&share);
    (within(s) && within(t)).then(|| a[0].x + u.x * s)
}
