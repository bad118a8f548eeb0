//! The RGB spaces and their matrices.
//!
//! The rational matrices are those of the W3C CSS Color Module Level 4 sample code; the tests derive
//! every one of them again from the primaries and the white point of its standard.
#![expect(
    clippy::excessive_precision,
    reason = "digits as the standard prints them"
)]

use super::transfer;
use crate::matrix::Matrix3;

/// The white point of an RGB space.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpaceWhite {
    /// D50, as CSS Color 4.
    D50,
    /// D65, as CSS Color 4.
    D65,
}

/// What makes an RGB space: primaries, white and transfer function.
pub trait RgbSpace: Copy + std::fmt::Debug + PartialEq + 'static {
    /// The name in `color(…)` of CSS Color 4.
    const CSS_NAME: &'static str;
    /// The name for people.
    const TITLE: &'static str;
    /// The white that equal components show.
    const WHITE: SpaceWhite;
    /// XYZ relative to [`RgbSpace::WHITE`] from linear components.
    const XYZ_FROM_LINEAR: Matrix3;
    /// The inverse.
    const LINEAR_FROM_XYZ: Matrix3;
    /// Light to code.
    fn encode(linear: f64) -> f64;
    /// Code to light.
    fn decode(encoded: f64) -> f64;
}

macro_rules! space {
    ($name:ident, $doc:literal, $css:literal, $title:literal, $white:ident, $to:expr, $from:expr, $encode:ident, $decode:ident) => {
        #[doc = $doc]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
        pub struct $name;

        impl RgbSpace for $name {
            const CSS_NAME: &'static str = $css;
            const TITLE: &'static str = $title;
            const WHITE: SpaceWhite = SpaceWhite::$white;
            const XYZ_FROM_LINEAR: Matrix3 = $to;
            const LINEAR_FROM_XYZ: Matrix3 = $from;

            #[inline]
            fn encode(linear: f64) -> f64 {
                transfer::$encode(linear)
            }

            #[inline]
            fn decode(encoded: f64) -> f64 {
                transfer::$decode(encoded)
            }
        }
    };
}

space!(
    Srgb,
    "sRGB, IEC 61966-2-1:1999.",
    "srgb",
    "sRGB",
    D65,
    [
        [506752.0 / 1228815.0, 87881.0 / 245763.0, 12673.0 / 70218.0],
        [87098.0 / 409605.0, 175762.0 / 245763.0, 12673.0 / 175545.0],
        [7918.0 / 409605.0, 87881.0 / 737289.0, 1001167.0 / 1053270.0],
    ],
    [
        [12831.0 / 3959.0, -329.0 / 214.0, -1974.0 / 3959.0],
        [
            -851781.0 / 878810.0,
            1648619.0 / 878810.0,
            36519.0 / 878810.0
        ],
        [705.0 / 12673.0, -2585.0 / 12673.0, 705.0 / 667.0],
    ],
    encode_srgb,
    decode_srgb
);

space!(
    P3,
    "Display P3: the primaries of SMPTE RP 431-2, D65, the transfer function of sRGB.",
    "display-p3",
    "Display P3",
    D65,
    [
        [
            608311.0 / 1250200.0,
            189793.0 / 714400.0,
            198249.0 / 1000160.0
        ],
        [
            35783.0 / 156275.0,
            247089.0 / 357200.0,
            198249.0 / 2500400.0
        ],
        [0.0, 32229.0 / 714400.0, 5220557.0 / 5000800.0],
    ],
    [
        [
            446124.0 / 178915.0,
            -333277.0 / 357830.0,
            -72051.0 / 178915.0
        ],
        [-14852.0 / 17905.0, 63121.0 / 35810.0, 423.0 / 17905.0],
        [11844.0 / 330415.0, -50337.0 / 660830.0, 316169.0 / 330415.0],
    ],
    encode_srgb,
    decode_srgb
);

space!(
    OpRgb,
    "opRGB, IEC 61966-2-5:2007; `a98-rgb` in CSS.",
    "a98-rgb",
    "opRGB",
    D65,
    [
        [
            573536.0 / 994567.0,
            263643.0 / 1420810.0,
            187206.0 / 994567.0
        ],
        [
            591459.0 / 1989134.0,
            6239551.0 / 9945670.0,
            374412.0 / 4972835.0
        ],
        [
            53769.0 / 1989134.0,
            351524.0 / 4972835.0,
            4929758.0 / 4972835.0
        ],
    ],
    [
        [
            1829569.0 / 896150.0,
            -506331.0 / 896150.0,
            -308931.0 / 896150.0
        ],
        [
            -851781.0 / 878810.0,
            1648619.0 / 878810.0,
            36519.0 / 878810.0
        ],
        [
            16779.0 / 1248040.0,
            -147721.0 / 1248040.0,
            1266979.0 / 1248040.0
        ],
    ],
    encode_oprgb,
    decode_oprgb
);

