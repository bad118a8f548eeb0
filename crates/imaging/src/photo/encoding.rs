//! How the codes of a photograph stand for light.

use std::fmt;
use std::str::FromStr;

use ganosis_colorimetry::rgb::decode_srgb;
use serde::{Deserialize, Serialize};

use crate::error::ImagingError;
use crate::icc::Curve;

/// The curve between code and light.
#[derive(Debug, Clone, PartialEq)]
pub enum Encoding {
    /// Codes are proportional to light.
    Linear,
    /// The curve of IEC 61966-2-1.
    Srgb,
    /// Light is the code to this power.
    Power(f64),
    /// The tone curve of an ICC profile.
    Profile(Curve),
}

/// Points between 0 and 1 at which a record keeps the curve.
const RECORD_STEPS: usize = 16;

/// Two curves further apart than this (in linear light) are different encodings: about one 8-bit
/// code at mid-tone.
const SAME_CURVE: f64 = 0.004;

/// An encoding as kept with a calibration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EncodingRecord {
    /// Its name.
    pub name: String,
    /// Light at 0, 1/16, … 1 of the largest code.
    pub light_at_sixteenths: Vec<f64>,
}

impl Encoding {
    /// Light for a code, both 0..1.
    pub fn decode(&self, code: f64) -> f64 {
        match self {
            Self::Linear => code,
            Self::Srgb => decode_srgb(code),
            Self::Power(power) => code.max(0.0).powf(*power),
            Self::Profile(curve) => curve.light(code),
        }
    }

    /// Light for each 16-bit code.
    pub fn light_of_code(&self) -> Vec<f32> {
        (0..=u16::MAX)
            .map(|code| self.decode(f64::from(code) / 65535.0) as f32)
            .collect()
    }

    /// The record.
    pub fn record(&self) -> EncodingRecord {
        EncodingRecord {
            name: self.to_string(),
            light_at_sixteenths: (0..=RECORD_STEPS)
                .map(|i| self.decode(i as f64 / RECORD_STEPS as f64))
                .collect(),
        }
    }
}

impl EncodingRecord {
    /// Whether `encoding` is the one recorded.
    pub fn agrees(&self, encoding: &Encoding) -> bool {
        let other = encoding.record().light_at_sixteenths;
        self.light_at_sixteenths.len() == other.len()
            && self
                .light_at_sixteenths
                .iter()
                .zip(other)
                .all(|(a, b)| (a - b).abs() <= SAME_CURVE)
    }
}

impl fmt::Display for Encoding {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Self::Linear => out.write_str("linear"),
            Self::Srgb => out.write_str("srgb"),
            Self::Power(power) => write!(out, "power {power:.4}"),
            Self::Profile(_) => out.write_str("curve of the ICC profile"),
        }
    }
}

impl FromStr for Encoding {
    type Err = ImagingError;

    fn from_str(text: &str) -> Result<Self, ImagingError> {
        match text {
            "linear" => Ok(Self::Linear),
            "srgb" => Ok(Self::Srgb),
            other => Err(ImagingError::new(
                format!("no encoding is called “{other}”"),
                "--encoding",
                "Say linear or srgb.",
            )),
        }
    }
}
