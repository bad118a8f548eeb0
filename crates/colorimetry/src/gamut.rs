//! What a display can show, and what it shows instead of what it cannot.
//!
//! Mapping is that of W3C CSS Color Module Level 4, section 13.2 ("CSS gamut mapping", local MINDE):
//! chroma in Oklch is reduced by bisection until clipping is no longer noticeable.

use crate::delta_e::delta_e_2000;
use crate::lab::LabD50;
use crate::oklab::{Oklab, Oklch};
use crate::rgb::{Encoded, Linear, RgbSpace};
use crate::xyz::XyzD65;

/// Half of an 8-bit code: a component this far outside still rounds to a code of the gamut.
pub const HALF_CODE: f64 = 0.5 / 255.0;

/// Just noticeable difference in ΔE_OK. CSS Color 4, section 13.2.
const JND: f64 = 0.02;

/// Where the bisection ends. CSS Color 4, section 13.2.
const CHROMA_EPSILON: f64 = 0.0001;

/// Every component within 0..1, give or take half an 8-bit code.
pub fn in_gamut<S: RgbSpace>(rgb: Encoded<S>) -> bool {
    within(rgb, HALF_CODE)
}

/// Every component within 0..1, give or take the rounding of a conversion (1e-6).
pub fn in_gamut_strict<S: RgbSpace>(rgb: Encoded<S>) -> bool {
    within(rgb, 1e-6)
}

fn within<S: RgbSpace>(rgb: Encoded<S>, tolerance: f64) -> bool {
    // NaN is outside.
    rgb.to_array()
        .iter()
        .all(|v| *v >= -tolerance && *v <= 1.0 + tolerance)
}

/// A colour as a display shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shown<S> {
    /// The colour asked for.
    pub asked: LabD50,
    /// The encoded components, each in 0..1.
    pub encoded: Encoded<S>,
    /// The colour these components show.
    pub shown: LabD50,
    /// ΔE00 between asked and shown.
    pub delta_e_2000: f64,
    /// Whether the colour asked for lay outside the gamut by more than half a code.
    pub outside: bool,
}

/// The nearest thing that the display space `S` can show, and how far it is off.
pub fn map_to_gamut<S: RgbSpace>(asked: LabD50) -> Shown<S> {
    let plain = asked.to_encoded::<S>();
    let outside = !in_gamut(plain);
    let encoded = if outside {
        mapped(asked.to_oklab())
    } else {
        plain.clipped()
    };
    let shown = LabD50::from(encoded);
    Shown {
        asked,
        encoded,
        shown,
        delta_e_2000: delta_e_2000(asked, shown),
        outside,
    }
}

fn mapped<S: RgbSpace>(origin: Oklab) -> Encoded<S> {
    if origin.l >= 1.0 {
        return Encoded::new(1.0, 1.0, 1.0);
    }
    // Also takes NaN.
    if origin.l <= 0.0 || origin.l.is_nan() {
        return Encoded::new(0.0, 0.0, 0.0);
    }
    let lch = origin.to_oklch();
    let (mut clipped, distance) = clip(origin);
    if distance < JND {
        return clipped;
    }
    let (mut low, mut high, mut low_inside) = (0.0, lch.c, true);
    while high - low > CHROMA_EPSILON {
        let chroma = 0.5 * (low + high);
        let current = Oklch::new(lch.l, chroma, lch.h_deg).to_oklab();
        if low_inside && in_gamut_strict(encoded_of::<S>(current)) {
            low = chroma;
            continue;
        }
        let (candidate, distance) = clip(current);
        clipped = candidate;
        if distance >= JND {
            high = chroma;
            continue;
        }
        if JND - distance < CHROMA_EPSILON {
            return clipped;
        }
        low_inside = false;
        low = chroma;
    }
    clipped
}

fn encoded_of<S: RgbSpace>(colour: Oklab) -> Encoded<S> {
    Linear::<S>::from(XyzD65::from(colour)).encode()
}

fn clip<S: RgbSpace>(colour: Oklab) -> (Encoded<S>, f64) {
    let clipped = encoded_of::<S>(colour).clipped();
    (clipped, Oklab::from(clipped).distance(colour))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rgb::{P3, Srgb};

    #[test]
    fn a_colour_half_a_code_outside_is_shown_as_it_is() {
        // W3C Web Platform Tests css/css-color/lab-001: this is #008000, red is -0.00048.
        let green = map_to_gamut::<Srgb>(LabD50::new(46.277, -47.562, 48.583));
        assert!(!green.outside && green.encoded.to_u8() == [0, 128, 0]);
        assert!(!in_gamut_strict(
            LabD50::new(46.277, -47.562, 48.583).to_srgb()
        ));
    }

    #[test]
    fn what_p3_shows_is_reduced_for_srgb_keeping_the_lightness() {
        let asked = LabD50::new(49.57, -29.71, -28.32); // chart patch 18, cyan
        let p3 = map_to_gamut::<P3>(asked);
        assert!(!p3.outside && p3.delta_e_2000 < 1e-6);
        let srgb = map_to_gamut::<Srgb>(asked);
        assert!(
            srgb.outside && srgb.delta_e_2000 > 0.5 && srgb.delta_e_2000 < 6.0,
            "{srgb:?}"
        );
        assert!((srgb.shown.l - asked.l).abs() < 2.5);
        assert!(
            srgb.encoded
                .to_array()
                .iter()
                .all(|v| (0.0..=1.0).contains(v))
        );
    }

    #[test]
    fn absurd_input_ends_in_the_gamut() {
        for lab in [
            [300.0, 0.0, 0.0],
            [-5.0, 9.0, 9.0],
            [50.0, 4000.0, -4000.0],
            [f64::NAN; 3],
        ] {
            let shown = map_to_gamut::<Srgb>(LabD50::from_array(lab)).encoded;
            assert!(in_gamut(shown), "{lab:?} {shown:?}");
        }
    }
}
