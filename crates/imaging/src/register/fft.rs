//! The discrete Fourier transform of squares whose side is a power of two: J. W. Cooley, J. W. Tukey,
//! "An algorithm for the machine calculation of complex Fourier series", 1965.

use nalgebra::Complex;

pub(super) type C32 = Complex<f32>;

/// Transforms of one side length.
pub(super) struct Fft {
    side: usize,
    /// Powers of the root of unity.
    twiddles: Vec<C32>,
}

impl Fft {
    /// `side` is a power of two.
    pub(super) fn new(side: usize) -> Self {
        let step = -std::f64::consts::TAU / side as f64;
        let twiddle = |i: usize| {
            let (sin, cos) = (step * i as f64).sin_cos();
            C32::new(cos as f32, sin as f32)
        };
        Self {
            side,
            twiddles: (0..side / 2).map(twiddle).collect(),
        }
    }

    /// The transform of a square, in place.
    pub(super) fn forward(&self, square: &mut [C32]) {
        self.rows(square);
        transpose(square, self.side);
        self.rows(square);
        transpose(square, self.side);
    }

    /// The way back.
    pub(super) fn backward(&self, square: &mut [C32]) {
        let scale = 1.0 / square.len() as f32;
        for value in square.iter_mut() {
            *value = value.conj();
        }
        self.forward(square);
        for value in square.iter_mut() {
            *value = value.conj() * scale;
        }
    }

    fn rows(&self, square: &mut [C32]) {
        for row in square.chunks_exact_mut(self.side) {
            self.row(row);
        }
    }

    fn row(&self, row: &mut [C32]) {
        let n = row.len();
        let mut j = 0;
        for i in 1..n {
            let mut bit = n / 2;
            while j & bit != 0 {
                j ^= bit;
                bit /= 2;
            }
            j |= bit;
            if i < j {
                row.swap(i, j);
            }
        }
        let mut half = 1;
        while half < n {
            let stride = n / (2 * half);
            for block in row.chunks_exact_mut(2 * half) {
                let (low, high) = block.split_at_mut(half);
                for (k, (a, b)) in low.iter_mut().zip(high).enumerate() {
                    let turned = *b * self.twiddles[k * stride];
                    (*a, *b) = (*a + turned, *a - turned);
                }
            }
            half *= 2;
        }
    }
}

fn transpose(square: &mut [C32], side: usize) {
    for i in 0..side {
        for j in i + 1..side {
            square.swap(i * side + j, j * side + i);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_transform_is_the_sum_it_stands_for_and_comes_back() {
        let side = 8;
        let square: Vec<C32> = (0..side * side)
            .map(|i| C32::new((i as f32 * 0.7).sin(), (i as f32 * 1.3).cos()))
            .collect();
        let fft = Fft::new(side);
        let mut there = square.clone();
        fft.forward(&mut there);
        for (u, v) in [(0, 0), (1, 0), (3, 5), (7, 2)] {
            let mut sum = Complex::new(0.0f64, 0.0);
            for y in 0..side {
                for x in 0..side {
                    let angle = -std::f64::consts::TAU * (u * x + v * y) as f64 / side as f64;
                    let value = square[y * side + x];
                    sum += Complex::new(f64::from(value.re), f64::from(value.im))
                        * Complex::from_polar(1.0, angle);
                }
            }
            let got = there[v * side + u];
            assert!((f64::from(got.re) - sum.re).abs() < 1e-4);
            assert!((f64::from(got.im) - sum.im).abs() < 1e-4);
        }
        fft.backward(&mut there);
        for (a, b) in square.iter().zip(&there) {
            assert!((a - b).norm() < 1e-5);
        }
    }
}
