// Layers that are cut into tiles: a table says where in the pool a tile lies, or which coarser one stands in.
// The Rust twin is `ganosis_renderer::tiles`; sizes are those of `ganosis_tiles`.

// Whether any image is cut into tiles: pipelines without it are smaller.
override TILED: bool = true;

// Where tiles lie, row by row: corner of all of the level in a page, as if it lay there (column, row, in units of
// UNIT_PX), page, level.
@group(2) @binding(0) var tile_table: texture_2d<i32>;
@group(2) @binding(1) var colour_tiles: texture_2d_array<f32>;
@group(2) @binding(2) var band_tiles: texture_2d_array<f32>;
@group(2) @binding(3) var label_tiles: texture_2d_array<u32>;
@group(2) @binding(4) var tile_sampler: sampler;

const TABLE_PX: u32 = 1024u;
const TILE_PX: u32 = 256u;
const UNIT_PX: f32 = 8.0;
// Size of a page.
const PAGE_PX: vec2<f32> = vec2<f32>(1904.0, 1632.0);
// As many times its width a footprint may be long, so that it stays within the border.
const LONGEST: f32 = 7.0;

// What is told of an image: x: number of its first tile in the table, plus 1 (0: it is whole); y, z: its
// size; w: how many levels are cut into tiles.
fn level_size(tiled: vec4<u32>, level: u32) -> vec2<u32> {
    return max(tiled.yz >> vec2(level), vec2(1u));
}

// Tiles of a level, across and down.
fn grid_of(tiled: vec4<u32>, level: u32) -> vec2<u32> {
    return (level_size(tiled, level) + TILE_PX - 1u) / TILE_PX;
}

// Width of a footprint with these sides: its area by its length, but no less than what stays in a border.
fn narrow_side(dx: vec2<f32>, dy: vec2<f32>) -> f32 {
    let long = max(max(length(dx), length(dy)), 1e-9);
    return max(abs(dx.x * dy.y - dx.y * dy.x) / long, long / LONGEST);
}

struct Tile {
    // Corner of the tile in its page, as if it began at the image's own corner (px).
    offset: vec2<f32>,
    page: u32,
    // Its level; that of the base where there is no tile.
    level: u32,
};

// Column and row of the tile of a level.
fn cell_at(tiled: vec4<u32>, level: u32, uv: vec2<f32>) -> vec2<u32> {
    let size = level_size(tiled, level);
    return min(vec2<u32>(uv * vec2<f32>(size)) / TILE_PX, (size - 1u) / TILE_PX);
}

// Number of the first tile of a level in its image.
fn first_of_level(tiled: vec4<u32>, level: u32) -> u32 {
    var number = 0u;
    for (var l = 0u; l < level; l += 1u) {
        let grid = grid_of(tiled, l);
        number += grid.x * grid.y;
    }
    return number;
}

// The tile that stands at a number.
fn tile_at(tiled: vec4<u32>, within: u32) -> Tile {
    let number = tiled.x - 1u + within;
    let entry = textureLoad(tile_table, vec2(number % TABLE_PX, number / TABLE_PX), 0);
    return Tile(vec2<f32>(entry.xy) * UNIT_PX, u32(entry.z), u32(entry.w));
}
