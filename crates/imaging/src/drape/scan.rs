//! Which texels a triangle covers, and which lie near it.

use glam::Vec2;

/// A texel this little outside, in texels, is inside: two triangles that share an edge leave no gap.
pub(crate) const SLACK: f32 = 1e-3;

/// Calls `put` with x, y, the weights of the corners, and the distance from the triangle in texels
/// (negative within) for each texel of `window` (x0, y0, x1, y1) whose centre lies in the triangle or
/// no more than `reach` outside. Outside, the weights are those of the nearest point of the triangle.
pub(crate) fn scan(
    corners: [Vec2; 3],
    window: [i32; 4],
    reach: f32,
    mut put: impl FnMut(i32, i32, [f32; 3], f32),
) {
    let [a, b, c] = corners;
    let cross = (b - a).perp_dot(c - a);
    if cross == 0.0 || !cross.is_finite() {
        return;
    }
    let min = a.min(b).min(c) - reach - SLACK;
    let max = a.max(b).max(c) + reach + SLACK;
    let first = |low: f32, edge: i32| ((low - 0.5).ceil().max(edge as f32)) as i32;
    let last = |high: f32, edge: i32| ((high - 0.5).floor().min((edge - 1) as f32)) as i32;
    let (x0, x1) = (first(min.x, window[0]), last(max.x, window[2]));
    let (y0, y1) = (first(min.y, window[1]), last(max.y, window[3]));
    // Distance from an edge for a weight of 1.
    let heights = [(b, c), (c, a), (a, b)].map(|(p, q)| cross.abs() / (q - p).length());
    for y in y0..=y1 {
        for x in x0..=x1 {
            let p = Vec2::new(x as f32 + 0.5, y as f32 + 0.5);
            let weights = [
                (b - p).perp_dot(c - p) / cross,
                (c - p).perp_dot(a - p) / cross,
                (a - p).perp_dot(b - p) / cross,
            ];
            let inner = (weights[0] * heights[0])
                .min(weights[1] * heights[1])
                .min(weights[2] * heights[2]);
            if inner >= -SLACK {
                put(x, y, weights, -inner);
            } else if -inner <= reach {
                let (distance, weights) = nearest(corners, p);
                if distance <= reach {
                    put(x, y, weights, distance);
                }
            }
        }
    }
}

/// Distance to the outline of a triangle, and the weights of its nearest point.
fn nearest(corners: [Vec2; 3], p: Vec2) -> (f32, [f32; 3]) {
    let mut best = (f32::INFINITY, [1.0, 0.0, 0.0]);
    for (i, j) in [(0, 1), (1, 2), (2, 0)] {
        let (from, along) = (corners[i], corners[j] - corners[i]);
        let t = ((p - from).dot(along) / along.length_squared()).clamp(0.0, 1.0);
        let distance = p.distance(from + along * t);
        if distance < best.0 {
            let mut weights = [0.0; 3];
            (weights[i], weights[j]) = (1.0 - t, t);
            best = (distance, weights);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_halves_of_a_square_cover_each_texel_and_the_border_is_round() {
        let [a, b, c, d] = [[1.0, 1.0], [5.0, 1.0], [5.0, 5.0], [1.0, 5.0]].map(Vec2::from);
        let mut seen = vec![0; 64];
        let mut near = 0;
        for corners in [[a, b, c], [a, c, d]] {
            scan(corners, [0, 0, 8, 8], 0.0, |x, y, _, _| {
                seen[(y * 8 + x) as usize] += 1;
            });
            scan(corners, [0, 0, 8, 8], 1.0, |x, y, w, off| {
                assert!((w.iter().sum::<f32>() - 1.0).abs() < 1e-6);
                let (x, y) = (x as f32 + 0.5, y as f32 + 0.5);
                let outside = |v: f32| (1.0 - v).max(v - 5.0).max(0.0);
                if off > SLACK && outside(x).hypot(outside(y)) > 0.0 {
                    assert!(off <= 1.0);
                    near += 1;
                }
            });
        }
        let count = |y: usize, x: usize| seen[y * 8 + x];
        for y in 0..8 {
            for x in 0..8 {
                let inside = (1..5).contains(&x) && (1..5).contains(&y);
                assert_eq!(count(y, x) > 0, inside, "{x} {y}");
            }
        }
        // One row on each side, and no corner would be 0.71 away: they are within 1.
        assert!(near >= 20, "{near}");
    }
}
