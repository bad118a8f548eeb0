//! Reflection at the paint's surface. J. L. Saunderson, "Calculation of the color of pigmented
//! plastics", J. Opt. Soc. Am. 32, 1942; E. Allen in "Optical Radiation Measurements" 2, 1980.

/// The two coefficients.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saunderson {
    /// Outer reflection of the surface: 0.04 (Fresnel, index 1.5); 0 for instruments that exclude
    /// the specular part.
    pub k1: f64,
    /// Inner reflection: about 0.6 for diffuse light at index 1.5 (from memory); published fits use
    /// 0.4 to 0.6 (Allen 1980).
    pub k2: f64,
}

impl Saunderson {
    /// What an instrument sees of the inner reflectance R:
    /// `k1 + (1 - k1)(1 - k2) R / (1 - k2 R)`.
    pub fn measured(self, inner: f64) -> f64 {
        self.k1 + (1.0 - self.k1) * (1.0 - self.k2) * inner / (1.0 - self.k2 * inner)
    }

    /// The inner reflectance behind what an instrument sees; below 0 where less than k1 was seen.
    pub fn inner(self, measured: f64) -> f64 {
        let m = measured - self.k1;
        m / ((1.0 - self.k1) * (1.0 - self.k2) + self.k2 * m)
    }
}