space!(
    Romm,
    "ROMM RGB, ISO 22028-2:2013, white D50; `prophoto-rgb` in CSS.",
    "prophoto-rgb",
    "ROMM RGB",
    D50,
    [
        [
            0.79776664490064230,
            0.13518129740053308,
            0.03134773412839220
        ],
        [
            0.28807482881940130,
            0.71183523424187300,
            0.00008993693872564
        ],
        [0.0, 0.0, 0.82510460251046020],
    ],
    [
        [
            1.34578688164715830,
            -0.25557208737979464,
            -0.05110186497554526
        ],
        [
            -0.54463070512490190,
            1.50824774284514680,
            0.02052744743642139
        ],
        [0.0, 0.0, 1.21196754563894520],
    ],
    encode_romm,
    decode_romm
);

const XYZ_FROM_REC2020: Matrix3 = [
    [
        63426534.0 / 99577255.0,
        20160776.0 / 139408157.0,
        47086771.0 / 278816314.0,
    ],
    [
        26158966.0 / 99577255.0,
        472592308.0 / 697040785.0,
        8267143.0 / 139408157.0,
    ],
    [0.0, 19567812.0 / 697040785.0, 295819943.0 / 278816314.0],
];

const REC2020_FROM_XYZ: Matrix3 = [
    [
        30757411.0 / 17917100.0,
        -6372589.0 / 17917100.0,
        -4539589.0 / 17917100.0,
    ],
    [
        -19765991.0 / 29648200.0,
        47925759.0 / 29648200.0,
        467509.0 / 29648200.0,
    ],
    [
        792561.0 / 44930125.0,
        -1921689.0 / 44930125.0,
        42328811.0 / 44930125.0,
    ],
];

space!(
    Rec2020,
    "ITU-R BT.2020-2 as shown on a display (BT.1886, exponent 2.4); `rec2020` in CSS.",
    "rec2020",
    "Rec. 2020",
    D65,
    XYZ_FROM_REC2020,
    REC2020_FROM_XYZ,
    encode_gamma_2_4,
    decode_gamma_2_4
);

space!(
    Rec2020Camera,
    "ITU-R BT.2020-2 as encoded by a camera. CSS has no name for it; a custom one is used.",
    "--rec2020-camera",
    "Rec. 2020 (camera)",
    D65,
    XYZ_FROM_REC2020,
    REC2020_FROM_XYZ,
    encode_rec2020_camera,
    decode_rec2020_camera
);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::matrix::{apply, inverse, multiply};
    use crate::xyz::{Chromaticity, WHITE_D50, WHITE_D65, Xyz};

    /// SMPTE RP 177-1993: scale the primaries so that equal components show the white.
    fn derived(primaries: [[f64; 2]; 3], white: Xyz) -> Matrix3 {
        let p = primaries.map(|[x, y]| Chromaticity::new(x, y).to_xyz().to_array());
        let columns = std::array::from_fn(|i| std::array::from_fn(|j| p[j][i]));
        let s = apply(&inverse(&columns), white.to_array());
        std::array::from_fn(|i| std::array::from_fn(|j| columns[i][j] * s[j]))
    }

    fn check<S: RgbSpace>(primaries: [[f64; 2]; 3], tolerance: f64) {
        let white = match S::WHITE {
            SpaceWhite::D50 => WHITE_D50,
            SpaceWhite::D65 => WHITE_D65,
        };
        let want = derived(primaries, white);
        let identity = multiply(&S::XYZ_FROM_LINEAR, &S::LINEAR_FROM_XYZ);
        for i in 0..3 {
            for j in 0..3 {
                let got = S::XYZ_FROM_LINEAR[i][j];
                assert!(
                    (got - want[i][j]).abs() < tolerance,
                    "{} [{i}][{j}] {got} {}",
                    S::TITLE,
                    want[i][j]
                );
                let one = if i == j { 1.0 } else { 0.0 };
                assert!((identity[i][j] - one).abs() < 1e-13, "{} inverse", S::TITLE);
            }
        }
        for step in -20..=60 {
            let v = f64::from(step) / 40.0;
            assert!(
                (S::decode(S::encode(v)) - v).abs() < 1e-7,
                "{} transfer at {v}",
                S::TITLE
            );
        }
    }

    #[test]
    fn matrices_follow_from_the_primaries_of_the_standards() {
        // Primaries: IEC 61966-2-1; SMPTE RP 431-2; IEC 61966-2-5; ISO 22028-2; ITU-R BT.2020-2.
        check::<Srgb>([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]], 1e-14);
        check::<P3>([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]], 1e-14);
        check::<OpRgb>([[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]], 1e-14);
        check::<Romm>(
            [
                [0.734699, 0.265301],
                [0.159597, 0.840403],
                [0.036598, 0.000105],
            ],
            1e-14,
        );
        check::<Rec2020>([[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]], 1e-14);
        check::<Rec2020Camera>([[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]], 1e-14);
    }
}
