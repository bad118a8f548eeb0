//! Chromatic adaptation: which tristimulus values look, under another white, like the given ones.

use crate::matrix::{Matrix3, apply, diagonal, inverse, multiply};
use crate::xyz::{WHITE_D50, WHITE_D65, Xyz};

/// Bradford cone responses from XYZ. K. M. Lam, "Metamerism and colour constancy", 1985, as printed
/// in CIE 159:2004 and used by ICC.1 and CSS Color 4.
pub const BRADFORD: Matrix3 = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

/// CAT16 cone responses from XYZ. C. Li et al., "Comprehensive color solutions: CAM16, CAT16, and
/// CAM16-UCS", Color Research and Application 42, 2017; CIE 248:2022.
pub const CAT16: Matrix3 = [
    [0.401288, 0.650173, -0.051461],
    [-0.250268, 1.204414, 0.045854],
    [-0.002079, 0.048952, 0.953127],
];

/// Which cone space the adaptation is done in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Method {
    /// The linear Bradford transform; what ICC profiles and CSS use.
    #[default]
    Bradford,
    /// CAT16, complete adaptation (degree 1).
    Cat16,
}

impl Method {
    /// Cone responses from XYZ.
    pub const fn cone_from_xyz(self) -> Matrix3 {
        match self {
            Self::Bradford => BRADFORD,
            Self::Cat16 => CAT16,
        }
    }

    /// The matrix that takes XYZ under the white `from` to the corresponding XYZ under `to`
    /// (von Kries scaling in the cone space, complete adaptation).
    pub const fn matrix(self, from: Xyz, to: Xyz) -> Matrix3 {
        let cone = self.cone_from_xyz();
        let source = apply(&cone, from.to_array());
        let target = apply(&cone, to.to_array());
        let scale = diagonal([
            target[0] / source[0],
            target[1] / source[1],
            target[2] / source[2],
        ]);
        multiply(&inverse(&cone), &multiply(&scale, &cone))
    }

    /// As [`Method::matrix`] with a degree of adaptation: 0 leaves the colour as it is, 1 adapts
    /// completely. `D·(Yw,from/Yw,to)(target/source) + 1 - D`, CIE 248:2022 for CAT16.
    pub fn matrix_with_degree(self, from: Xyz, to: Xyz, degree: f64) -> Matrix3 {
        let cone = self.cone_from_xyz();
        let source = apply(&cone, from.to_array());
        let target = apply(&cone, to.to_array());
        let luminance = from.y / to.y;
        let gain = |i: usize| degree * luminance * target[i] / source[i] + 1.0 - degree;
        let scale = diagonal([gain(0), gain(1), gain(2)]);
        multiply(&inverse(&cone), &multiply(&scale, &cone))
    }

    /// One colour from the white `from` to the white `to`.
    pub fn adapt(self, xyz: Xyz, from: Xyz, to: Xyz) -> Xyz {
        Xyz::from_array(apply(&self.matrix(from, to), xyz.to_array()))
    }
}

/// Bradford from D50 to D65.
pub const XYZ_D65_FROM_D50: Matrix3 = Method::Bradford.matrix(WHITE_D50, WHITE_D65);

/// Bradford from D65 to D50.
pub const XYZ_D50_FROM_D65: Matrix3 = Method::Bradford.matrix(WHITE_D65, WHITE_D50);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bradford_equals_the_matrices_printed_in_css_color_4() {
        // W3C CSS Color Module Level 4, sample code D50_to_D65 and D65_to_D50.
        let printed = [
            [0.955473421488075, -0.02309845494876471, 0.06325924320057072],
            [
                -0.0283697093338637,
                1.0099953980813041,
                0.021041441191917323,
            ],
            [
                0.012314014864481998,
                -0.020507649298898964,
                1.330365926242124,
            ],
        ];
        let back = [
            [
                1.0479297925449969,
                0.022946870601609652,
                -0.05019226628920524,
            ],
            [
                0.02962780877005599,
                0.9904344267538799,
                -0.017073799063418826,
            ],
            [
                -0.009243040646204504,
                0.015055191490298152,
                0.7518742814281371,
            ],
        ];
        for i in 0..3 {
            for j in 0..3 {
                assert!((XYZ_D65_FROM_D50[i][j] - printed[i][j]).abs() < 1e-14);
                assert!((XYZ_D50_FROM_D65[i][j] - back[i][j]).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn every_method_takes_white_to_white() {
        for method in [Method::Bradford, Method::Cat16] {
            let got = method.adapt(WHITE_D50, WHITE_D50, WHITE_D65);
            assert!((got.x - WHITE_D65.x).abs() < 1e-14 && (got.z - WHITE_D65.z).abs() < 1e-14);
            let none = method.matrix_with_degree(WHITE_D50, WHITE_D65, 0.0);
            assert!((none[0][0] - 1.0).abs() < 1e-14 && none[0][1].abs() < 1e-14);
        }
    }
}
