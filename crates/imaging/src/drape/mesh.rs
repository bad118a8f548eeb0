//! The triangles of a surface as draping needs them: corners, normals, and places on the sheets in
//! texels.

use ganosis_surface::Surface;
use glam::{DVec3, Vec2, Vec3};

use super::joins::{joined, sides};
use super::scan::scan;
use super::texels::Tiles;
use crate::error::{ImagingError, Result};

/// Faces further apart than this inside one another share texels; nearer, they share an edge
/// (a choice of ours).
const OVERLAP_TEXELS: f32 = 0.05;

/// A triangle that reaches beyond the image by less, in texels, ends at its edge: rounding of UVs (a choice
/// of ours).
const ACROSS_TEXELS: f32 = 0.01;

/// A surface longer than this from corner to corner, in metres, is a building or in millimetres: more
/// than any object that is photographed in one piece (a choice of ours).
pub const LARGEST_OBJECT_M: f64 = 50.0;

/// Side of the coarse image on which overlaps are looked for (a choice of ours).
const EXAMINED_PX: u32 = 2048;

/// One triangle.
#[derive(Debug, Clone, Copy)]
pub struct Face {
    /// Corners in metres.
    pub corners: [Vec3; 3],
    /// Unit normals at the corners; zero where the file has none.
    pub normals: [Vec3; 3],
    /// Corners on the sheet's image, in texels from its top left corner.
    pub uvs_px: [Vec2; 3],
    /// Index of the sheet.
    pub sheet: u32,
    /// Whether an edge of it is the edge of a chart.
    pub at_border: bool,
}

impl Face {
    /// Twice the area vector in m²; its direction is the front of the triangle.
    pub fn cross_m2(&self) -> DVec3 {
        let [a, b, c] = self.corners.map(Vec3::as_dvec3);
        (b - a).cross(c - a)
    }

    fn has_area(&self) -> bool {
        self.cross_m2().length() > 0.0 && self.corners.iter().all(|c| c.is_finite())
    }

    /// Twice the signed area on the image, in texels; negative where it is as in the world (v goes
    /// down), positive where mirrored.
    pub fn cross_px(&self) -> f64 {
        let [a, b, c] = self.uvs_px.map(Vec2::as_dvec2);
        (b - a).perp_dot(c - a)
    }

    /// Square metres that one texel covers.
    pub fn texel_m2(&self) -> f64 {
        self.cross_m2().length() / self.cross_px().abs()
    }

    /// Metres over the triangle for a step of one texel to the right and of one down.
    pub fn texel_steps_m(&self) -> [DVec3; 2] {
        let [a, b, c] = self.corners.map(Vec3::as_dvec3);
        let [p, q, r] = self.uvs_px.map(Vec2::as_dvec2);
        let (ab, ac, pq, pr) = (b - a, c - a, q - p, r - p);
        let cross = pq.perp_dot(pr);
        [
            (ab * pr.y - ac * pq.y) / cross,
            (ac * pq.x - ab * pr.x) / cross,
        ]
    }

    /// The point of these weights.
    pub fn point(&self, weights: [f32; 3]) -> Vec3 {
        let [a, b, c] = self.corners;
        a * weights[0] + b * weights[1] + c * weights[2]
    }

    /// The unit normal at these weights; the triangle's own where the corners give none.
    pub fn normal(&self, weights: [f32; 3]) -> Vec3 {
        let [a, b, c] = self.normals;
        let mixed = (a * weights[0] + b * weights[1] + c * weights[2]).normalize_or_zero();
        if mixed == Vec3::ZERO {
            return self.cross_m2().normalize_or_zero().as_vec3();
        }
        mixed
    }
}

/// The triangles of the patches that `include` accepts, those without area left out, whether or not they
/// have places on an image.
pub fn faces_of(surface: &Surface, include: &dyn Fn(usize) -> bool) -> Vec<Face> {
    let mut faces = Vec::with_capacity(surface.triangle_count());
    for (_, patch) in (surface.patches.iter().enumerate()).filter(|(n, _)| include(*n)) {
        let triangles = (0..patch.triangle_count()).filter_map(|t| patch.triangle(t));
        let each = triangles.map(|vertices| Face {
            corners: vertices.map(|v| patch.positions[v]),
            normals: vertices.map(|v| patch.normals.get(v).copied().unwrap_or_default()),
            uvs_px: [Vec2::ZERO; 3],
            sheet: patch.sheet as u32,
            at_border: false,
        });
        faces.extend(each.filter(Face::has_area));
    }
    faces
}

