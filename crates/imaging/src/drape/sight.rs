//! What one photograph sees: an exact answer for every ray through its centre of projection.
//!
//! All such rays are points of the normalised image plane. The triangles lie there on a grid of
//! cells, each with the list of those that touch it, nearest first; a ray asks one cell. This is ray
//! casting with a structure that fits its rays, not a depth buffer: nothing is rounded to pixels.
//! Depth is kept as 1/z, which is linear over the plane for each triangle.

use glam::{BVec3, DVec3, Vec3, Vec4};

use super::mesh::{Face, bounds_m};
use super::view::View;

/// A triangle hides what is behind it by more than this part of the distance: rounding of the
/// stored numbers (single precision rounds by 6e-8 of the distance, and a few such add up), and the
/// triangles that share an edge with the place asked for (a choice of ours; no texel of the comparison
/// with rays of double precision goes wrong by it).
const BEHIND: f64 = 3e-6;

/// Places on the grid are rounded by up to this part of a cell: single precision at 2048 cells is
/// exact to 0.00012, twice. On a steep triangle that is a depth.
const ROUNDED: f32 = 3e-4;

/// Triangles that overlap on the grid by less than this part of a cell touch: corners that they share lie at the
/// same place, but for rounding of products (a choice of ours, a thirtieth of [`ROUNDED`]).
const TOUCHING: f32 = 1e-5;

/// The nearest depth kept, as a part of the farthest: triangles that reach behind the
/// camera are cut there. Single precision still tells depths apart from there on (a choice of ours).
const NEAR: f64 = 1e-5;

/// Most cells along a side: four million, with which a mesh of a million triangles has a few in each (a
/// choice of ours).
const MOST_CELLS: f64 = 2048.0;

#[derive(Debug, Clone, Copy)]
struct Shadow {
    /// Corners on the grid.
    corners: [[f32; 2]; 3],
    /// 1/z at the first corner, its slopes on the grid, and the most it is.
    inverse: f32,
    slope: [f32; 2],
    most: f32,
    least: f32,
    face: u32,
}

impl Shadow {
    /// 1/z under a point of the grid, if the triangle covers it.
    #[inline]
    fn at(&self, x: f32, y: f32) -> Option<f32> {
        let q = self.corners.map(|[cx, cy]| [cx - x, cy - y]);
        let side = |a: [f32; 2], b: [f32; 2]| a[0] * b[1] - a[1] * b[0];
        let (u, v, w) = (side(q[0], q[1]), side(q[1], q[2]), side(q[2], q[0]));
        let inside = (u >= 0.0 && v >= 0.0 && w >= 0.0) || (u <= 0.0 && v <= 0.0 && w <= 0.0);
        inside.then(|| {
            let inverse = self.inverse - self.slope[0] * q[0][0] - self.slope[1] * q[0][1];
            inverse.max(self.least).min(self.most)
        })
    }

    /// 1/z of its plane at a point of the grid.
    #[inline]
    fn plane_at(&self, [x, y]: [f32; 2]) -> f32 {
        let [cx, cy] = self.corners[0];
        self.inverse - self.slope[0] * (cx - x) - self.slope[1] * (cy - y)
    }

    /// What rounding of places on the grid makes of its depth.
    #[inline]
    fn steep(&self) -> f32 {
        (self.slope[0].abs() + self.slope[1].abs()) * ROUNDED
    }

    /// Its edges, seen from a point of the grid near it; `None` where it has no area and so no outer side.
    fn edges(&self, origin: [f32; 2]) -> Option<Edges> {
        let [a, b, c] = self.corners.map(|[x, y]| [x - origin[0], y - origin[1]]);
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        let sign = if area < 0.0 { -1.0 } else { 1.0 };
        let edge = |p: [f32; 2], q: [f32; 2]| {
            let (dx, dy) = (sign * (q[0] - p[0]), sign * (q[1] - p[1]));
            let within = TOUCHING * (dx.abs() + dy.abs());
            [-dy, dx, dx * p[1] - dy * p[0] + within]
        };
        (area != 0.0).then(|| Edges([edge(a, b), edge(b, c), edge(c, a)]))
    }

