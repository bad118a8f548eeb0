//! Numbers for drawing samples, the same for the same seed on every machine.

/// G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
pub(crate) struct SplitMix(pub(crate) u64);

impl SplitMix {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number below `n`, which is not 0.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// A number from 0 up to 1, which it is not: 53 bits, all that such a number has.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 * (-53.0_f64).exp2()
    }

    /// `K` different numbers below `n`, which is at least `K`.
    pub(crate) fn sample<const K: usize>(&mut self, n: usize) -> [usize; K] {
        let mut sample = [usize::MAX; K];
        for i in 0..K {
            sample[i] = loop {
                let drawn = self.below(n);
                if !sample[..i].contains(&drawn) {
                    break drawn;
                }
            };
        }
        sample
    }
}
