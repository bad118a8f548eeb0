//! The triangles of a surface joined where they touch: what the file keeps apart for the sake of UVs and
//! materials is one here.

use std::collections::HashMap;

use glam::DVec3;

use crate::Surface;
use crate::pick::Hit;

/// Corners nearer to each other than this part of the radius of the surface are one. Choice of this
/// project: 0.2 µm on 40 cm, some steps of single precision.
const SAME_PLACE: f64 = 1e-6;

/// Places are kept this far from the edges of their triangle, in barycentric weights, so that no way runs
/// exactly through a corner. 0.1 nm to 1 µm on triangles of 0.1 mm to 1 m: far below what is measured, far
/// above the rounding of double precision. A choice of ours.
const OFF_EDGE: f64 = 1e-6;

/// No number.
pub(crate) const NONE: u32 = u32::MAX;

/// Triangles joined at shared corners.
#[derive(Debug, Default)]
pub struct Mesh {
    pub(crate) places: Vec<DVec3>,
    /// Corners of each face; side `k` runs from corner `k` to corner `k + 1`.
    pub(crate) faces: Vec<[u32; 3]>,
    /// Edge of each side.
    pub(crate) sides: Vec<[u32; 3]>,
    /// Corners of each edge, the lower number first.
    pub(crate) edges: Vec<[u32; 2]>,
    edge_faces: Lists,
    corner_faces: Lists,
    /// First triangle number of each patch.
    first: Vec<usize>,
    /// Face of each triangle of the surface, all patches in a row.
    face_of: Vec<u32>,
}

/// A place on a face, a little off its edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    pub(crate) face: u32,
    pub(crate) weights: [f64; 3],
}

/// Many short lists in one.
#[derive(Debug, Default)]
struct Lists {
    starts: Vec<u32>,
    items: Vec<u32>,
}

impl Lists {
    /// From (list, item) pairs, each item in the order of the pairs.
    fn new(count: usize, pairs: impl Iterator<Item = (u32, u32)> + Clone) -> Self {
        let mut starts = vec![0_u32; count + 1];
        for (list, _) in pairs.clone() {
            starts[list as usize + 1] += 1;
        }
        for k in 0..count {
            starts[k + 1] += starts[k];
        }
        let mut next = starts.clone();
        let mut items = vec![0; starts[count] as usize];
        for (list, item) in pairs {
            let at = &mut next[list as usize];
            items[*at as usize] = item;
            *at += 1;
        }
        Self { starts, items }
    }

    fn of(&self, list: u32) -> &[u32] {
        let list = list as usize;
        &self.items[self.starts[list] as usize..self.starts[list + 1] as usize]
    }
}

impl Mesh {
    /// Joins the triangles of the patches that `visible` accepts. Triangles without three different corners
    /// or with a position that is not finite are left out.
    #[must_use]
    pub fn new(surface: &Surface, visible: &dyn Fn(usize) -> bool) -> Self {
        let radius = surface.bounds().map_or(0.0, |b| f64::from(b.radius_m()));
        let mut joiner = Joiner::new(radius * SAME_PLACE);
        let mut mesh = Self::default();
        for (number, patch) in surface.patches.iter().enumerate() {
            mesh.first.push(mesh.face_of.len());
            let shown = visible(number);
            let mut corners = vec![NONE; patch.positions.len()];
            for triangle in 0..patch.triangle_count() {
                let vertices = patch.triangle(triangle).filter(|_| shown);
                let face = vertices.and_then(|vertices| {
                    let finite = vertices.iter().all(|v| patch.positions[*v].is_finite());
                    finite.then(|| {
                        vertices.map(|v| {
                            if corners[v] == NONE {
                                corners[v] = joiner.corner(patch.positions[v].as_dvec3());
                            }
                            corners[v]
                        })
                    })
                });
                let whole = face.filter(|[a, b, c]| a != b && b != c && c != a);
                mesh.face_of
                    .push(whole.map_or(NONE, |_| mesh.faces.len() as u32));
                mesh.faces.extend(whole);
            }
        }
        mesh.places = joiner.places;
        mesh.find_edges();
        mesh.part_corners();
        mesh.list_neighbours();
        mesh
    }

    /// How many triangles there are.
    #[must_use]
    pub fn triangle_count(&self) -> usize {
        self.faces.len()
    }

    /// The place of a hit on the same surface; `None` on a triangle that was left out.
    #[must_use]
    pub fn spot(&self, hit: &Hit) -> Option<Spot> {
        let triangle = self.first.get(hit.patch)?.checked_add(hit.triangle)?;
        let face = *self.face_of.get(triangle)?;
        if face == NONE {
            return None;
        }
        let weights = hit.barycentric.map(|w| f64::from(w).max(OFF_EDGE));
        let sum: f64 = weights.iter().sum();
        Some(Spot {
            face,
            weights: weights.map(|w| w / sum),
        })
    }

    /// Where a spot is, in metres.
    #[must_use]
    pub fn position_m(&self, spot: &Spot) -> DVec3 {
        let corners = self.corners(spot.face);
        (0..3).map(|k| corners[k] * spot.weights[k]).sum()
    }

    pub(crate) fn corners(&self, face: u32) -> [DVec3; 3] {
        self.faces[face as usize].map(|corner| self.places[corner as usize])
    }

    pub(crate) fn area_m2(&self, face: u32) -> f64 {
        let [a, b, c] = self.corners(face);
        (b - a).cross(c - a).length() * 0.5
    }

