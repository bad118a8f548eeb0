//! What holds for whole regions, by their number: colours under a lamp, patterns over the paint.

use std::collections::BTreeMap;

use crate::device::Gpu;
use crate::texture::float_table;

/// `TABLE_WIDTH` of `shaders/draw/surface.wgsl`: numbers go on in the next block of rows.
const WIDTH: u32 = 256;
/// `TABLE_ROWS` of the shader.
const ROWS: u32 = 7;
/// Region numbers end here (16 bits), so a table is at most 256 blocks of rows high: 1,792 texels,
/// less than the 2,048 that WebGL 2 grants (OpenGL ES 3.0, MAX_TEXTURE_SIZE).
const LARGEST_NUMBER: u32 = u16::MAX as u32;

/// Patterns of `shaders/lib/patterns.wgsl`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pattern {
    /// Nothing drawn.
    #[default]
    None,
    /// All ink.
    Solid,
    /// Slanting lines, close together.
    Close,
    /// Slanting lines, far apart.
    Diagonal,
    /// Dots.
    Dots,
    /// Short strokes.
    Dashes,
    /// Upright lines.
    Upright,
    /// Level lines.
    Level,
    /// Upright and level lines.
    Grid,
}

/// Linear sRGB to linear sRGB, rows first.
pub type LampMatrix = [[f32; 3]; 3];

/// Nothing changes.
const SAME: LampMatrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// What holds for one region, on the left and on the right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RegionRow {
    /// Its colours under the lamp.
    pub lamp: [LampMatrix; 2],
    /// Its pattern.
    pub pattern: [Pattern; 2],
    /// Its finish: number of `finish_of` in `shaders/lib/light.wgsl`, 0 for none.
    pub finish: [u8; 2],
}

impl Default for RegionRow {
    fn default() -> Self {
        Self {
            lamp: [SAME; 2],
            pattern: [Pattern::None; 2],
            finish: [0; 2],
        }
    }
}

/// All regions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RegionTable {
    /// What holds where nothing else is said, and outside all regions (number 0).
    pub otherwise: RegionRow,
    /// By region number; numbers above 65535 are no region numbers and are passed over.
    pub regions: BTreeMap<u32, RegionRow>,
}

impl RegionTable {
    /// The table as texels, RGBA of 32-bit floats, and its height.
    fn texels(&self) -> (Vec<f32>, u32) {
        let most = self
            .regions
            .range(..=LARGEST_NUMBER)
            .next_back()
            .map_or(0, |(number, _)| *number);
        let blocks = most / WIDTH + 1;
        let mut texels = vec![0.0_f32; (WIDTH * ROWS * blocks * 4) as usize];
        for number in 0..WIDTH * blocks {
            let row = self.regions.get(&number).unwrap_or(&self.otherwise);
            let mut put = |line: u32, values: &[f32]| {
                let y = (number / WIDTH) * ROWS + line;
                let at = ((y * WIDTH + number % WIDTH) * 4) as usize;
                texels[at..at + values.len()].copy_from_slice(values);
            };
            for (i, line) in row.lamp.iter().flatten().enumerate() {
                put(i as u32, line);
            }
            let [left, right] = row.pattern.map(|p| f32::from(p as u8));
            let [gloss_left, gloss_right] = row.finish.map(f32::from);
            put(6, &[left, right, gloss_left, gloss_right]);
        }
        (texels, ROWS * blocks)
    }

    /// The table on the GPU.
    pub(crate) fn upload(&self, gpu: &Gpu) -> wgpu::TextureView {
        let (texels, height) = self.texels();
        float_table(gpu, "region table", [WIDTH, height], &texels)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_region_beyond_the_first_block_lies_below_it() {
        let mut table = RegionTable::default();
        let row = RegionRow {
            lamp: [[[0.5; 3]; 3], SAME],
            pattern: [Pattern::Dots, Pattern::Grid],
            finish: [2, 4],
        };
        table.regions.insert(WIDTH + 3, row);
        let (texels, height) = table.texels();
        assert_eq!(height, 2 * ROWS);
        let at = |line: u32| ((ROWS + line) * WIDTH + 3) as usize * 4;
        assert_eq!(texels[at(0)..at(0) + 3], [0.5; 3]);
        assert_eq!(texels[at(6)..at(6) + 4], [4.0, 8.0, 2.0, 4.0]);
        // Its neighbour is as everywhere else.
        assert_eq!(texels[at(0) + 4..at(0) + 7], [1.0, 0.0, 0.0]);
    }
}