/// The image of one sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetSize {
    /// The sheet's name.
    pub name: String,
    /// Width in texels.
    pub width_px: u32,
    /// Height in texels.
    pub height_px: u32,
}

/// What is odd about the mesh and its places on the images.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Findings {
    /// Triangles in all.
    pub faces: usize,
    /// Triangles without area on the surface.
    pub without_area: usize,
    /// Triangles with an area on the surface and none on the image: they get no colour.
    pub without_place: usize,
    /// Triangles that lie mirrored on the image.
    pub mirrored: usize,
    /// Their area in m².
    pub mirrored_m2: f64,
    /// Area in m² of surface that shares its texels with other surface, each place once.
    pub overlapping_m2: f64,
    /// Triangles that lie across the edge of the image.
    pub across_edge: usize,
    /// Area of all triangles in m².
    pub area_m2: f64,
}

/// All triangles, of all sheets.
#[derive(Debug, Clone)]
pub struct Mesh {
    /// The triangles that are there; those without area are left out.
    pub faces: Vec<Face>,
    /// The sheets, in the order of the surface.
    pub sheets: Vec<SheetSize>,
    /// What is odd.
    pub findings: Findings,
}

impl Mesh {
    /// From the patches that `include` accepts. `sheets` has a size for each sheet of the surface.
    ///
    /// # Errors
    /// There is no triangle, or the file has no UVs.
    pub fn new(
        surface: &Surface,
        sheets: Vec<SheetSize>,
        include: &dyn Fn(usize) -> bool,
    ) -> Result<Self> {
        let mut faces = Vec::with_capacity(surface.triangle_count());
        let mut findings = Findings::default();
        for (number, patch) in surface.patches.iter().enumerate() {
            let Some(size) = sheets.get(patch.sheet).filter(|_| include(number)) else {
                continue;
            };
            let scale = Vec2::new(size.width_px as f32, size.height_px as f32);
            let uvs: Vec<Vec2> = (0..patch.positions.len())
                .map(|v| surface.sheet_uv(patch, v))
                .collect();
            for triangle in 0..patch.triangle_count() {
                let Some(vertices) = patch.triangle(triangle) else {
                    continue;
                };
                findings.faces += 1;
                let uv = vertices.map(|v| uvs[v]);
                // A sheet repeats beyond 0..1; a triangle lies in the square of its middle.
                let cell = ((uv[0] + uv[1] + uv[2]) / 3.0).floor();
                let face = Face {
                    corners: vertices.map(|v| patch.positions[v]),
                    normals: vertices.map(|v| patch.normals.get(v).copied().unwrap_or_default()),
                    uvs_px: uv.map(|uv| (uv - cell) * scale),
                    sheet: patch.sheet as u32,
                    at_border: false,
                };
                if face.has_area() {
                    faces.push(face);
                } else {
                    findings.without_area += 1;
                }
            }
        }
        let mut mesh = Self {
            faces,
            sheets,
            findings,
        };
        let (found, borders) = rayon::join(|| mesh.look(), || mesh.borders());
        mesh.findings = found?;
        for face in borders {
            mesh.faces[face as usize].at_border = true;
        }
        Ok(mesh)
    }

    /// What is found on reading, and what is odd besides.
    fn look(&self) -> Result<Findings> {
        let mut found = self.findings;
        for face in &self.faces {
            let m2 = 0.5 * face.cross_m2().length();
            found.area_m2 += m2;
            let cross = face.cross_px();
            if cross == 0.0 || !cross.is_finite() {
                found.without_place += 1;
            } else if cross > 0.0 {
                found.mirrored += 1;
                found.mirrored_m2 += m2;
            }
            let size = &self.sheets[face.sheet as usize];
            let edge = Vec2::new(size.width_px as f32, size.height_px as f32);
            let outside = |uv: &Vec2| {
                uv.min_element() < -ACROSS_TEXELS || (*uv - edge).max_element() > ACROSS_TEXELS
            };
            found.across_edge += usize::from(face.uvs_px.iter().any(outside));
        }
        if self.faces.is_empty() {
            return Err(ImagingError::new(
                "the surface has no triangle with an area",
                "surface",
                "Export the mesh again, with its triangles.",
            ));
        }
        if found.without_place == self.faces.len() {
            return Err(ImagingError::new(
                "the surface has no UVs: its triangles have no place on an image",
                "surface",
                "Run “ganosis unwrap” on it, or unwrap it elsewhere so that no two triangles overlap on the \
                 image, and drape onto the file that comes of it.",
            ));
        }
        found.overlapping_m2 = (0..self.sheets.len()).map(|s| self.overlapping(s)).sum();
        Ok(found)
    }

