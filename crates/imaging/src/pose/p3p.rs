//! The camera's place from three points seen by a known lens: the quartic of J. A. Grunert (1841) as
//! given in R. M. Haralick et al., "Review and analysis of solutions of the three point perspective
//! pose estimation problem", IJCV 13(3), 1994, 331-356, with its distances made exact by Newton.

use std::f64::consts::TAU;

use nalgebra::{Complex, Matrix3, Vector3};

use super::Pose;
use super::similarity::fit_rigid;
use crate::geometry::Point;

/// All places from which the points of the surface are seen at the normalised image points: at most
/// four.
pub fn p3p(normalised: [Point; 3], surface_m: [[f64; 3]; 3]) -> Vec<Pose> {
    let rays = normalised.map(|[x, y]| Vector3::new(x, y, 1.0).normalize());
    let [p1, p2, p3] = surface_m.map(Vector3::from);
    let sides = [
        (p2 - p3).norm_squared(),
        (p1 - p3).norm_squared(),
        (p1 - p2).norm_squared(),
    ];
    let cosines = [
        rays[1].dot(&rays[2]),
        rays[0].dot(&rays[2]),
        rays[0].dot(&rays[1]),
    ];
    let usable = sides.iter().all(|&s| s.is_finite() && s > 0.0);
    if !usable || cosines.iter().any(|c| !c.is_finite()) {
        return Vec::new();
    }
    let mut poses: Vec<Pose> = Vec::new();
    for v in positive_roots(quartic(sides, cosines)) {
        for depths in depths_of(v, sides, cosines) {
            let depths = polished(depths, sides, cosines);
            if depths.iter().any(|&d| d.is_nan() || d <= 0.0) {
                continue;
            }
            let seen = [0, 1, 2].map(|k| (rays[k] * depths[k]).into());
            let Some(found) = fit_rigid(&surface_m, &seen) else {
                continue;
            };
            let pose = Pose {
                rotation: found.rotation,
                translation_m: found.translation,
            };
            if !poses.iter().any(|other| same(other, &pose)) {
                poses.push(pose);
            }
        }
    }
    poses
}

fn same(a: &Pose, b: &Pose) -> bool {
    let numbers = |p: &Pose| p.rotation.into_iter().flatten().chain(p.translation_m);
    let far = numbers(a).zip(numbers(b)).map(|(a, b)| (a - b).abs());
    far.fold(0.0, f64::max) < 1e-9 * (1.0 + Vector3::from(a.translation_m).norm())
}

/// Coefficients from v⁴ down to 1 (Haralick et al., equation 9).
fn quartic([a2, b2, c2]: [f64; 3], [alpha, beta, gamma]: [f64; 3]) -> [f64; 5] {
    let d = (a2 - c2) / b2;
    let s = (a2 + c2) / b2;
    [
        (d - 1.0).powi(2) - 4.0 * c2 / b2 * alpha * alpha,
        4.0 * (d * (1.0 - d) * beta - (1.0 - s) * alpha * gamma
            + 2.0 * c2 / b2 * alpha * alpha * beta),
        2.0 * (d * d - 1.0 + 2.0 * d * d * beta * beta + 2.0 * (b2 - c2) / b2 * alpha * alpha
            - 4.0 * s * alpha * beta * gamma
            + 2.0 * (b2 - a2) / b2 * gamma * gamma),
        4.0 * (-d * (1.0 + d) * beta + 2.0 * a2 / b2 * gamma * gamma * beta
            - (1.0 - s) * alpha * gamma),
        (1.0 + d).powi(2) - 4.0 * a2 / b2 * gamma * gamma,
    ]
}

/// Real roots above 0, by the method of Durand and Kerner. Pairs that rounding moved off the real
/// axis (double roots) count.
fn positive_roots(coefficients: [f64; 5]) -> Vec<f64> {
    let largest = coefficients.iter().fold(0.0, |m: f64, c| m.max(c.abs()));
    let first = coefficients.iter().position(|c| c.abs() > 1e-13 * largest);
    let Some(first) = first.filter(|&first| first < 4) else {
        return Vec::new();
    };
    let monic: Vec<f64> = coefficients[first..]
        .iter()
        .map(|c| c / coefficients[first])
        .collect();
    let degree = monic.len() - 1;
    let value = |z: Complex<f64>| {
        let zero = Complex::new(0.0, 0.0);
        monic.iter().fold(zero, |sum, &c| sum * z + c)
    };
    // All roots lie within this of zero (Cauchy).
    let bound = 1.0 + monic[1..].iter().fold(0.0, |m: f64, c| m.max(c.abs()));
    let radius = bound.min(2.0);
    let mut roots: Vec<Complex<f64>> = (0..degree)
        .map(|i| Complex::from_polar(radius, 0.4 + TAU * i as f64 / degree as f64))
        .collect();
    for _ in 0..100 {
        let mut moved: f64 = 0.0;
        for i in 0..degree {
            let others = (0..degree).filter(|&j| j != i);
            let product: Complex<f64> = others.map(|j| roots[i] - roots[j]).product();
            let step = value(roots[i]) / product;
            if step.re.is_finite() && step.im.is_finite() {
                roots[i] -= step;
                moved = moved.max(step.norm() / (1.0 + roots[i].norm()));
            }
        }
        if moved < 1e-15 {
            break;
        }
    }
    let real = |z: &&Complex<f64>| z.re > 0.0 && z.im.abs() < 1e-3 * z.norm();
    roots.iter().filter(real).map(|z| z.re).collect()
}