    /// Its corners seen from a point of the grid, by axis, the last one twice.
    #[inline]
    fn corners_from(&self, origin: [f32; 2]) -> [Vec4; 2] {
        let [a, b, c] = self.corners;
        [0, 1].map(|k| Vec4::new(a[k], b[k], c[k], c[k]) - origin[k])
    }

    /// Whether its plane is nowhere before another triangle.
    #[inline]
    fn is_behind(&self, other: &Self) -> bool {
        let steep = self.steep();
        other.corners.iter().all(|&corner| {
            self.plane_at(corner) - steep <= other.plane_at(corner) * (1.0 + BEHIND as f32)
        })
    }

    /// Whether the triangle meets the cell whose low corner this is.
    fn touches(&self, x: f32, y: f32) -> bool {
        let [a, b, c] = self.corners;
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        let sign = if area < 0.0 { -1.0 } else { 1.0 };
        [(a, b), (b, c), (c, a)].iter().all(|(p, q)| {
            let (dx, dy) = (sign * (q[0] - p[0]), sign * (q[1] - p[1]));
            // The cell's corner furthest inwards, and a thousandth of a cell more for rounding, which is
            // of a tenth of that.
            let px = if dy > 0.0 { x } else { x + 1.0 } - p[0];
            let py = if dx > 0.0 { y + 1.0 } else { y } - p[1];
            dx * py - dy * px >= -1e-3 * (dx.abs() + dy.abs())
        })
    }
}

/// The edges of a triangle on the grid: x and y times the first two numbers are no more than the third on the
/// outer side.
struct Edges([[f32; 3]; 3]);

impl Edges {
    /// Whether one of them has all of these corners on its outer side.
    #[inline]
    fn keep_out(&self, [x, y]: [Vec4; 2]) -> bool {
        let outside = |[a, b, most]: [f32; 3]| (x * a + y * b).cmple(Vec4::splat(most)).all();
        self.0.map(outside).contains(&true)
    }
}

/// What hides a place: a triangle as it lies on the grid.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hider(u32);

/// The grid of one photograph.
#[derive(Debug)]
pub struct Sight {
    min: [f64; 2],
    cells_per_unit: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    list: Vec<u32>,
    shadows: Vec<Shadow>,
}

impl Sight {
    /// Over all triangles, whichever sheet they are on.
    pub fn new(faces: &[Face], view: &View) -> Self {
        let (min, max) = view.normalised_bounds();
        let (width, height) = (max[0] - min[0], max[1] - min[1]);
        // About one cell for each triangle in a picture that the object fills.
        let wanted = (faces.len() as f64).clamp(64.0, MOST_CELLS * MOST_CELLS);
        let cells_per_unit = (wanted / (width * height))
            .sqrt()
            .min(MOST_CELLS / width.max(height));
        let cells = |length: f64| (length * cells_per_unit).ceil().max(1.0) as usize;
        let mut sight = Self {
            min,
            cells_per_unit,
            columns: cells(width),
            rows: cells(height),
            starts: Vec::new(),
            list: Vec::new(),
            shadows: Vec::new(),
        };
        let near = depth_m(faces, view) * NEAR;
        for (number, face) in faces.iter().enumerate() {
            sight.add(face.corners.map(|c| view.camera_of(c)), number as u32, near);
        }
        sight.sort_into_cells();
        sight
    }

    /// Bytes that a grid over so many triangles takes, about, when it is built.
    pub fn bytes(faces: usize) -> u64 {
        // Shadow, four entries of lists, and a cell with its copy while it is built.
        faces as u64 * (size_of::<Shadow>() as u64 + 4 * 4 + 2 * 4)
    }

