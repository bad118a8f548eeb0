// Which of the two appearances a pixel shows.

// Sides of the comparison, as bits.
const SHOWN_LEFT: u32 = 1u;
const SHOWN_RIGHT: u32 = 2u;

// Place of a pixel across the divider, 0..1 over the target; below the position the left one shows.
fn across_divider(pixel: vec2<f32>, target_px: vec2<f32>, divider: vec4<f32>) -> f32 {
    return dot(pixel - 0.5 * target_px, divider.xy) / divider.z + 0.5;
}

// Share of the right appearance in a round glass: 1 inside, 0 outside, between over its soft edge.
fn share_in_loupe(pixel: vec2<f32>, loupe: vec4<f32>) -> f32 {
    let inside = loupe.z - distance(pixel, loupe.xy);
    if loupe.w <= 0.0 {
        return select(0.0, 1.0, inside > 0.0);
    }
    return clamp(inside / loupe.w, 0.0, 1.0);
}

// Whether a pixel belongs to the part of a swipe that is drawn now.
fn in_strip(pixel: vec2<f32>) -> bool {
    let across = across_divider(pixel, frame.target_px.xy, frame.divider);
    return across >= frame.target_px.z && across < frame.target_px.w;
}

// Share of the right appearance at a pixel: 0 or 1 in a swipe, the position in a blend.
fn share_of_right(pixel: vec2<f32>) -> f32 {
    if frame.mode.x == COMPARE_SWIPE {
        return select(1.0, 0.0, across_divider(pixel, frame.target_px.xy, frame.divider) < frame.divider.w);
    }
    if frame.mode.x == COMPARE_BLEND {
        return frame.divider.w;
    }
    if frame.mode.x == COMPARE_LOUPE {
        return share_in_loupe(pixel, frame.divider);
    }
    return f32(frame.mode.w);
}

// Which sides a pixel needs, and what it has of the right one.
struct Shares {
    right: f32,
    // SHOWN_LEFT, SHOWN_RIGHT, both or neither.
    wanted: u32,
};

// For all comparisons but the difference; `shown` says which sides the patch is in.
fn shares_at(pixel: vec2<f32>, shown: u32) -> Shares {
    var right = share_of_right(pixel);
    var wanted = select(SHOWN_LEFT, SHOWN_RIGHT, right > 0.5);
    if frame.mode.x == COMPARE_SWIPE && !in_strip(pixel) {
        wanted = 0u;
    }
    if frame.mode.x == COMPARE_BLEND {
        // Parts in one appearance only are drawn alone, each with its own pass.
        right = select(right, 1.0, (shown & SHOWN_LEFT) == 0u);
        right = select(right, 0.0, (shown & SHOWN_RIGHT) == 0u);
        wanted = select(0u, SHOWN_LEFT, right < 1.0) | select(0u, SHOWN_RIGHT, right > 0.0);
    }
    if frame.mode.x == COMPARE_LOUPE {
        // What is there in one of the two only ends at the middle of the soft edge.
        if shown != (SHOWN_LEFT | SHOWN_RIGHT) {
            right = select(0.0, 1.0, right > 0.5);
        }
        wanted = select(0u, SHOWN_LEFT, right < 1.0) | select(0u, SHOWN_RIGHT, right > 0.0);
    }
    return Shares(right, wanted);
}
