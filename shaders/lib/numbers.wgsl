// Region numbers.
#import lib/tiles

// The number of a region at a place, from a level about as fine as the picture.
fn number_at(tiled: vec4<u32>, image: texture_2d<u32>, uv: vec2<f32>, dx: vec2<f32>, dy: vec2<f32>) -> u32 {
    if TILED && tiled.x != 0u {
        let size = vec2<f32>(tiled.yz);
        let level = u32(log2(max(narrow_side(dx * size, dy * size), 1.0)));
        if level < tiled.w {
            let inside = clamp(uv, vec2(0.0), vec2(1.0));
            let cell = cell_at(tiled, level, inside);
            let number = first_of_level(tiled, level) + cell.y * grid_of(tiled, level).x + cell.x;
            let tile = tile_at(tiled, number);
            if tile.level < tiled.w {
                let there = vec2<f32>(level_size(tiled, tile.level));
                let texel = clamp(floor(inside * there), vec2(0.0), there - 1.0);
                return textureLoad(label_tiles, vec2<i32>(texel + tile.offset), tile.page, 0).r;
            }
        }
    }
    let size = vec2<f32>(textureDimensions(image));
    let texel = clamp(floor(uv * size), vec2(0.0), size - 1.0);
    return textureLoad(image, vec2<i32>(texel), 0).r;
}
