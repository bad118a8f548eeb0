// Patterns that tell kinds apart without colour; the page's legend draws the same ones
// (`web/src/internal/patterns.js`). Ink grows sparser with the number.

const PATTERN_NONE: u32 = 0u;
const PATTERN_SOLID: u32 = 1u;
const PATTERN_CLOSE: u32 = 2u;
const PATTERN_DIAGONAL: u32 = 3u;
const PATTERN_DOTS: u32 = 4u;
const PATTERN_DASHES: u32 = 5u;
const PATTERN_UPRIGHT: u32 = 6u;
const PATTERN_LEVEL: u32 = 7u;
const PATTERN_GRID: u32 = 8u;

// Ink of lines across `x`, `gap` apart and `width` wide; `soft` is the width of an edge.
fn lines(x: f32, gap: f32, width: f32, soft: f32) -> f32 {
    let from_line = abs(fract(x / gap) - 0.5) * gap;
    return 1.0 - smoothstep(0.5 * width - soft, 0.5 * width + soft, from_line);
}

// Ink 0..1 at a place in CSS pixels; `soft` is half a device pixel or so.
fn hatching(place: vec2<f32>, pattern: u32, soft: f32) -> f32 {
    let slant = (place.x + place.y) * 0.70710678;
    let fall = (place.x - place.y) * 0.70710678;
    switch pattern {
        case PATTERN_SOLID: {
            // Fine joints let the paint through: all ink would pass for a dark paint.
            return min(1.0 - lines(place.x, 8.0, 1.4, 0.5 * soft), 1.0 - lines(place.y, 8.0, 1.4, 0.5 * soft));
        }
        case PATTERN_CLOSE: {
            return lines(slant, 5.0, 2.6, 0.5 * soft);
        }
        case PATTERN_DIAGONAL: {
            return lines(slant, 9.0, 1.8, 0.5 * soft);
        }
        case PATTERN_DOTS: {
            let from_dot = length((fract(place / 7.0) - 0.5) * 7.0);
            return 1.0 - smoothstep(1.3 - 0.5 * soft, 1.3 + 0.5 * soft, from_dot);
        }
        case PATTERN_DASHES: {
            return lines(fall, 12.0, 1.4, 0.5 * soft) * lines(slant, 8.0, 4.0, 0.5 * soft);
        }
        case PATTERN_UPRIGHT: {
            return lines(place.x, 7.0, 1.6, 0.5 * soft);
        }
        case PATTERN_LEVEL: {
            return lines(place.y, 7.0, 1.6, 0.5 * soft);
        }
        case PATTERN_GRID: {
            return max(lines(place.x, 10.0, 1.4, 0.5 * soft), lines(place.y, 10.0, 1.4, 0.5 * soft));
        }
        default: {
            return 0.0;
        }
    }
}
