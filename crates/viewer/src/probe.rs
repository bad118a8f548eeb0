//! The colour of a state at a place.

use ganosis_colorimetry::LabD50;
use ganosis_colorimetry::rgb::{Encoded, Linear, P3, RgbSpace, Srgb};
use serde_json::{Value, json};

use crate::app::StateTexel;

/// `{state, lab_d50, srgb}` of a texel with encoded `code` values; `srgb` in code values 0..255,
/// clipped to the gamut.
#[must_use]
pub fn colour_of(texel: &StateTexel, code: [u8; 3]) -> Value {
    if texel.display_p3 {
        described::<P3>(texel, code)
    } else {
        described::<Srgb>(texel, code)
    }
}

fn described<S: RgbSpace>(texel: &StateTexel, code: [u8; 3]) -> Value {
    let linear = Encoded::<S>::from_u8(code).decode().to_array();
    let lit = Linear::<S>::from_array([0, 1, 2].map(|i| linear[i] * f64::from(texel.factor[i])));
    let lab = LabD50::from(lit.to_xyz_d50());
    json!({
        "state": texel.state,
        "lab_d50": lab.to_array(),
        "srgb": lab.to_srgb().to_u8(),
    })
}