    /// Area of a sheet's surface whose texels belong to other surface too, on a coarse image.
    fn overlapping(&self, sheet: usize) -> f64 {
        let size = &self.sheets[sheet];
        let shrink = |px: u32| f64::from(px.min(EXAMINED_PX)) / f64::from(px.max(1));
        let (sx, sy) = (shrink(size.width_px), shrink(size.height_px));
        let scale = Vec2::new(sx as f32, sy as f32);
        let (w, h) = (
            size.width_px.min(EXAMINED_PX),
            size.height_px.min(EXAMINED_PX),
        );
        let window = [0, 0, w as i32, h as i32];
        let mut owner = vec![u32::MAX; w as usize * h as usize];
        let mut m2 = 0.0;
        for (number, face) in self.faces.iter().enumerate() {
            if face.sheet as usize != sheet {
                continue;
            }
            let texel_m2 = face.texel_m2() / (sx * sy);
            scan(
                face.uvs_px.map(|uv| uv * scale),
                window,
                0.0,
                |x, y, _, off| {
                    if off > -OVERLAP_TEXELS {
                        return;
                    }
                    let own = &mut owner[y as usize * w as usize + x as usize];
                    if *own == u32::MAX {
                        *own = number as u32;
                    } else {
                        m2 += texel_m2;
                    }
                },
            );
        }
        m2
    }

    /// The triangles at the edges of charts: an edge that only one triangle has is one.
    fn borders(&self) -> Vec<u32> {
        let on_sheet = |face: &Face| {
            face.uvs_px
                .map(|uv| (face.sheet, uv.to_array().map(f32::to_bits)))
        };
        let sides = sides(&joined(&self.faces, on_sheet).0);
        let alone = sides.chunk_by(|a, b| a.key == b.key).filter_map(|group| {
            let [alone] = group else { return None };
            Some(alone.face)
        });
        alone.collect()
    }

    /// Area in m² of surface that each texel of each sheet covers, sheet after sheet, row by row; 0
    /// off the charts. Their sum is the area of the surface, but for rounding at the charts' edges.
    pub fn texel_areas(&self) -> Vec<f32> {
        let first: Vec<usize> = self
            .sheets
            .iter()
            .scan(0, |next, s| {
                let own = *next;
                *next += s.width_px as usize * s.height_px as usize;
                Some(own)
            })
            .collect();
        let tiles = Tiles::new(self, 0.0);
        let count = self
            .sheets
            .iter()
            .map(|s| s.width_px as usize * s.height_px as usize)
            .sum();
        let mut areas = vec![0.0; count];
        for (number, tile) in tiles.tiles.iter().enumerate() {
            let width = self.sheets[tile.sheet as usize].width_px as usize;
            for (i, place) in tiles.places(self, number).iter().enumerate() {
                if let Some(face) = self.faces.get(place.face as usize) {
                    let (x, y) = tile.texel(i);
                    let at = first[tile.sheet as usize] + y as usize * width + x as usize;
                    areas[at] = face.texel_m2() as f32;
                }
            }
        }
        areas
    }

    /// Side in metres of the square of surface that a texel covers, on average; 0 where none covers any.
    pub fn mean_texel_m(&self) -> f64 {
        let px: f64 = self.faces.iter().map(|f| 0.5 * f.cross_px().abs()).sum();
        let side = (self.findings.area_m2 / px).sqrt();
        if side.is_finite() { side } else { 0.0 }
    }

    /// Middle of the box around everything, in metres.
    pub fn middle_m(&self) -> Vec3 {
        let (min, max) = bounds_m(&self.faces);
        min * 0.5 + max * 0.5
    }

    /// Half the diagonal of the box around everything, in metres.
    pub fn radius_m(&self) -> f64 {
        let (min, max) = bounds_m(&self.faces);
        0.5 * (max.as_dvec3() - min.as_dvec3()).length()
    }
}

/// Low and high corner of the box around triangles, in metres.
pub(crate) fn bounds_m(faces: &[Face]) -> (Vec3, Vec3) {
    let corners = || faces.iter().flat_map(|f| f.corners);
    let min = corners().fold(Vec3::INFINITY, Vec3::min);
    (min, corners().fold(Vec3::NEG_INFINITY, Vec3::max))
}
