//! ΔE94. CIE 116-1995, "Industrial colour-difference evaluation".

use crate::lab::LabD50;

/// The constants that go with a use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Application94 {
    /// kL = 1, K1 = 0.045, K2 = 0.015.
    #[default]
    GraphicArts,
    /// kL = 2, K1 = 0.048, K2 = 0.014.
    Textiles,
}

/// The difference of `sample` from `reference`. Not symmetric: chroma is weighted by the reference.
pub fn delta_e_94(reference: LabD50, sample: LabD50, application: Application94) -> f64 {
    let (kl, k1, k2) = match application {
        Application94::GraphicArts => (1.0, 0.045, 0.015),
        Application94::Textiles => (2.0, 0.048, 0.014),
    };
    let c1 = reference.a.hypot(reference.b);
    let c2 = sample.a.hypot(sample.b);
    let (da, db) = (reference.a - sample.a, reference.b - sample.b);
    let dc = c1 - c2;
    // Rounding can make ΔH² slightly negative.
    let dh2 = (da * da + db * db - dc * dc).max(0.0);
    let l = (reference.l - sample.l) / kl;
    let c = dc / (1.0 + k1 * c1);
    let sh = 1.0 + k2 * c1;
    (l * l + c * c + dh2 / (sh * sh)).sqrt()
}
