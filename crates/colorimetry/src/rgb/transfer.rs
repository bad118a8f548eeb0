//! Transfer functions of the RGB spaces, one component at a time.
//!
//! All are extended to negative values by odd symmetry and beyond 1 by the same formula, as W3C CSS
//! Color Module Level 4 asks, so that colours outside the gamut survive the way there and back.

#[inline]
fn odd(v: f64, f: impl Fn(f64) -> f64) -> f64 {
    f(v.abs()).copysign(v)
}

/// IEC 61966-2-1:1999, light to code.
#[inline]
pub fn encode_srgb(linear: f64) -> f64 {
    odd(linear, |v| {
        if v <= 0.0031308 {
            12.92 * v
        } else {
            1.055 * v.powf(1.0 / 2.4) - 0.055
        }
    })
}

/// IEC 61966-2-1:1999, code to light.
#[inline]
pub fn decode_srgb(encoded: f64) -> f64 {
    odd(encoded, |v| {
        if v <= 0.04045 {
            v / 12.92
        } else {
            ((v + 0.055) / 1.055).powf(2.4)
        }
    })
}

/// The opRGB exponent 2.19921875 = 563/256, IEC 61966-2-5:2007.
const OPRGB_GAMMA: f64 = 563.0 / 256.0;

/// IEC 61966-2-5:2007, light to code.
#[inline]
pub fn encode_oprgb(linear: f64) -> f64 {
    odd(linear, |v| v.powf(1.0 / OPRGB_GAMMA))
}

/// IEC 61966-2-5:2007, code to light.
#[inline]
pub fn decode_oprgb(encoded: f64) -> f64 {
    odd(encoded, |v| v.powf(OPRGB_GAMMA))
}

/// Where ROMM RGB turns linear, ISO 22028-2:2013.
const ROMM_BREAK: f64 = 1.0 / 512.0;

/// ISO 22028-2:2013, light to code.
#[inline]
pub fn encode_romm(linear: f64) -> f64 {
    odd(linear, |v| {
        if v >= ROMM_BREAK {
            v.powf(1.0 / 1.8)
        } else {
            16.0 * v
        }
    })
}

/// ISO 22028-2:2013, code to light.
#[inline]
pub fn decode_romm(encoded: f64) -> f64 {
    odd(encoded, |v| {
        if v >= 16.0 * ROMM_BREAK {
            v.powf(1.8)
        } else {
            v / 16.0
        }
    })
}

/// ITU-R BT.1886 with black at zero, light to code: what CSS Color 4 uses for `rec2020` (older
/// drafts used the camera curve, [`encode_rec2020_camera`]).
#[inline]
pub fn encode_gamma_2_4(linear: f64) -> f64 {
    odd(linear, |v| v.powf(1.0 / 2.4))
}

/// ITU-R BT.1886 with black at zero, code to light.
#[inline]
pub fn decode_gamma_2_4(encoded: f64) -> f64 {
    odd(encoded, |v| v.powf(2.4))
}

/// α and β of ITU-R BT.2020-2, table 4, to the digits at which the two branches meet.
const BT2020_ALPHA: f64 = 1.09929682680944;
const BT2020_BETA: f64 = 0.018053968510807;

/// ITU-R BT.2020-2, light at the camera to code.
#[inline]
pub fn encode_rec2020_camera(linear: f64) -> f64 {
    odd(linear, |v| {
        if v < BT2020_BETA {
            4.5 * v
        } else {
            BT2020_ALPHA * v.powf(0.45) - (BT2020_ALPHA - 1.0)
        }
    })
}

/// ITU-R BT.2020-2, code to light at the camera.
#[inline]
pub fn decode_rec2020_camera(encoded: f64) -> f64 {
    odd(encoded, |v| {
        if v < 4.5 * BT2020_BETA {
            v / 4.5
        } else {
            ((v + BT2020_ALPHA - 1.0) / BT2020_ALPHA).powf(1.0 / 0.45)
        }
    })
}
