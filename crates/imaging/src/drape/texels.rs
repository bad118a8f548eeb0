//! For each texel its place on the surface.

use super::mesh::Mesh;
use super::scan::scan;

/// Side of the square tiles in which everything is done, in texels.
pub const TILE_PX: u32 = 256;

/// A texel is touched by a chart if its centre lies this near: half its diagonal.
pub const TOUCHED_TEXELS: f32 = 0.708;

/// A texel's place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// The triangle; [`Place::NONE`] off every chart.
    pub face: u32,
    /// Weights of its first two corners.
    pub weights: [f32; 2],
    /// Distance outside the chart in texels; 0 within.
    pub outside: f32,
}

impl Place {
    /// No triangle.
    pub const NONE: u32 = u32::MAX;

    const EMPTY: Self = Self {
        face: Self::NONE,
        weights: [0.0; 2],
        outside: f32::INFINITY,
    };

    /// Weights of the three corners.
    pub fn weights(&self) -> [f32; 3] {
        let [a, b] = self.weights;
        [a, b, 1.0 - a - b]
    }

    /// Whether a chart touches the texel (else it is border or nothing).
    pub fn is_chart(&self) -> bool {
        self.outside <= TOUCHED_TEXELS
    }
}

/// One tile of one sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tile {
    /// Index of the sheet.
    pub sheet: u32,
    /// First column.
    pub x0: u32,
    /// First row.
    pub y0: u32,
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
}

impl Tile {
    /// Number of texels.
    pub fn texels(&self) -> usize {
        self.width as usize * self.height as usize
    }

    /// Column and row on the sheet of texel `number` of the tile, which go row by row.
    pub fn texel(&self, number: usize) -> (u32, u32) {
        let number = number as u32;
        (self.x0 + number % self.width, self.y0 + number / self.width)
    }
}

/// Tiles of all sheets, and the triangles of each.
#[derive(Debug)]
pub struct Tiles {
    /// The tiles, sheet by sheet, row by row.
    pub tiles: Vec<Tile>,
    starts: Vec<u32>,
    faces: Vec<u32>,
    border_texels: f32,
}

impl Tiles {
    /// Over a mesh, with places up to `border_texels` outside the charts.
    pub fn new(mesh: &Mesh, border_texels: f32) -> Self {
        let mut tiles = Vec::new();
        let mut first_of_sheet = Vec::new();
        for (sheet, size) in mesh.sheets.iter().enumerate() {
            first_of_sheet.push(tiles.len());
            for y0 in (0..size.height_px).step_by(TILE_PX as usize) {
                for x0 in (0..size.width_px).step_by(TILE_PX as usize) {
                    tiles.push(Tile {
                        sheet: sheet as u32,
                        x0,
                        y0,
                        width: TILE_PX.min(size.width_px - x0),
                        height: TILE_PX.min(size.height_px - y0),
                    });
                }
            }
        }
        let touched = |number: usize| {
            let face = &mesh.faces[number];
            let size = &mesh.sheets[face.sheet as usize];
            let (columns, rows) = (
                size.width_px.div_ceil(TILE_PX) as usize,
                size.height_px.div_ceil(TILE_PX) as usize,
            );
            let reach = 1.0 + if face.at_border { border_texels } else { 0.0 };
            let [a, b, c] = face.uvs_px;
            let (min, max) = (a.min(b).min(c) - reach, a.max(b).max(c) + reach);
            let cell = |v: f32, most: usize| (v.max(0.0) as usize / TILE_PX as usize).min(most - 1);
            let usable = face.cross_px() != 0.0
                && min.is_finite()
                && max.is_finite()
                && max.min_element() >= 0.0;
            let (x, y) = if usable {
                (
                    cell(min.x, columns)..cell(max.x, columns) + 1,
                    cell(min.y, rows)..cell(max.y, rows) + 1,
                )
            } else {
                (0..0, 0..0)
            };
            let first = first_of_sheet[face.sheet as usize];
            y.flat_map(move |ty| x.clone().map(move |tx| first + ty * columns + tx))
        };
        let mut starts = vec![0_u32; tiles.len() + 1];
        for number in 0..mesh.faces.len() {
            for tile in touched(number) {
                starts[tile + 1] += 1;
            }
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut faces = vec![0; starts[tiles.len()] as usize];
        for number in 0..mesh.faces.len() {
            for tile in touched(number) {
                faces[next[tile] as usize] = number as u32;
                next[tile] += 1;
            }
        }
        Self {
            tiles,
            starts,
            faces,
            border_texels,
        }
    }

    /// Whether any triangle lies on the tile.
    pub fn is_empty(&self, number: usize) -> bool {
        self.starts[number] == self.starts[number + 1]
    }

    /// The places of a tile's texels, row by row. Where triangles overlap, the first of the mesh.
    pub fn places(&self, mesh: &Mesh, number: usize) -> Vec<Place> {
        let tile = self.tiles[number];
        let mut places = vec![Place::EMPTY; tile.texels()];
        let window = [
            tile.x0 as i32,
            tile.y0 as i32,
            (tile.x0 + tile.width) as i32,
            (tile.y0 + tile.height) as i32,
        ];
        let own = self.starts[number] as usize..self.starts[number + 1] as usize;
        for &face in &self.faces[own] {
            let of = &mesh.faces[face as usize];
            let reach = if of.at_border {
                self.border_texels
            } else {
                0.0
            };
            scan(of.uvs_px, window, reach, |x, y, weights, off| {
                let at = (y as u32 - tile.y0) * tile.width + (x as u32 - tile.x0);
                let place = &mut places[at as usize];
                let outside = if off <= super::scan::SLACK { 0.0 } else { off };
                if outside < place.outside {
                    *place = Place {
                        face,
                        weights: [weights[0], weights[1]],
                        outside,
                    };
                }
            });
        }
        places
    }
}
