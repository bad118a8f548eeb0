//! Cutting the mesh into charts: pieces that lie flat in one direction without covering
//! themselves.

use super::mesh::Mesh;
use glam::{Vec2, Vec3};
use std::collections::{HashMap, VecDeque};

/// A piece of the surface laid flat by looking at it along one direction.
#[derive(Debug)]
pub(crate) struct Chart {
    /// Triangles of the mesh.
    pub(crate) faces: Vec<u32>,
    /// Direction it is seen from.
    pub(crate) axis: Vec3,
}

/// Least cosine between a triangle's normal and the axis of its chart: 60 degrees, so that no
/// texel is stretched by more than a factor of two.
const FLATNESS: f32 = 0.5;
/// The same for leftovers that would otherwise be a chart of a few triangles: 75 degrees.
const LAST_RESORT: f32 = 0.26;
/// Least cosine between a facet's own normal and that of the carving there: 60 degrees. At an edge that is
/// sharper than the mesh is fine a facet may be folded over; it then lies as it is, and not as the carving does.
const FOLDED: f32 = 0.5;
/// Charts below this many triangles are given to their neighbours where they fit.
const CRUMB: usize = 80;
/// Cell of the overlap look-up, centimetres.
const CELL_CM: f32 = 0.5;

/// Two axes that span the plane a chart is laid into.
pub(crate) fn plane(axis: Vec3) -> (Vec3, Vec3) {
    // "Up" stays up in the sheet where it can, so that the sheets read like the object.
    let up = if axis.y.abs() > 0.9 { Vec3::Z } else { Vec3::Y };
    let u = up.cross(axis).normalize();
    (u, axis.cross(u))
}

/// A chart while it grows: remembers what is covered.
struct Growing {
    axis: Vec3,
    u: Vec3,
    v: Vec3,
    covered: HashMap<(i32, i32), Vec<u32>>,
    faces: Vec<u32>,
}

struct Cutter<'a> {
    mesh: &'a Mesh,
    normals: Vec<Vec3>,
    neighbours: Vec<[u32; 3]>,
    owner: Vec<u32>,
}

const NONE: u32 = u32::MAX;

/// Cuts the whole mesh. The first axes are tried over the whole mesh (the front makes one large
/// chart), what is left is cut by growing around the first free triangle.
pub(crate) fn cut(mesh: &Mesh, first_axes: &[Vec3]) -> Vec<Chart> {
    let mut cutter = Cutter::new(mesh);
    let mut charts: Vec<Growing> = Vec::new();
    for &axis in first_axes {
        let mut seeds: Vec<u32> = (0..mesh.triangles.len() as u32)
            .filter(|&f| cutter.normals[f as usize].dot(axis) > 0.8)
            .collect();
        // From the foremost down: what lies on top belongs to the first chart.
        seeds.sort_by(|a, b| {
            cutter
                .depth(*b, axis)
                .total_cmp(&cutter.depth(*a, axis))
                .then(a.cmp(b))
        });
        for seed in seeds {
            if cutter.owner[seed as usize] == NONE {
                cutter.grow(seed, axis, &mut charts);
            }
        }
    }
    for seed in 0..mesh.triangles.len() as u32 {
        if cutter.owner[seed as usize] == NONE {
            let axis = cutter.mean_normal(seed);
            cutter.grow(seed, axis, &mut charts);
        }
    }
    cutter.give_crumbs_away(&mut charts);
    charts
        .into_iter()
        .filter(|c| !c.faces.is_empty())
        .map(|c| Chart {
            faces: c.faces,
            axis: c.axis,
        })
        .collect()
}

