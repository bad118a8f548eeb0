//! What changes little from texel to texel is asked at a few texels of a full group, and told between them.

use std::ops::{Add, Mul, Sub};

use super::group::{LANES, Row, SIDE};

/// Every so many texels one is asked: the first, the last, and few enough of them (a choice of ours).
pub(crate) const STEP: usize = 3;

const _: () = assert!((SIDE - 1).is_multiple_of(STEP), "the last one is asked too");

/// How many are asked.
pub(crate) const ASKED: usize = ((SIDE - 1) / STEP + 1).pow(2);

/// The texels of a full group that are asked.
pub(crate) fn asked() -> impl Iterator<Item = usize> {
    let places = || (0..SIDE).step_by(STEP);
    places().flat_map(move |y| places().map(move |x| y * SIDE + x))
}

/// Fills the other texels of a row in which those of [`asked`] are known, bilinearly.
#[inline]
pub(crate) fn fill<T, W>(row: &mut Row<T>, share: impl Fn(usize) -> W)
where
    T: Copy + Add<Output = T> + Sub<Output = T> + Mul<W, Output = T>,
    W: Copy,
{
    for y in (0..SIDE).step_by(STEP) {
        let line = &mut row[y * SIDE..][..SIDE];
        for x in (0..SIDE - 1).step_by(STEP) {
            let (from, to) = (line[x], line[x + STEP]);
            for k in 1..STEP {
                line[x + k] = from + (to - from) * share(k);
            }
        }
    }
    for y in (0..SIDE - 1).step_by(STEP) {
        let (above, rest) = row[y * SIDE..].split_at_mut(SIDE);
        let (between, below) = rest.split_at_mut((STEP - 1) * SIDE);
        for (k, line) in between.chunks_exact_mut(SIDE).enumerate() {
            let share = share(k + 1);
            for ((value, from), to) in line.iter_mut().zip(&*above).zip(&*below) {
                *value = *from + (*to - *from) * share;
            }
        }
    }
}

/// The part of the way to the next texel that is asked.
#[inline]
pub(crate) fn share(k: usize) -> f32 {
    k as f32 / STEP as f32
}

/// The same in double precision.
#[inline]
fn wide_share(k: usize) -> f64 {
    k as f64 / STEP as f64
}

/// How far a row is from what [`fill`] would tell from those asked, at most; not a number if one of it is none.
#[multiversion::multiversion(targets(
    "x86_64+avx2+fma",
    "x86_64+avx512f+avx512vl+avx512dq+avx512bw"
))]
pub(crate) fn farthest(row: &Row<f64>) -> f64 {
    let mut told = *row;
    fill(&mut told, wide_share);
    let mut most = [0.0_f64; LANES];
    for (own, told) in row
        .as_chunks::<LANES>()
        .0
        .iter()
        .zip(told.as_chunks::<LANES>().0)
    {
        for (most, (own, told)) in most.iter_mut().zip(own.iter().zip(told)) {
            let off = (own - told).abs();
            *most = larger(*most, off);
        }
    }
    most.into_iter().fold(0.0, larger)
}

/// The larger of two numbers; what is no number stays.
#[inline]
fn larger(a: f64, b: f64) -> f64 {
    if b <= a || a.is_nan() { a } else { b }
}

#[cfg(test)]
mod tests {
    use glam::Vec4;

    use super::super::blend::are_alike;
    use super::super::group::MOST;
    use super::super::mix::Mix;
    use super::*;

    fn row(of: impl Fn(f64, f64) -> f64) -> Row<f64> {
        std::array::from_fn(|i| of((i % SIDE) as f64, (i / SIDE) as f64))
    }

    #[test]
    fn a_plane_is_told_as_it_is_and_a_bend_by_its_height() {
        assert_eq!(asked().count(), ASKED);
        let plane = row(|x, y| 3.0 + 0.5 * x - 0.25 * y);
        assert!(farthest(&plane) < 1e-12);
        // x² between 0 and 3 is below its chord by x (3 − x): 2 at the most.
        assert!((farthest(&row(|x, _| x * x)) - 2.0).abs() < 1e-12);
        let mut broken = plane;
        broken[40] += 7.0;
        assert!((farthest(&broken) - 7.0).abs() < 1e-12);
        broken[41] = f64::NAN;
        assert!(farthest(&broken).is_nan());
    }

    /// What is told between is a mean with the same weights for all photographs.
    #[test]
    fn what_is_alike_where_it_was_asked_is_alike_between() {
        let mix = Mix::default();
        let alike =
            |rows: &[Row<Vec4>; 3], i: usize| are_alike(rows.iter().map(|row| row[i]), 1, &mix);
        // Light from 0 to 1 that changes from place to place, in three photographs by 9 % at most.
        let light = |i: usize| ((i * 7919) % 1009) as f32 / 1009.0;
        let mut rows = [0.0, 0.04, 0.09].map(|more| {
            let mut row = [Vec4::NAN; MOST];
            asked().for_each(|i| row[i] = Vec4::splat(light(i) * (1.0 + more)));
            fill(&mut row, share);
            row
        });
        assert!((0..MOST).all(|i| alike(&rows, i)));
        // One place in one of them by 30 %: it is not alike there, nor beside it.
        let there = 3 * SIDE + 3;
        rows[1][there] *= 1.3;
        fill(&mut rows[1], share);
        assert!(!alike(&rows, there) && !alike(&rows, there + 1));
    }

    #[test]
    fn what_is_between_is_filled_from_what_was_asked() {
        let plane = row(|x, y| 2.0 * x + y);
        let mut filled = [f64::NAN; MOST];
        for i in asked() {
            filled[i] = plane[i];
        }
        fill(&mut filled, wide_share);
        let off = filled.iter().zip(&plane).map(|(a, b)| (a - b).abs());
        assert!(off.fold(0.0, f64::max) < 1e-12);
    }
}
