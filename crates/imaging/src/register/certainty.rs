//! How sure a map is.

use super::motion::{Agreed, Kind};
use super::tiles::Tiles;
use crate::geometry::{Homography, Point, distance};

/// Groups left out in turn.
pub(super) const GROUPS: usize = 12;

/// The standard error of the map where it is largest within a picture of this size, in its pixels:
/// the map is fitted again without each of twelve groups of squares in turn (B. Efron, C. Stein, "The
/// jackknife estimate of variance", Annals of Statistics 9(3), 1981, 586-596). `None` where too few
/// agree for that.
pub(super) fn standard_error(
    kind: Kind,
    pairs: &[[Point; 2]],
    agreed: &Agreed,
    size: [f64; 2],
) -> Option<f64> {
    // Neighbours go into different groups, so that a part of the picture never goes as a whole.
    let fits: Vec<Homography> = (0..GROUPS)
        .map(|group| {
            let kept = agreed.right.iter().enumerate();
            let kept: Vec<[Point; 2]> = kept
                .filter(|(k, _)| k % GROUPS != group)
                .map(|(_, &i)| pairs[i])
                .collect();
            (kept.len() > kind.numbers()).then(|| kind.fit(&kept))?
        })
        .collect::<Option<_>>()?;
    spread(&fits, size)
}

/// The standard error where it is largest within a picture of this size, from maps without each group in turn.
pub(super) fn spread(fits: &[Homography], size: [f64; 2]) -> Option<f64> {
    let g = fits.len() as f64;
    let error_at = |p: Point| {
        let there: Vec<Point> = fits.iter().map(|map| map.apply(p)).collect();
        let mean = [0, 1].map(|k| there.iter().map(|t| t[k]).sum::<f64>() / g);
        let squares: f64 = there.iter().map(|&t| distance(t, mean).powi(2)).sum();
        ((g - 1.0) / g * squares).sqrt()
    };
    let shares = [0.0, 0.5, 1.0];
    let points = shares
        .iter()
        .flat_map(|y| shares.map(|x| [x * size[0], y * size[1]]));
    let worst = points.map(error_at).fold(0.0, f64::max);
    worst.is_finite().then_some(worst)
}

/// The decimal logarithm of the probability that as many squares or more agree to within `radius` by
/// chance: the upper end of the binomial law, times the number of ways to choose the squares that the
/// map is fitted to.
pub(super) fn chance_log10(kind: Kind, tiles: &Tiles, agreeing: usize, radius: f64) -> f64 {
    let n = tiles.pairs.len();
    let p = (std::f64::consts::PI * radius * radius / tiles.searched_px2).min(1.0);
    // Log of the binomial coefficient by its sum.
    let choose = |n: usize, k: usize| -> f64 {
        (0..k)
            .map(|i| ((n - i) as f64 / (i + 1) as f64).log10())
            .sum()
    };
    let fitted = kind.numbers() / 2;
    let (n, k) = (n.saturating_sub(fitted), agreeing.saturating_sub(fitted));
    if k == 0 || n < k {
        return 0.0;
    }
    let terms = (k..=n).map(|i| {
        choose(n, i) + i as f64 * p.log10() + (n - i) as f64 * (1.0 - p).max(1e-300).log10()
    });
    let terms: Vec<f64> = terms.collect();
    let largest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = terms.iter().map(|t| 10f64.powf(t - largest)).sum();
    (largest + sum.log10() + choose(n + fitted, fitted)).min(0.0)
}

/// The Bayesian criterion of G. Schwarz, "Estimating the dimension of a model", Annals of Statistics
/// 6(2), 1978: the smaller, the better a kind of map pays for its numbers. `squares` is over the same
/// pairs for all kinds; `independent` is the share of the pairs that counts, since the criterion is for
/// errors that do not hang together.
pub(super) fn schwarz(kind: Kind, squares: f64, pairs: usize, independent: f64) -> f64 {
    let all = 2.0 * pairs as f64;
    let equations = (all * independent).max(1.0);
    // A hundredth of a pixel is rounding; nothing is gained by fitting better.
    let variance = (squares / all).max(1e-4);
    equations * variance.ln() + kind.numbers() as f64 * equations.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 100 pairs, 1.2 px² against 1 px² in all. With all of them 200 ln 1.2 = 36.5 are won for
    /// 4 ln 200 = 21.2; with a quarter 50 ln 1.2 = 9.1 for 4 ln 50 = 15.6.
    #[test]
    fn pairs_that_overlap_pay_for_fewer_numbers() {
        let gain = |independent: f64| {
            schwarz(Kind::Similarity, 1.2, 100, independent)
                - schwarz(Kind::Homography, 1.0, 100, independent)
        };
        let wanted = |n: f64| n * 1.2f64.ln() - 4.0 * n.ln();
        assert!((gain(1.0) - wanted(200.0)).abs() < 1e-9 && gain(1.0) > 0.0);
        assert!((gain(0.25) - wanted(50.0)).abs() < 1e-9 && gain(0.25) < 0.0);
    }

    #[test]
    fn the_chance_is_that_of_the_binomial_law() {
        // Of ten squares eight agree where one in four would: 436 / 4^10 by the binomial law, for a
        // shift fitted to one of eleven.
        let tiles = Tiles {
            pairs: vec![[[0.0; 2]; 2]; 11],
            searched_px2: 4.0 * std::f64::consts::PI,
            ..Tiles::default()
        };
        let found = chance_log10(Kind::Translation, &tiles, 9, 1.0);
        let wanted = (11.0 * 436.0 / 4f64.powi(10)).log10();
        assert!((found - wanted).abs() < 1e-9, "{found} {wanted}");
    }
}