impl<'a> Cutter<'a> {
    fn new(mesh: &'a Mesh) -> Self {
        let normals = mesh
            .triangles
            .iter()
            .map(|t| {
                // Those of the carving, not of the facets: they are less noisy, so charts are fewer.
                let carved = t
                    .iter()
                    .map(|&i| mesh.normals[i as usize])
                    .sum::<Vec3>()
                    .normalize_or_zero();
                match facet(mesh, t) {
                    Some(own) if own.dot(carved) < FOLDED => own,
                    _ => carved,
                }
            })
            .collect();
        let mut edges: HashMap<(u32, u32), u32> = HashMap::new();
        let mut neighbours = vec![[NONE; 3]; mesh.triangles.len()];
        for (f, t) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                edges.insert((t[k], t[(k + 1) % 3]), f as u32);
            }
        }
        for (f, t) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                if let Some(&g) = edges.get(&(t[(k + 1) % 3], t[k])) {
                    neighbours[f][k] = g;
                }
            }
        }
        Self {
            mesh,
            normals,
            neighbours,
            owner: vec![NONE; mesh.triangles.len()],
        }
    }

    fn depth(&self, face: u32, axis: Vec3) -> f32 {
        self.mesh.positions[self.mesh.triangles[face as usize][0] as usize].dot(axis)
    }

    /// Mean normal of the free triangles within a few steps.
    fn mean_normal(&self, seed: u32) -> Vec3 {
        let start = self.normals[seed as usize];
        let mut sum = Vec3::ZERO;
        let mut seen = vec![seed];
        let mut i = 0;
        while i < seen.len() && seen.len() < 400 {
            let f = seen[i] as usize;
            sum += self.normals[f];
            for &g in &self.neighbours[f] {
                let free = g != NONE && self.owner[g as usize] == NONE;
                if free && !seen.contains(&g) && self.normals[g as usize].dot(start) > 0.3 {
                    seen.push(g);
                }
            }
            i += 1;
        }
        sum.normalize_or(start)
    }

    fn grow(&mut self, seed: u32, axis: Vec3, charts: &mut Vec<Growing>) {
        let index = charts.len() as u32;
        let mut chart = Growing::new(axis);
        let t = &self.mesh.triangles[seed as usize];
        if !chart.faces_up(self.mesh, seed)
            && let Some(own) = facet(self.mesh, t)
        {
            chart = Growing::new(own);
        }
        let axis = chart.axis;
        let mut queue = VecDeque::from([seed]);
        while let Some(f) = queue.pop_front() {
            let steep = f != seed && self.normals[f as usize].dot(axis) < FLATNESS;
            if self.owner[f as usize] != NONE || steep || !chart.take(self.mesh, f) {
                continue;
            }
            self.owner[f as usize] = index;
            queue.extend(self.neighbours[f as usize].iter().filter(|&&g| g != NONE));
        }
        if chart.faces.is_empty() {
            // A triangle without area: it covers nothing, wherever it goes.
            chart.faces.push(seed);
            self.owner[seed as usize] = index;
        }
        charts.push(chart);
    }

    /// Gives the triangles of very small charts to neighbouring charts, where they fit.
    fn give_crumbs_away(&mut self, charts: &mut [Growing]) {
        for _ in 0..5 {
            for index in 0..charts.len() {
                if charts[index].faces.len() >= CRUMB {
                    continue;
                }
                let faces = std::mem::take(&mut charts[index].faces);
                for &f in &faces {
                    if !self.move_face(f, index as u32, charts) {
                        charts[index].faces.push(f);
                    }
                }
                let kept = charts[index].faces.clone();
                charts[index].recount(self.mesh, &kept);
            }
        }
    }

    fn move_face(&mut self, face: u32, from: u32, charts: &mut [Growing]) -> bool {
        for g in self.neighbours[face as usize] {
            if g == NONE || self.owner[g as usize] == from {
                continue;
            }
            let to = self.owner[g as usize];
            let chart = &mut charts[to as usize];
            if chart.faces.len() < 4 || self.normals[face as usize].dot(chart.axis) < LAST_RESORT {
                continue;
            }
            if chart.take(self.mesh, face) {
                self.owner[face as usize] = to;
                return true;
            }
        }
        false
    }
}

impl Growing {
    fn new(axis: Vec3) -> Self {
        let (u, v) = plane(axis);
        Self {
            axis,
            u,
            v,
            covered: HashMap::new(),
            faces: Vec::new(),
        }
    }

