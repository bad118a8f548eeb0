//! ICC profiles: the tone curve of a profile read, and small matrix/TRC profiles written.
//! ICC.1:2022 (profile version 4.4), section numbers below are its.

use std::str::FromStr;

use ganosis_colorimetry::adaptation::Method;
use ganosis_colorimetry::matrix::{Matrix3, apply, multiply};
use ganosis_colorimetry::rgb::{P3, RgbSpace, Romm, SpaceWhite, Srgb};
use ganosis_colorimetry::xyz::{WHITE_D50, WHITE_D65, Xyz};

use crate::error::ImagingError;

/// The white of the profile connection space (7.2.16).
pub const PCS_WHITE: Xyz = Xyz::new(0.9642, 1.0, 0.8249);

/// A tone curve of a profile: code to light, both 0..1.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// `parametricCurveType`, any function, as g a b c d e f of function type 4 (10.18).
    Parametric([f64; 7]),
    /// `curveType`: a table over 0..1 (10.6).
    Table(Vec<u16>),
}

impl Curve {
    /// Light for a code.
    pub fn light(&self, code: f64) -> f64 {
        match self {
            Self::Parametric([g, a, b, c, d, e, f]) => {
                if code >= *d {
                    (a * code + b).max(0.0).powf(*g) + e
                } else {
                    c * code + f
                }
            }
            Self::Table(table) => {
                let at = code.clamp(0.0, 1.0) * (table.len() - 1) as f64;
                let low = (at as usize).min(table.len() - 2);
                let (a, b) = (f64::from(table[low]), f64::from(table[low + 1]));
                (a + (b - a) * (at - low as f64)) / 65535.0
            }
        }
    }

    /// The exponent, where the curve is nothing else.
    pub fn power(&self) -> Option<f64> {
        match self {
            Self::Parametric([g, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]) => Some(*g),
            _ => None,
        }
    }
}

/// The green tone curve of an RGB profile; `None` where it has none or is damaged. Photographs with
/// different curves a channel are not known to occur in practice (no source).
pub fn read_curve(profile: &[u8]) -> Option<Curve> {
    if profile.get(36..40)? != b"acsp" || profile.get(16..20)? != b"RGB " {
        return None;
    }
    let count = u32_at(profile, 128)?.min(1000);
    let entry = (0..count)
        .map(|i| 132 + 12 * i)
        .find(|&at| profile.get(at..at + 4) == Some(b"gTRC"))?;
    let start = u32_at(profile, entry + 4)?;
    let data = profile.get(start..start.checked_add(u32_at(profile, entry + 8)?)?)?;
    match data.get(..4)? {
        b"curv" => table_curve(data),
        b"para" => parametric_curve(data),
        _ => None,
    }
}

fn u32_at(data: &[u8], at: usize) -> Option<usize> {
    let bytes: [u8; 4] = data.get(at..at.checked_add(4)?)?.try_into().ok()?;
    usize::try_from(u32::from_be_bytes(bytes)).ok()
}

fn u16_at(data: &[u8], at: usize) -> Option<u16> {
    let bytes: [u8; 2] = data.get(at..at + 2)?.try_into().ok()?;
    Some(u16::from_be_bytes(bytes))
}

fn power(g: f64) -> Curve {
    Curve::Parametric([g, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0])
}

fn table_curve(data: &[u8]) -> Option<Curve> {
    match u32_at(data, 8)? {
        0 => Some(power(1.0)),
        // One entry is an exponent, u8Fixed8Number.
        1 => Some(power(f64::from(u16_at(data, 12)?) / 256.0)),
        count => {
            let bytes = data.get(12..12 + 2 * count.min(data.len()))?;
            let table = bytes.chunks_exact(2);
            Some(Curve::Table(
                table.map(|b| u16::from_be_bytes([b[0], b[1]])).collect(),
            ))
        }
    }
}

