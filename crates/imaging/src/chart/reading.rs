//! What a photographed chart says about the photograph, before anything is fitted.

use serde::{Deserialize, Serialize};

use super::patches::{PatchReading, read_patches};
use super::placement::Placement;
use crate::error::{ImagingError, Result};
use crate::fit::Sample;
use crate::photo::{Encoding, LinearPhoto};
use crate::reference::Reference;

/// What kind of thing was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FindingKind {
    /// Patches with pixels at the largest code; they are left out of the fit.
    Clipped,
    /// Patches of a few codes only; they are left out of the fit.
    TooDark,
    /// The whole chart is dark.
    Underexposed,
    /// Codes look encoded, and were taken as linear.
    LooksEncoded,
    /// Codes look linear, and were decoded.
    LooksLinear,
    /// The chart lies turned in the photograph.
    Turned,
    /// The chart is seen as in a mirror.
    Mirrored,
    /// A patch is not even: dirt, shadow or a wrong place.
    UnevenPatch,
    /// So many patches are clipped or too dark that the chart says little.
    FewUsable,
}

/// What follows from a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// To be known.
    Note,
    /// To be mended; the calibration is worth less.
    Warning,
    /// A calibration would be worthless.
    Fault,
}

impl FindingKind {
    /// What follows.
    pub const fn severity(self) -> Severity {
        match self {
            Self::Turned => Severity::Note,
            Self::Clipped
            | Self::TooDark
            | Self::Underexposed
            | Self::Mirrored
            | Self::UnevenPatch => Severity::Warning,
            Self::LooksEncoded | Self::LooksLinear | Self::FewUsable => Severity::Fault,
        }
    }
}

/// Something a photographer should know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The kind.
    pub kind: FindingKind,
    /// What was found.
    pub text: String,
    /// What to do.
    pub advice: String,
}

/// The patches of one photograph.
#[derive(Debug, Clone, PartialEq)]
pub struct ChartReading {
    /// The readings, in the order of the reference.
    pub readings: Vec<PatchReading>,
    /// Indices of the patches that are fit for use.
    pub used: Vec<usize>,
    /// Gains that make the greys equal in the three channels; green is 1.
    pub white_balance: [f64; 3],
    /// Exponent between the light of the greys and their camera values: 1 where the file is linear.
    pub tone_exponent: Option<f64>,
    /// What was found.
    pub findings: Vec<Finding>,
}

/// More clipped pixels than this part spoil the mean of a patch.
const CLIPPED_PART: f64 = 0.01;

/// The largest channel of a patch holds this many codes at least, or rounding colours it.
const LEAST_CODES: f64 = 4.0;

/// Where more than one patch in this many cannot be used, what is left says little about the rest
/// (common practice, no source).
const MOST_UNUSABLE: usize = 4;

/// The lightest grey is brighter than this part of full scale on a well-exposed chart; three stops
/// below full scale (common practice, no source).
const UNDEREXPOSED: f64 = 0.1;

/// Tone exponents beyond these are the wrong encoding: sRGB taken as linear gives about 0.45, linear
/// taken as sRGB about 2.2; the tone curves of cameras lie between (common practice, no source).
const ENCODED_BELOW: f64 = 0.75;
const LINEAR_ABOVE: f64 = 1.5;

/// Greys darker than this L* are left out of the tone exponent: stray light rules them.
const TONE_FROM_L: f64 = 30.0;

/// Reads the patches and looks for what spoils them.
pub fn examine(
    view: &LinearPhoto,
    placement: &Placement,
    reference: &Reference,
) -> Result<ChartReading> {
    let readings = read_patches(view, &placement.px_from_chart, reference)?;
    let mut findings = Vec::new();
    findings.extend(turned(placement, reference));
    let least = LEAST_CODES / (f64::from(view.photo.bits).exp2() - 1.0);
    let names = |bad: &dyn Fn(&PatchReading) -> bool| -> (Vec<usize>, String) {
        let which: Vec<usize> = (0..readings.len()).filter(|&i| bad(&readings[i])).collect();
        let names: Vec<&str> = which
            .iter()
            .map(|&i| reference.patches[i].name.as_str())
            .collect();
        (which, names.join(", "))
    };
    let (clipped, text) = names(&|r| r.clipped > CLIPPED_PART);
    if !clipped.is_empty() {
        findings.push(Finding {
            kind: FindingKind::Clipped,
            text: format!("clipped, and left out of the fit: {text}"),
            advice: "Expose less, so that white stays below the largest code.".to_owned(),
        });
    }
    let (dark, text) = names(&|r| r.encoded.into_iter().fold(0.0, f64::max) < least);
    if !dark.is_empty() {
        findings.push(Finding {
            kind: FindingKind::TooDark,
            text: format!("less than {LEAST_CODES} codes, and left out of the fit: {text}"),
            advice: "Expose more, or give a 16-bit file.".to_owned(),
        });
    }
    if MOST_UNUSABLE * (clipped.len() + dark.len()) > readings.len() {
        findings.push(Finding {
            kind: FindingKind::FewUsable,
            text: format!(
                "{} of {} patches are clipped and {} too dark: the chart is wrongly exposed",
                clipped.len(),
                readings.len(),
                dark.len()
            ),
            advice: "Photograph the chart again, white just below the largest code.".to_owned(),
        });
    }
    // A quarter of the mean is far above the texture and noise of a patch.
    let (uneven, text) = names(&|r| r.relative_spread > 0.25 && r.encoded[1] > 4.0 * least);
    if !uneven.is_empty() {
        findings.push(Finding {
            kind: FindingKind::UnevenPatch,
            text: format!("not even inside: {text}"),
            advice: "Look for dirt, glare or a shadow, and check the corners.".to_owned(),
        });
    }
    let used: Vec<usize> = (0..readings.len())
        .filter(|i| !clipped.contains(i) && !dark.contains(i))
        .collect();
    let greys: Vec<usize> = reference
        .greys()
        .into_iter()
        .filter(|i| used.contains(i))
        .collect();
    let light = greys.first().map(|&i| readings[i].camera.largest());
    if let Some(light) = light.filter(|&l| l < UNDEREXPOSED) {
        findings.push(Finding {
            kind: FindingKind::Underexposed,
            text: format!(
                "underexposed: the lightest grey reaches {:.1} % of full scale",
                light * 100.0
            ),
            advice: "Expose more: noise and rounding become colour errors.".to_owned(),
        });
    }
    let tone_exponent = tone_exponent(&readings, &greys, reference);
    findings.extend(wrong_encoding(tone_exponent, &view.photo.encoding));
    Ok(ChartReading {
        white_balance: white_balance(&readings, &greys, view)?,
        readings,
        used,
        tone_exponent,
        findings,
    })
}

