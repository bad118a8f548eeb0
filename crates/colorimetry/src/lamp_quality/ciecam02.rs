//! CAM02-UCS under the viewing conditions that CIE 224 fixes: adaptation complete, adapting luminance
//! 100 cd/m², background 20 %, average surround. CIE 159:2004; M. R. Luo, G. Cui, C. Li, "Uniform
//! colour spaces based on CIECAM02 colour appearance model", Color Research and Application 31, 2006.

use crate::matrix::{Matrix3, apply, inverse, multiply};

/// CIE 159:2004, equation 7.1.
const CAT02: Matrix3 = [
    [0.7328, 0.4296, -0.1624],
    [-0.7036, 1.6975, 0.0061],
    [0.0030, 0.0136, 0.9834],
];

/// Hunt-Pointer-Estevez cone responses, CIE 159:2004, equation 7.10.
const HUNT_POINTER_ESTEVEZ: Matrix3 = [
    [0.38971, 0.68898, -0.07868],
    [-0.22981, 1.18340, 0.04641],
    [0.0, 0.0, 1.0],
];

const CONE_FROM_CAT02: Matrix3 = multiply(&HUNT_POINTER_ESTEVEZ, &inverse(&CAT02));

/// Adapting luminance, cd/m².
const ADAPTING: f64 = 100.0;

/// Background relative to the white.
const BACKGROUND: f64 = 0.2;

/// c of the average surround; its Nc is 1.
const SURROUND: f64 = 0.69;

/// CAM02-UCS relative to one white.
pub(super) struct UniformSpace {
    gain: [f64; 3],
    luminance_factor: f64,
    background_factor: f64,
    white_response: f64,
}

struct Responses {
    a: f64,
    b: f64,
    achromatic: f64,
    sum: f64,
}

impl UniformSpace {
    /// `white` with Y = 100.
    pub(super) fn new(white: [f64; 3]) -> Self {
        let five = 5.0 * ADAPTING;
        let k = (1.0 / (five + 1.0)).powi(4);
        let mut space = Self {
            gain: apply(&CAT02, white).map(|w| white[1] / w),
            luminance_factor: 0.2 * k * five + 0.1 * (1.0 - k).powi(2) * five.cbrt(),
            background_factor: 0.725 * BACKGROUND.powf(-0.2),
            white_response: 1.0,
        };
        space.white_response = space.responses(white).achromatic;
        space
    }

    fn responses(&self, xyz: [f64; 3]) -> Responses {
        let rgb = apply(&CAT02, xyz);
        let adapted = std::array::from_fn(|i| rgb[i] * self.gain[i]);
        let [r, g, b] = apply(&CONE_FROM_CAT02, adapted).map(|v| {
            let p = (self.luminance_factor * v.abs() / 100.0).powf(0.42);
            (400.0 * p / (27.13 + p)).copysign(v) + 0.1
        });
        Responses {
            a: r - 12.0 * g / 11.0 + b / 11.0,
            b: (r + g - 2.0 * b) / 9.0,
            achromatic: (2.0 * r + g + b / 20.0 - 0.305) * self.background_factor,
            sum: r + g + 21.0 * b / 20.0,
        }
    }

    /// `[J', a', b']` of XYZ with Y = 100 for the perfect diffuser.
    pub(super) fn coordinates(&self, xyz: [f64; 3]) -> [f64; 3] {
        let found = self.responses(xyz);
        let hue = found.b.atan2(found.a);
        let eccentricity = 0.25 * ((hue + 2.0).cos() + 3.8);
        let exponent = SURROUND * (1.48 + BACKGROUND.sqrt());
        let lightness = 100.0 * (found.achromatic / self.white_response).powf(exponent);
        let t = 50000.0 / 13.0 * self.background_factor * eccentricity * found.a.hypot(found.b)
            / found.sum;
        let chroma = t.powf(0.9)
            * (lightness / 100.0).sqrt()
            * (1.64 - 0.29_f64.powf(BACKGROUND)).powf(0.73);
        let colourfulness = chroma * self.luminance_factor.powf(0.25);
        // Luo, Cui, Li 2006, table II: c1 = 0.007, c2 = 0.0228.
        let m = (0.0228 * colourfulness).ln_1p() / 0.0228;
        let (sin, cos) = hue.sin_cos();
        [
            1.7 * lightness / (1.0 + 0.007 * lightness),
            m * cos,
            m * sin,
        ]
    }
}
