//! The lamp that is named at the prompt.

use std::path::Path;

use ganosis_colorimetry::Lamp;
use ganosis_colorimetry::lamp_quality::{fidelity, lamp_temperature, rendering};
use ganosis_colorimetry::relight::Adaptation;
use ganosis_colorimetry::spectrum::Spectrum;
use serde::Serialize;

use crate::trouble::Trouble;

/// A lamp, how the eye is taken to be, and what is known of the lamp.
pub(super) struct Light {
    pub(super) lamp: Lamp,
    pub(super) adaptation: Adaptation,
    pub(super) facts: Facts,
}

/// What is said of a lamp beside the colours.
#[derive(Serialize)]
pub(super) struct Facts {
    name: String,
    /// Absent where the lamp is too far from the Planckian locus.
    cct_k: Option<f64>,
    duv: f64,
    ra: f64,
    r9: f64,
    rf: f64,
    adapted: bool,
}

impl Light {
    /// By name, or from a CSV.
    pub(super) fn new(name: &str, unadapted: bool) -> anyhow::Result<Self> {
        let path = Path::new(name);
        let (lamp, title) = if path.is_file() {
            (measured(path)?, path.display().to_string())
        } else {
            let lamp: Lamp = name.parse().map_err(|error| {
                Trouble::error(
                    format!("{error}"),
                    "--light",
                    "Name a lamp, or a CSV that is there.",
                )
            })?;
            let title = lamp.to_string();
            (lamp, title)
        };
        let temperature = lamp_temperature(&lamp);
        let rendering = rendering(&lamp);
        let facts = Facts {
            name: title,
            cct_k: temperature.is_meaningful().then_some(temperature.kelvin),
            duv: temperature.duv,
            ra: rendering.ra,
            r9: rendering.special[8],
            rf: fidelity(&lamp).rf,
            adapted: !unadapted,
        };
        let adaptation = if unadapted {
            Adaptation::ToDisplay
        } else {
            Adaptation::ToLamp
        };
        Ok(Self {
            lamp,
            adaptation,
            facts,
        })
    }
}

fn measured(path: &Path) -> anyhow::Result<Lamp> {
    let could_not = |what: String| {
        Trouble::error(
            what,
            path.display(),
            "Give a CSV with two columns, wavelength in nm and relative power, 400 to 700 nm at least.",
        )
    };
    let text = std::fs::read_to_string(path)
        .map_err(|error| could_not(format!("the lamp could not be read: {error}")))?;
    let spectrum = Spectrum::lamp_from_csv(&text)
        .map_err(|error| could_not(format!("the spectrum of the lamp: {error}")))?;
    Ok(Lamp::Measured(spectrum))
}

impl std::fmt::Display for Facts {
    fn fmt(&self, out: &mut std::fmt::Formatter) -> std::fmt::Result {
        write!(out, "{}", self.name)?;
        match self.cct_k {
            Some(kelvin) => write!(out, ", {kelvin:.0} K, Duv {:+.4}", self.duv)?,
            None => write!(out, ", no colour temperature")?,
        }
        write!(
            out,
            ", Ra {:.0}, R9 {:.0}, Rf {:.0}; eye {}",
            self.ra,
            self.r9,
            self.rf,
            if self.adapted {
                "adapted to it (CAT16)"
            } else {
                "adapted to a D65 display"
            }
        )
    }
}