impl ChartReading {
    /// The usable patches, paired with what they are.
    pub fn samples(&self, reference: &Reference) -> Vec<Sample> {
        self.used
            .iter()
            .map(|&i| Sample {
                camera: self.readings[i].camera,
                target: reference.patches[i].lab,
            })
            .collect()
    }
}

fn turned(placement: &Placement, reference: &Reference) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mirrored = placement.mirrored(reference);
    if mirrored {
        findings.push(Finding {
            kind: FindingKind::Mirrored,
            text: "the photograph shows the chart as in a mirror".to_owned(),
            advice: "Patches were read accordingly; flip the photograph before it is used."
                .to_owned(),
        });
    }
    let turn = placement.turn_deg(reference);
    // Nearer to another quarter turn than to upright. Of a mirror image a half turn says nothing: it is
    // the same chart mirrored the other way.
    if turn.abs() > 45.0 && !(mirrored && turn.abs() > 135.0) {
        let text = if turn.abs() > 135.0 {
            "the chart is upside down in the photograph".to_owned()
        } else {
            format!("the chart lies turned by {turn:.0}° in the photograph")
        };
        findings.push(Finding {
            kind: FindingKind::Turned,
            text,
            advice: "Patches were read accordingly; nothing needs to be done.".to_owned(),
        });
    }
    findings
}

fn white_balance(
    readings: &[PatchReading],
    greys: &[usize],
    view: &LinearPhoto,
) -> Result<[f64; 3]> {
    // The lighter half: dark greys are ruled by stray light.
    let light = &greys[..greys.len().div_ceil(2)];
    let mut sum = [0.0; 3];
    for &i in light {
        for (s, v) in sum.iter_mut().zip(readings[i].camera.0) {
            *s += v;
        }
    }
    if light.is_empty() || sum.iter().any(|&s| s <= 0.0) {
        return Err(ImagingError::new(
            "no grey patch is fit for use: all are clipped, black or missing",
            view.photo.name.clone(),
            "Expose so that white stays below the largest code, and use a chart with greys.",
        ));
    }
    Ok(sum.map(|s| sum[1] / s))
}

/// The slope of log camera green over log luminance, by least squares.
fn tone_exponent(readings: &[PatchReading], greys: &[usize], reference: &Reference) -> Option<f64> {
    let points: Vec<(f64, f64)> = greys
        .iter()
        .filter(|&&i| reference.patches[i].lab.l > TONE_FROM_L && readings[i].camera.0[1] > 0.0)
        .map(|&i| {
            let y = reference.patches[i].lab.to_xyz_d50().y;
            (y.ln(), readings[i].camera.0[1].ln())
        })
        .collect();
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let mean = |f: fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0), mean(|p| p.1));
    let covariance: f64 = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
    let variance: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    (variance > 1e-6).then(|| covariance / variance)
}

fn wrong_encoding(exponent: Option<f64>, encoding: &Encoding) -> Option<Finding> {
    let exponent = exponent?;
    if exponent < ENCODED_BELOW {
        return Some(Finding {
            kind: FindingKind::LooksEncoded,
            text: format!(
                "the greys follow a power of {exponent:.2} where linear light follows 1: this file \
                 looks encoded for display and was taken as {encoding}"
            ),
            advice: match encoding {
                Encoding::Linear => "Say --encoding srgb, or develop the raw file to linear.",
                _ => "Turn off the raw converter's tone curve, or fit one with --tone.",
            }
            .to_owned(),
        });
    }
    (exponent > LINEAR_ABOVE).then(|| Finding {
        kind: FindingKind::LooksLinear,
        text: format!(
            "the greys follow a power of {exponent:.2} where linear light follows 1: this file \
             looks linear, or has a strong tone curve, and was taken as {encoding}"
        ),
        advice: "Say --encoding linear, or turn off the raw converter's tone curve.".to_owned(),
    })
}