/// Distances of the three points for a ratio v of the third to the first.
fn depths_of(
    v: f64,
    [a2, b2, c2]: [f64; 3],
    [alpha, beta, gamma]: [f64; 3],
) -> impl Iterator<Item = [f64; 3]> {
    let first = (b2 / (1.0 + v * v - 2.0 * v * beta)).sqrt();
    // u² - 2 u cos γ + 1 - c²/s1² = 0, and the root that fits side a.
    let inner = (gamma * gamma - 1.0 + c2 / (first * first)).max(0.0).sqrt();
    let off = move |u: f64| {
        let (s2, s3) = (u * first, v * first);
        (s2 * s2 + s3 * s3 - 2.0 * s2 * s3 * alpha - a2).abs()
    };
    let (low, high) = (gamma - inner, gamma + inner);
    let best = if off(low) < off(high) { low } else { high };
    // Both where they fit alike.
    [low, high]
        .into_iter()
        .filter(move |&u| u > 0.0 && off(u) <= 2.0 * off(best) + 1e-9 * a2)
        .map(move |u| [first, u * first, v * first])
}

/// Newton on the three cosine laws.
fn polished(depths: [f64; 3], sides: [f64; 3], cosines: [f64; 3]) -> [f64; 3] {
    let mut s = Vector3::from(depths);
    for _ in 0..6 {
        let mut off = Vector3::zeros();
        let mut slopes = Matrix3::zeros();
        for (row, (i, j)) in [(1, 2), (0, 2), (0, 1)].into_iter().enumerate() {
            off[row] = s[i] * s[i] + s[j] * s[j] - 2.0 * s[i] * s[j] * cosines[row] - sides[row];
            slopes[(row, i)] = 2.0 * (s[i] - s[j] * cosines[row]);
            slopes[(row, j)] = 2.0 * (s[j] - s[i] * cosines[row]);
        }
        let Some(step) = slopes.lu().solve(&off) else {
            break;
        };
        // At a double root the slopes vanish; a wild step is none.
        if !step.iter().all(|v| v.is_finite()) || step.norm() > 0.1 * s.norm() {
            break;
        }
        s -= step;
        if step.norm() < 1e-15 * s.norm() {
            break;
        }
    }
    s.into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;

    #[test]
    fn the_true_place_is_among_those_found() {
        let mut worst: f64 = 0.0;
        for i in 0..2000 {
            // A spread of places without a generator of random numbers.
            let at = |k: f64| (f64::from(i) * k).fract() - 0.5;
            let surface = [
                [at(0.618), at(0.414), at(0.732)],
                [at(0.236), at(0.317), at(0.606)],
                [at(0.141), at(0.272), at(0.577)],
            ];
            let truth = Pose::new(
                &Rotation3::from_euler_angles(6.0 * at(0.11), 3.0 * at(0.23), 6.0 * at(0.37)),
                Vector3::new(at(0.83), at(0.91), 2.5 + at(0.97)),
            );
            let seen = surface.map(|p| {
                let [x, y, z] = truth.camera_of(p);
                [x / z, y / z]
            });
            let area = (Vector3::from(surface[1]) - Vector3::from(surface[0]))
                .cross(&(Vector3::from(surface[2]) - Vector3::from(surface[0])))
                .norm();
            if area < 0.02 {
                continue;
            }
            let found = p3p(seen, surface);
            assert!(found.len() <= 4);
            let off = found
                .iter()
                .map(|p| (Vector3::from(p.centre_m()) - Vector3::from(truth.centre_m())).norm())
                .fold(f64::INFINITY, f64::min);
            worst = worst.max(off);
        }
        // Near a double root half of the digits are lost.
        assert!(worst < 1e-4, "{worst}");
    }

    #[test]
    fn points_on_a_line_or_of_no_number_give_no_place() {
        let seen = [[0.0, 0.0], [0.1, 0.1], [0.2, 0.2]];
        let line = [[0.0, 0.0, 0.0], [0.1, 0.1, 0.0], [0.2, 0.2, 0.0]];
        assert!(p3p(seen, line).is_empty());
        assert!(p3p([[f64::NAN, 0.0], [0.1, 0.0], [0.0, 0.1]], line).is_empty());
        assert!(p3p(seen, [[0.0; 3]; 3]).is_empty());
    }
}