    pub(crate) fn faces_of_edge(&self, edge: u32) -> &[u32] {
        self.edge_faces.of(edge)
    }

    pub(crate) fn faces_of_corner(&self, corner: u32) -> &[u32] {
        self.corner_faces.of(corner)
    }

    pub(crate) fn length_m(&self, edge: u32) -> f64 {
        let [a, b] = self.edges[edge as usize];
        self.places[a as usize].distance(self.places[b as usize])
    }

    /// A point of an edge, `share` of the way from its first corner.
    pub(crate) fn on_edge(&self, edge: u32, share: f64) -> DVec3 {
        let [a, b] = self.edges[edge as usize].map(|corner| self.places[corner as usize]);
        a.lerp(b, share)
    }

    /// The edge that two faces share.
    pub(crate) fn between(&self, a: u32, b: u32) -> Option<u32> {
        let others = &self.sides[b as usize];
        let mut sides = self.sides[a as usize].iter();
        sides.find(|edge| others.contains(edge)).copied()
    }

    /// The face across an edge, where exactly one is.
    pub(crate) fn across(&self, face: u32, edge: u32) -> Option<u32> {
        match *self.faces_of_edge(edge) {
            [a, b] if a == face => Some(b),
            [a, b] if b == face => Some(a),
            _ => None,
        }
    }

    /// The corner of a face that is not on one of its edges.
    pub(crate) fn apex(&self, face: u32, edge: u32) -> u32 {
        let ends = self.edges[edge as usize];
        let mut corners = self.faces[face as usize].into_iter();
        corners.find(|c| !ends.contains(c)).unwrap_or(ends[0])
    }

    fn find_edges(&mut self) {
        let mut all: Vec<(u32, u32, u32)> = Vec::with_capacity(self.faces.len() * 3);
        for (face, corners) in self.faces.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                all.push((a.min(b), a.max(b), (face * 3 + k) as u32));
            }
        }
        all.sort_unstable();
        self.sides = vec![[NONE; 3]; self.faces.len()];
        for (low, high, side) in all {
            if self.edges.last() != Some(&[low, high]) {
                self.edges.push([low, high]);
            }
            let edge = self.edges.len() as u32 - 1;
            self.sides[side as usize / 3][side as usize % 3] = edge;
        }
    }

    /// A corner where pieces of surface meet in nothing but a point becomes one for each of them.
    fn part_corners(&mut self) {
        let pairs = self.faces.iter().zip(0_u32..);
        let pairs = pairs.flat_map(|(corners, face)| corners.iter().map(move |c| (*c, face)));
        let around = Lists::new(self.places.len(), pairs);
        for corner in 0..self.places.len() as u32 {
            let mut left: Vec<u32> = around.of(corner).to_vec();
            let mut pieces = 0;
            while let Some(first) = left.pop() {
                let mut piece = vec![first];
                let mut at = 0;
                while at < piece.len() {
                    let now = piece[at];
                    at += 1;
                    left.retain(|other| {
                        let joined = self
                            .between(now, *other)
                            .is_some_and(|edge| self.edges[edge as usize].contains(&corner));
                        if joined {
                            piece.push(*other);
                        }
                        !joined
                    });
                }
                pieces += 1;
                if pieces > 1 {
                    self.part(corner, &piece);
                }
            }
        }
    }

    fn part(&mut self, corner: u32, piece: &[u32]) {
        let own = self.places.len() as u32;
        self.places.push(self.places[corner as usize]);
        for face in piece {
            for c in &mut self.faces[*face as usize] {
                if *c == corner {
                    *c = own;
                }
            }
            for edge in self.sides[*face as usize] {
                let ends = &mut self.edges[edge as usize];
                if let Some(end) = ends.iter().position(|e| *e == corner) {
                    ends[end] = own;
                    ends.sort_unstable();
                }
            }
        }
    }

    fn list_neighbours(&mut self) {
        let by_edge = self.sides.iter().zip(0_u32..);
        let by_edge = by_edge.flat_map(|(edges, face)| edges.iter().map(move |e| (*e, face)));
        self.edge_faces = Lists::new(self.edges.len(), by_edge);
        let by_corner = self.faces.iter().zip(0_u32..);
        let by_corner =
            by_corner.flat_map(|(corners, face)| corners.iter().map(move |c| (*c, face)));
        self.corner_faces = Lists::new(self.places.len(), by_corner);
    }
}

/// Gives the same number to corners at the same place.
struct Joiner {
    within_m: f64,
    places: Vec<DVec3>,
    /// By cells much larger than the distance, so that a place seldom needs more than one.
    cells: HashMap<[i64; 3], Vec<u32>>,
}

impl Joiner {
    fn new(within_m: f64) -> Self {
        Self {
            within_m,
            places: Vec::new(),
            cells: HashMap::new(),
        }
    }

    fn corner(&mut self, place: DVec3) -> u32 {
        // A single point has no radius; casts saturate.
        let side = (self.within_m * 64.0).max(f64::MIN_POSITIVE);
        let cell = |p: DVec3| (p / side).floor().to_array().map(|x| x as i64);
        let (low, high) = (cell(place - self.within_m), cell(place + self.within_m));
        for x in low[0]..=high[0] {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    let known = self.cells.get(&[x, y, z]).into_iter().flatten();
                    for corner in known {
                        if self.places[*corner as usize].distance(place) <= self.within_m {
                            return *corner;
                        }
                    }
                }
            }
        }
        let corner = self.places.len() as u32;
        self.places.push(place);
        self.cells.entry(cell(place)).or_default().push(corner);
        corner
    }
}