    /// Whether a triangle is seen from its front, with an area.
    fn faces_up(&self, mesh: &Mesh, face: u32) -> bool {
        let t = self.corners(mesh, face);
        cross(t[1] - t[0], t[2] - t[0]) > 1e-7
    }

    fn corners(&self, mesh: &Mesh, face: u32) -> [Vec2; 3] {
        mesh.triangles[face as usize].map(|i| {
            let p = mesh.positions[i as usize];
            Vec2::new(p.dot(self.u), p.dot(self.v))
        })
    }

    /// Takes a triangle in unless it would cover another one.
    fn take(&mut self, mesh: &Mesh, face: u32) -> bool {
        if !self.faces_up(mesh, face) {
            return false;
        }
        let t = self.corners(mesh, face);
        let cells = cells_of(&t);
        for cell in &cells {
            for &other in self.covered.get(cell).into_iter().flatten() {
                if overlap(&t, &self.corners(mesh, other)) {
                    return false;
                }
            }
        }
        for cell in cells {
            self.covered.entry(cell).or_default().push(face);
        }
        self.faces.push(face);
        true
    }

    fn recount(&mut self, mesh: &Mesh, faces: &[u32]) {
        self.covered.clear();
        for &f in faces {
            for cell in cells_of(&self.corners(mesh, f)) {
                self.covered.entry(cell).or_default().push(f);
            }
        }
    }
}

/// The normal of a triangle as it lies; none without an area.
fn facet(mesh: &Mesh, triangle: &[u32; 3]) -> Option<Vec3> {
    let [a, b, c] = triangle.map(|i| mesh.positions[i as usize]);
    (b - a).cross(c - a).try_normalize()
}

fn cross(a: Vec2, b: Vec2) -> f32 {
    a.x * b.y - a.y * b.x
}

fn cells_of(t: &[Vec2; 3]) -> Vec<(i32, i32)> {
    let low = (t[0].min(t[1]).min(t[2]) / CELL_CM).floor();
    let high = (t[0].max(t[1]).max(t[2]) / CELL_CM).floor();
    let mut cells = Vec::with_capacity(4);
    for y in low.y as i32..=high.y as i32 {
        for x in low.x as i32..=high.x as i32 {
            cells.push((x, y));
        }
    }
    cells
}

/// Do two counter-clockwise triangles cover common ground? Touching along an edge is none.
pub(crate) fn overlap(a: &[Vec2; 3], b: &[Vec2; 3]) -> bool {
    !(separated(a, b) || separated(b, a))
}

/// Is there an edge of `a` with all of `b` outside it, or just touching it?
fn separated(a: &[Vec2; 3], b: &[Vec2; 3]) -> bool {
    (0..3).any(|k| {
        let (p, q) = (a[k], a[(k + 1) % 3]);
        let edge = q - p;
        // A thousandth of a millimetre counts as touching.
        let slack = 1e-4 * edge.length();
        b.iter().all(|&c| cross(edge, c - p) <= slack)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sculpt::Sculpture;
    use crate::surface::mesh::build;

    /// A mirrored triangle has a negative area on the sheet (the sign of the cross product).
    #[test]
    fn no_chart_lies_mirrored() {
        let sculpture = Sculpture::new(crate::DEFAULT_SEED);
        let (boss, _) = build(&sculpture, crate::DEFAULT_SEED, 40_000, &|_| {}).expect("a mesh");
        let charts = cut(&boss, &[Vec3::Z, Vec3::NEG_Z]);
        let mut mirrored = 0;
        for chart in &charts {
            let laid = Growing::new(chart.axis);
            for &face in &chart.faces {
                let t = laid.corners(&boss, face);
                mirrored += usize::from(cross(t[1] - t[0], t[2] - t[0]) < 0.0);
            }
        }
        let single = charts.iter().filter(|c| c.faces.len() == 1).count();
        println!("{} charts, {single} of one triangle", charts.len());
        assert_eq!(mirrored, 0);
        let faces: usize = charts.iter().map(|c| c.faces.len()).sum();
        assert_eq!(faces, boss.triangles.len(), "each triangle in one chart");
    }
}