fn parametric_curve(data: &[u8]) -> Option<Curve> {
    let kind = u16_at(data, 8)?;
    let p = |i: usize| u32_at(data, 12 + 4 * i).map(|v| f64::from(v as u32 as i32) / 65536.0);
    let curve = match kind {
        0 => [p(0)?, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        1 => {
            let (g, a, b) = (p(0)?, p(1)?, p(2)?);
            [g, a, b, 0.0, -b / a, 0.0, 0.0]
        }
        2 => {
            let (g, a, b, c) = (p(0)?, p(1)?, p(2)?, p(3)?);
            [g, a, b, 0.0, -b / a, c, c]
        }
        3 => [p(0)?, p(1)?, p(2)?, p(3)?, p(4)?, 0.0, 0.0],
        4 => [p(0)?, p(1)?, p(2)?, p(3)?, p(4)?, p(5)?, p(6)?],
        _ => return None,
    };
    curve
        .iter()
        .all(|v| v.is_finite())
        .then_some(Curve::Parametric(curve))
}

/// A space that a corrected photograph can be written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutputSpace {
    /// ROMM RGB, ISO 22028-2: wide enough for every paint.
    Romm,
    /// sRGB, IEC 61966-2-1.
    Srgb,
    /// Display P3.
    P3,
}

impl OutputSpace {
    /// The name for people.
    pub fn title(self) -> &'static str {
        match self {
            Self::Romm => Romm::TITLE,
            Self::Srgb => Srgb::TITLE,
            Self::P3 => P3::TITLE,
        }
    }

    /// Linear components from XYZ relative to D50.
    pub fn linear_from_xyz_d50(self) -> Matrix3 {
        fn of<S: RgbSpace>() -> Matrix3 {
            match S::WHITE {
                SpaceWhite::D50 => S::LINEAR_FROM_XYZ,
                SpaceWhite::D65 => multiply(
                    &S::LINEAR_FROM_XYZ,
                    &Method::Bradford.matrix(WHITE_D50, WHITE_D65),
                ),
            }
        }
        match self {
            Self::Romm => of::<Romm>(),
            Self::Srgb => of::<Srgb>(),
            Self::P3 => of::<P3>(),
        }
    }

    /// Code for light, both 0..1.
    pub fn encode(self, linear: f64) -> f64 {
        match self {
            Self::Romm => Romm::encode(linear),
            Self::Srgb => Srgb::encode(linear),
            Self::P3 => P3::encode(linear),
        }
    }

    fn white(self) -> Xyz {
        match self {
            Self::Romm => WHITE_D50,
            Self::Srgb | Self::P3 => WHITE_D65,
        }
    }

    fn xyz_from_linear(self) -> Matrix3 {
        match self {
            Self::Romm => Romm::XYZ_FROM_LINEAR,
            Self::Srgb => Srgb::XYZ_FROM_LINEAR,
            Self::P3 => P3::XYZ_FROM_LINEAR,
        }
    }

    /// g a b c d of the parametric curve of function type 3.
    fn curve(self) -> [f64; 5] {
        match self {
            // ISO 22028-2: exponent 1.8, straight below code 16/512.
            Self::Romm => [1.8, 1.0, 0.0, 1.0 / 16.0, 16.0 / 512.0],
            Self::Srgb | Self::P3 => [2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045],
        }
    }

    /// A display profile of version 4.4 with matrix and curve.
    pub fn profile(self) -> Vec<u8> {
        let to_pcs = Method::Bradford.matrix(self.white(), PCS_WHITE);
        let colorants = multiply(&to_pcs, &self.xyz_from_linear());
        let column = |c: usize| xyz_type([0, 1, 2].map(|r| colorants[r][c]));
        let trc = para_type(self.curve());
        let tags: Vec<([u8; 4], Vec<u8>)> = vec![
            (*b"desc", text_type(self.title())),
            (*b"cprt", text_type("No rights reserved (CC0 1.0)")),
            (*b"wtpt", xyz_type(PCS_WHITE.to_array())),
            (*b"chad", matrix_type(&to_pcs)),
            (*b"rXYZ", column(0)),
            (*b"gXYZ", column(1)),
            (*b"bXYZ", column(2)),
            (*b"rTRC", trc.clone()),
            (*b"gTRC", trc.clone()),
            (*b"bTRC", trc),
        ];
        assemble(&tags)
    }
}

