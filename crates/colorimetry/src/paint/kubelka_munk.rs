//! The two-flux theory. P. Kubelka, F. Munk, "Ein Beitrag zur Optik der Farbanstriche", Z. techn.
//! Physik 12, 1931; P. Kubelka, "New contributions to the optics of intensely light-scattering
//! materials. Part I", J. Opt. Soc. Am. 38, 1948 (the hyperbolic solution).

/// `K/S = (1 - R)² / 2R` of an opaque layer. R = 0 gives infinity.
#[inline]
pub fn absorption_ratio_from_reflectance(reflectance: f64) -> f64 {
    let absorbed = 1.0 - reflectance;
    absorbed * absorbed / (2.0 * reflectance)
}

/// The reflectance of an opaque layer, `1 + K/S - sqrt((K/S)² + 2 K/S)`, written as the reciprocal
/// of the other root so that dark colours do not cancel.
#[inline]
pub fn reflectance_from_absorption_ratio(ratio: f64) -> f64 {
    1.0 / (1.0 + ratio + (ratio * (ratio + 2.0)).sqrt())
}

/// A layer: absorption and scattering per unit of thickness, and the thickness in that unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// K.
    pub absorption: f64,
    /// S.
    pub scattering: f64,
    /// X.
    pub thickness: f64,
}

impl Layer {
    /// The reflectance over a ground of reflectance `ground`:
    /// `(1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX)`, `a = 1 + K/S`, `b = sqrt(a² - 1)`.
    pub fn reflectance_over(self, ground: f64) -> f64 {
        if self.thickness <= 0.0 {
            return ground;
        }
        if self.scattering <= 0.0 {
            // Light goes through twice and is only absorbed.
            return ground * (-2.0 * self.absorption * self.thickness).exp();
        }
        let (a, b, sx) = self.coefficients();
        // As b goes to 0, b coth(b SX) goes to 1 / SX.
        let b_coth = if b * sx < 1e-9 {
            1.0 / sx
        } else {
            b / (b * sx).tanh()
        };
        (1.0 - ground * (a - b_coth)) / (a - ground + b_coth)
    }

    /// The light that comes through: `b / (a sinh bSX + b cosh bSX)`.
    pub fn transmittance(self) -> f64 {
        if self.scattering <= 0.0 {
            return (-self.absorption * self.thickness.max(0.0)).exp();
        }
        let (a, b, sx) = self.coefficients();
        if b * sx < 1e-9 {
            return 1.0 / (1.0 + a * sx);
        }
        b / (a * (b * sx).sinh() + b * (b * sx).cosh())
    }

    /// R over black divided by R of a layer without end (ISO 2471, from memory).
    pub fn opacity(self) -> f64 {
        self.reflectance_over(0.0)
            / reflectance_from_absorption_ratio(self.absorption / self.scattering)
    }

    fn coefficients(self) -> (f64, f64, f64) {
        let ratio = self.absorption / self.scattering;
        (
            1.0 + ratio,
            (ratio * (ratio + 2.0)).sqrt(),
            self.scattering * self.thickness,
        )
    }
}

/// `S X` of a layer from its reflectance over black and that of the same paint without end:
/// `ln((1 - R0 R∞) / (1 - R0/R∞)) / (1/R∞ - R∞)`. Ill-conditioned where R0 is near R∞.
pub fn scattering_power_from_black_backing(over_black: f64, opaque: f64) -> f64 {
    ((1.0 - over_black * opaque) / (1.0 - over_black / opaque)).ln() / (1.0 / opaque - opaque)
}

/// `(K X, S X)` of a layer from its reflectance over black and over an ideal white.
pub fn scattering_from_two_backings(over_black: f64, over_white: f64) -> (f64, f64) {
    let a = 0.5 * (over_white + (over_black - over_white + 1.0) / over_black);
    let b = (a * a - 1.0).max(0.0).sqrt();
    let sx = if b < 1e-9 {
        over_black / (1.0 - over_black)
    } else {
        // arcoth(u) = ln((u + 1) / (u - 1)) / 2.
        let u = (b * b - (a - over_white) * (a - 1.0)) / (b * (1.0 - over_white));
        0.5 * ((u + 1.0) / (u - 1.0)).ln() / b
    };
    ((a - 1.0) * sx, sx)
}