    fn add(&mut self, corners: [DVec3; 3], face: u32, near: f64) {
        if corners.iter().all(|c| c.z > near) {
            return self.add_before(corners, corners, face);
        }
        // Sutherland and Hodgman against the near plane: three or four corners stay.
        let mut cut = Vec::with_capacity(4);
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            if a.z > near {
                cut.push(a);
            }
            if (a.z > near) != (b.z > near) {
                cut.push(a.lerp(b, (near - a.z) / (b.z - a.z)));
            }
        }
        for k in 2..cut.len() {
            self.add_before([cut[0], cut[k - 1], cut[k]], corners, face);
        }
    }

    fn add_before(&mut self, corners: [DVec3; 3], whole: [DVec3; 3], face: u32) {
        self.shadows.extend(self.shadow(corners, whole, face));
    }

    /// `whole` gives the plane; `None` beside the grid, or where it covers nothing.
    fn shadow(&self, corners: [DVec3; 3], whole: [DVec3; 3], face: u32) -> Option<Shadow> {
        let grid = corners.map(|c| {
            [
                (c.x / c.z - self.min[0]) * self.cells_per_unit,
                (c.y / c.z - self.min[1]) * self.cells_per_unit,
            ]
        });
        let extent = |k: usize| {
            let values = grid.map(|g| g[k]);
            let low = values[0].min(values[1]).min(values[2]);
            (low, values[0].max(values[1]).max(values[2]))
        };
        let ((x0, x1), (y0, y1)) = (extent(0), extent(1));
        if x1 < 0.0 || y1 < 0.0 || x0 > self.columns as f64 || y0 > self.rows as f64 {
            return None;
        }
        let normal = (whole[1] - whole[0]).cross(whole[2] - whole[0]);
        let distance = normal.dot(whole[0]);
        let inverse = corners.map(|c| 1.0 / c.z);
        let most = inverse[0].max(inverse[1]).max(inverse[2]);
        let least = inverse[0].min(inverse[1]).min(inverse[2]);
        let slope = [normal.x, normal.y].map(|n| n / distance / self.cells_per_unit);
        // Seen edge-on it covers nothing.
        slope.iter().all(|s| s.is_finite()).then(|| Shadow {
            corners: grid.map(|g| g.map(|v| v as f32)),
            inverse: inverse[0] as f32,
            slope: slope.map(|s| s as f32),
            most: most as f32,
            least: least as f32,
            face,
        })
    }

    /// Calls `put` with each cell that a triangle meets.
    #[inline]
    fn each_cell(&self, shadow: &Shadow, mut put: impl FnMut(usize)) {
        let extent = |k: usize, cells: usize| {
            let values = shadow.corners.map(|c| c[k]);
            let low = values[0].min(values[1]).min(values[2]);
            let high = values[0].max(values[1]).max(values[2]);
            let cell = |v: f32| (v.max(0.0) as usize).min(cells - 1);
            // A little more, since a point is rounded too.
            cell(low - 1e-3)..cell(high + 1e-3) + 1
        };
        let (x, y) = (extent(0, self.columns), extent(1, self.rows));
        let test = x.len() > 1 && y.len() > 1;
        for cy in y {
            for cx in x.clone() {
                if !test || shadow.touches(cx as f32, cy as f32) {
                    put(cy * self.columns + cx);
                }
            }
        }
    }

    fn sort_into_cells(&mut self) {
        let cells = self.columns * self.rows;
        let mut starts = vec![0_u32; cells + 1];
        // Shadow by shadow the cells that it meets, and where those of each end.
        let mut met: Vec<u32> = Vec::with_capacity(2 * self.shadows.len());
        let mut ends: Vec<u32> = Vec::with_capacity(self.shadows.len());
        for shadow in &self.shadows {
            self.each_cell(shadow, |cell| {
                starts[cell + 1] += 1;
                met.push(cell as u32);
            });
            ends.push(met.len() as u32);
        }
        for i in 1..=cells {
            starts[i] += starts[i - 1];
        }
        let mut next = starts[..cells].to_vec();
        let mut list = vec![0_u32; met.len()];
        let mut from = 0;
        for (number, end) in ends.into_iter().enumerate() {
            for &cell in &met[from..end as usize] {
                let place = &mut next[cell as usize];
                list[*place as usize] = number as u32;
                *place += 1;
            }
            from = end as usize;
        }
        drop(met);
        // Nearest first, then as they come: 1/z is above 0, where larger numbers have larger bits.
        let mut keys: Vec<u64> = Vec::new();
        for cell in 0..cells {
            let own = &mut list[starts[cell] as usize..starts[cell + 1] as usize];
            keys.clear();
            keys.extend(own.iter().map(|&number| {
                let nearness = self.shadows[number as usize].most.to_bits();
                u64::from(!nearness) << 32 | u64::from(number)
            }));
            keys.sort_unstable();
            for (number, key) in own.iter_mut().zip(&keys) {
                *number = *key as u32;
            }
        }
        (self.starts, self.list) = (starts, list);
    }

    fn cell(&self, x: f64, y: f64) -> Option<&[u32]> {
        if !(0.0..self.columns as f64).contains(&x) || !(0.0..self.rows as f64).contains(&y) {
            return None;
        }
        let cell = y as usize * self.columns + x as usize;
        Some(&self.list[self.starts[cell] as usize..self.starts[cell + 1] as usize])
    }

    fn on_grid(&self, normalised: [f64; 2]) -> (f64, f64) {
        let at = |k: usize| (normalised[k] - self.min[k]) * self.cells_per_unit;
        (at(0), at(1))
    }

    /// Whether another triangle than `face` lies before a place at this depth.
    pub fn is_hidden(&self, normalised: [f64; 2], depth: f64, face: u32) -> bool {
        self.hider(normalised, depth, face, None).is_some()
    }

    /// A triangle that hides such a place; the one that hid the place before is tried first.
    pub(crate) fn hider(
        &self,
        normalised: [f64; 2],
        depth: f64,
        face: u32,
        before: Option<Hider>,
    ) -> Option<Hider> {
        let (x, y) = self.on_grid(normalised);
        let limit = ((1.0 + BEHIND) / depth) as f32;
        let (px, py) = (x as f32, y as f32);
        let hides = |shadow: &Shadow| {
            shadow.face != face
                && shadow.most > limit
                && (shadow.at(px, py)).is_some_and(|i| i - shadow.steep() > limit)
        };
        if before.is_some_and(|Hider(number)| hides(&self.shadows[number as usize])) {
            return before;
        }
        // Nearest first.
        self.cell(x, y)?
            .iter()
            .map(|&number| (number, &self.shadows[number as usize]))
            .take_while(|(_, shadow)| shadow.most > limit)
            .find(|(_, shadow)| hides(shadow))
            .map(|(number, _)| Hider(number))
    }

    /// Whether nothing hides any place of a triangle that lies before the camera, in camera space. `false` where
    /// that is not plain: then its places are to be asked one by one.
    pub(crate) fn is_clear(&self, corners: [DVec3; 3], face: u32) -> bool {
        let Some(own) = self.shadow(corners, corners, face) else {
            return false;
        };
        let limit = own.least * (1.0 + BEHIND as f32);
        let origin = own.corners[0];
        let Some(edges) = own.edges(origin) else {
            return false;
        };
        let corners = own.corners_from(origin);
        let is_clear_of = |other: &Shadow| {
            edges.keep_out(other.corners_from(origin))
                || (other.edges(origin)).is_some_and(|edges| edges.keep_out(corners))
                || other.is_behind(&own)
        };
        let mut clear = true;
        self.each_cell(&own, |cell| {
            let list = &self.list[self.starts[cell] as usize..self.starts[cell + 1] as usize];
            let others = list.iter().map(|&number| &self.shadows[number as usize]);
            clear = clear
                && others
                    .take_while(|other| other.most > limit)
                    .filter(|other| other.face != face)
                    .all(is_clear_of);
        });
        clear
    }

    /// The nearest triangle on a ray, and 1/z there.
    pub fn first(&self, normalised: [f64; 2]) -> Option<(u32, f64)> {
        let (x, y) = self.on_grid(normalised);
        let mut best: Option<(u32, f32)> = None;
        for &number in self.cell(x, y)? {
            let shadow = &self.shadows[number as usize];
            if best.is_some_and(|(_, inverse)| shadow.most <= inverse) {
                break;
            }
            if let Some(inverse) = shadow.at(x as f32, y as f32)
                && best.is_none_or(|(_, nearest)| inverse > nearest)
            {
                best = Some((shadow.face, inverse));
            }
        }
        best.map(|(face, inverse)| (face, f64::from(inverse)))
    }
}

/// A depth that no corner exceeds, in metres: that of the farthest corner of the box around all; 0 behind the camera.
fn depth_m(faces: &[Face], view: &View) -> f64 {
    let (low, high) = bounds_m(faces);
    let corner = |n: u8| {
        let is_high = BVec3::new(n & 1 != 0, n & 2 != 0, n & 4 != 0);
        Vec3::select(is_high, high, low)
    };
    let depths = (0..8).map(|n| view.camera_of(corner(n)).z);
    depths.fold(0.0, f64::max)
}