fn fixed(value: f64) -> [u8; 4] {
    // s15Fixed16Number (4.6).
    ((value * 65536.0).round() as i32).to_be_bytes()
}

fn xyz_type(xyz: [f64; 3]) -> Vec<u8> {
    let mut out = b"XYZ \0\0\0\0".to_vec();
    out.extend(xyz.into_iter().flat_map(fixed));
    out
}

fn matrix_type(matrix: &Matrix3) -> Vec<u8> {
    let mut out = b"sf32\0\0\0\0".to_vec();
    out.extend(matrix.iter().flatten().copied().flat_map(fixed));
    out
}

fn para_type(parameters: [f64; 5]) -> Vec<u8> {
    let mut out = b"para\0\0\0\0\0\x03\0\0".to_vec();
    out.extend(parameters.into_iter().flat_map(fixed));
    out
}

fn text_type(text: &str) -> Vec<u8> {
    // multiLocalizedUnicodeType (10.15), one record.
    let units: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    let mut out = b"mluc\0\0\0\0\0\0\0\x01\0\0\0\x0CenUS".to_vec();
    out.extend((units.len() as u32).to_be_bytes());
    out.extend(28_u32.to_be_bytes());
    out.extend(units);
    out
}

fn assemble(tags: &[([u8; 4], Vec<u8>)]) -> Vec<u8> {
    let mut table = (tags.len() as u32).to_be_bytes().to_vec();
    let mut data: Vec<u8> = Vec::new();
    let first = 128 + 4 + 12 * tags.len();
    for (name, content) in tags {
        table.extend(name);
        table.extend(((first + data.len()) as u32).to_be_bytes());
        table.extend((content.len() as u32).to_be_bytes());
        data.extend(content);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    // Header, 7.2. The date is fixed, so that the same space gives the same bytes.
    let mut out = vec![0; 128];
    out[0..4].copy_from_slice(&((first + data.len()) as u32).to_be_bytes());
    out[8..12].copy_from_slice(&[4, 0x40, 0, 0]);
    out[12..24].copy_from_slice(b"mntrRGB XYZ ");
    for (at, value) in [(24, 2025_u16), (26, 1), (28, 1)] {
        out[at..at + 2].copy_from_slice(&value.to_be_bytes());
    }
    out[36..40].copy_from_slice(b"acsp");
    let white: Vec<u8> = PCS_WHITE.to_array().into_iter().flat_map(fixed).collect();
    out[68..80].copy_from_slice(&white);
    out.extend(table);
    out.extend(data);
    out
}

impl FromStr for OutputSpace {
    type Err = ImagingError;

    fn from_str(text: &str) -> Result<Self, ImagingError> {
        match text {
            "romm" => Ok(Self::Romm),
            "srgb" => Ok(Self::Srgb),
            "display-p3" => Ok(Self::P3),
            other => Err(ImagingError::new(
                format!("no space is called “{other}”"),
                "--space",
                "Say romm, srgb or display-p3.",
            )),
        }
    }
}

/// XYZ relative to D50 of linear components; for tests and reports.
pub fn xyz_d50_from_linear(space: OutputSpace, linear: [f64; 3]) -> [f64; 3] {
    let to_d50 = Method::Bradford.matrix(space.white(), WHITE_D50);
    apply(&multiply(&to_d50, &space.xyz_from_linear()), linear)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_written_curve_reads_back_as_the_curve_of_the_space() {
        for space in [OutputSpace::Romm, OutputSpace::Srgb, OutputSpace::P3] {
            let curve = read_curve(&space.profile()).unwrap();
            for i in 0..=1000 {
                let light = f64::from(i) / 1000.0;
                let back = curve.light(space.encode(light));
                assert!((back - light).abs() < 1e-4, "{space:?} {light} {back}");
            }
        }
    }

    #[test]
    fn a_damaged_profile_has_no_curve_and_does_not_panic() {
        let whole = OutputSpace::Srgb.profile();
        for cut in 0..whole.len() - 20 {
            let _ = read_curve(&whole[..cut]);
        }
        assert_eq!(read_curve(&whole[..200]), None);
    }
}
