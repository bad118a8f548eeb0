//! Seen under another light: what the regions' claimed pigments make of a lamp.

use std::collections::BTreeMap;

use ganosis_colorimetry::adaptation::{Method, XYZ_D50_FROM_D65};
use ganosis_colorimetry::illuminant::Lamp;
use ganosis_colorimetry::matrix::{apply, diagonal, inverse, multiply};
use ganosis_colorimetry::observer::Observer;
use ganosis_colorimetry::paint::mix_reflectance;
use ganosis_colorimetry::relight::{Adaptation, REFERENCE_LAMP, metamers, see_under};
use ganosis_colorimetry::rgb::{RgbSpace, Srgb};
use ganosis_colorimetry::spectrum::Spectrum;
use ganosis_colorimetry::{LabD50, XyzD50};
use ganosis_dossier::document::{Claim, Dossier, State};
use ganosis_renderer::LampMatrix;
use serde_json::{Value, json};

/// Lamp chosen for the view.
#[derive(Clone, Debug, PartialEq)]
pub struct LampChoice {
    /// Its name as [`Lamp`] reads it.
    pub id: String,
    /// Shown as to an eye used to the lamp; else with the lamp's own tint.
    pub adapted: bool,
}

impl LampChoice {
    /// The lamp; none for a name that is not known.
    #[must_use]
    pub fn lamp(&self) -> Option<Lamp> {
        self.id.parse().ok()
    }

    fn adaptation(&self) -> Adaptation {
        if self.adapted {
            Adaptation::ToLamp
        } else {
            Adaptation::ToDisplay
        }
    }
}

/// Reflectance spectra of the palette, by the index of the entry.
pub type Spectra = BTreeMap<usize, Spectrum>;

fn palette_index(document: &Dossier, id: &str) -> Option<usize> {
    document.palette.iter().position(|p| p.id == id)
}

/// The reflectance that a claim speaks of: of its pigment, or of its mixture where every part has a
/// spectrum on one grid and a share (Kubelka-Munk, single constant).
fn claimed_spectrum(document: &Dossier, claim: &Claim, spectra: &Spectra) -> Option<Spectrum> {
    let of = |id: &str| spectra.get(&palette_index(document, id)?);
    if claim.mixture.is_empty() {
        return of(claim.pigment.as_deref()?).cloned();
    }
    let parts: Option<Vec<(&Spectrum, f64)>> = claim
        .mixture
        .iter()
        .map(|part| Some((of(&part.pigment)?, part.share?)))
        .collect();
    let parts = parts?;
    let (start, _, step) = parts.first()?.0.grid_nm();
    if parts
        .iter()
        .any(|(s, _)| s.grid_nm() != parts[0].0.grid_nm())
    {
        return None;
    }
    let values: Vec<&[f64]> = parts.iter().map(|(s, _)| s.values()).collect();
    let shares: Vec<f64> = parts.iter().map(|(_, share)| *share).collect();
    let mut mixed = vec![0.0; values[0].len()];
    mix_reflectance(&values, &shares, &mut mixed).ok()?;
    Spectrum::from_grid(start, step, mixed).ok()
}

/// The claim that speaks for a region in a state: the one of the greatest certainty.
#[must_use]
pub fn leading_claim<'a>(document: &'a Dossier, state: &State, region: &str) -> Option<&'a Claim> {
    document
        .claims
        .iter()
        .filter(|c| c.regions.iter().any(|r| r == region) && c.states.contains(&state.id))
        .max_by_key(|c| std::cmp::Reverse(crate::overlay::certainty_rank(&c.certainty)))
}

/// From linear sRGB as painted to linear sRGB under the lamp, so that the colour `reference`
/// becomes the colour `seen` and its neighbours follow: a scaling of the cone responses (Bradford).
fn matrix(reference: XyzD50, seen: XyzD50) -> LampMatrix {
    let cones = Method::Bradford.cone_from_xyz();
    let (from, to) = (
        apply(&cones, reference.to_array()),
        apply(&cones, seen.to_array()),
    );
    // Below this a response is noise of the tables (a thousandth of white).
    let scale = [0, 1, 2].map(|i| if from[i] > 1e-3 { to[i] / from[i] } else { 1.0 });
    let cones_from_srgb = multiply(&cones, &multiply(&XYZ_D50_FROM_D65, &Srgb::XYZ_FROM_LINEAR));
    let scaled = multiply(&diagonal(scale), &cones_from_srgb);
    multiply(&inverse(&cones_from_srgb), &scaled).map(|row| row.map(|v| v as f32))
}

/// Colours of a state under a lamp.
#[derive(Clone, Debug)]
pub struct StateUnderLamp {
    /// Where no pigment with a spectrum is claimed: only the lamp's white is known.
    pub otherwise: LampMatrix,
    /// By region number.
    pub regions: BTreeMap<u32, LampMatrix>,
    /// Ids of the regions whose colour was computed from a spectrum.
    pub computed: Vec<String>,
}

/// Computes them; none for a lamp that is not known.
#[must_use]
pub fn state_under(
    document: &Dossier,
    state: &State,
    spectra: &Spectra,
    choice: &LampChoice,
) -> Option<StateUnderLamp> {
    let lamp = choice.lamp()?;
    let observer = Observer::TwoDegree;
    let see = |spectrum: &Spectrum, lamp: &Lamp, adaptation| {
        see_under(spectrum, lamp, observer, adaptation)
            .shown
            .to_xyz_d50()
    };
    let pair = |spectrum: &Spectrum| {
        matrix(
            see(spectrum, &REFERENCE_LAMP, Adaptation::ToLamp),
            see(spectrum, &lamp, choice.adaptation()),
        )
    };
    // A perfect diffuser: 1 at 400 and 700 nm, and between.
    let white = Spectrum::from_grid(400.0, 20.0, vec![1.0; 16]).ok()?;
    let mut result = StateUnderLamp {
        otherwise: pair(&white),
        regions: BTreeMap::new(),
        computed: Vec::new(),
    };
    for region in &document.regions {
        let spectrum = leading_claim(document, state, &region.id)
            .and_then(|claim| claimed_spectrum(document, claim, spectra));
        if let Some(spectrum) = spectrum {
            result.regions.insert(region.number, pair(&spectrum));
            result.computed.push(region.id.clone());
        }
    }
    Some(result)
}

/// A colour through a lamp's matrix.
#[must_use]
pub fn lab_under(lamp: &LampMatrix, lab: LabD50) -> LabD50 {
    let light = ganosis_colorimetry::LinearSrgb::from(lab.to_xyz_d50()).to_array();
    let rows = lamp.map(|row| row.map(f64::from));
    LabD50::from(ganosis_colorimetry::LinearSrgb::from_array(apply(&rows, light)).to_xyz_d50())
}

/// Palette entries that match in daylight and part company under the lamp, as
/// `[{first, second, under_d50, under_lamp}]` with ids and CIEDE2000.
#[must_use]
pub fn mismatches(document: &Dossier, spectra: &Spectra, choice: &LampChoice) -> Value {
    let Some(lamp) = choice.lamp() else {
        return json!([]);
    };
    let (indices, list): (Vec<usize>, Vec<&Spectrum>) =
        spectra.iter().map(|(i, s)| (*i, s)).unzip();
    let id = |i: usize| document.palette[indices[i]].id.clone();
    metamers(&list, &lamp, Observer::TwoDegree)
        .iter()
        .map(|m| {
            json!({"first": id(m.first), "second": id(m.second),
                   "under_d50": m.under_d50, "under_lamp": m.under_lamp})
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ganosis_colorimetry::delta_e_2000;

    /// An edge at 580 nm, as iron oxides have it (invented values).
    fn red() -> Spectrum {
        let values = (0..41).map(|i| {
            let nm = 380.0 + 10.0 * f64::from(i);
            0.05 + 0.6 / (1.0 + (-(nm - 580.0) / 15.0).exp())
        });
        Spectrum::from_grid(380.0, 10.0, values.collect()).expect("a spectrum")
    }

    fn dossier() -> Dossier {
        serde_json::from_value(json!({
            "format": "ganosis-dossier/1", "id": "d",
            "surface": {"file": "s.glb"},
            "layers": [], "states": [{"id": "s", "kind": "hypothetical", "layers": []}],
            "regions": [{"id": "r", "number": 3}, {"id": "bare", "number": 4}],
            "palette": [{"id": "red", "spectrum": "red.csv"}],
            "claims": [{"id": "c", "regions": ["r"], "states": ["s"], "pigment": "red", "certainty": "measured"}]
        }))
        .expect("a dossier")
    }

    /// Against the sum of the spectrum itself (CIE 15:2018, section 7), which knows no matrix.
    #[test]
    fn the_claimed_colour_becomes_what_its_spectrum_says() {
        let document = dossier();
        let spectra = Spectra::from([(0, red())]);
        for (id, adapted) in [
            ("A", true),
            ("A", false),
            ("LED-B1", true),
            ("candle", false),
        ] {
            let choice = LampChoice {
                id: id.to_owned(),
                adapted,
            };
            let under =
                state_under(&document, &document.states[0], &spectra, &choice).expect("lamp");
            assert_eq!(under.computed, ["r"]);
            let lamp = choice.lamp().expect("lamp");
            let day = see_under(
                &red(),
                &REFERENCE_LAMP,
                Observer::TwoDegree,
                Adaptation::ToLamp,
            );
            let there = see_under(&red(), &lamp, Observer::TwoDegree, choice.adaptation());
            let off = delta_e_2000(lab_under(&under.regions[&3], day.shown), there.shown);
            assert!(off < 0.01, "{id}: {off}");
        }
    }

    /// Complete adaptation leaves a neutral surface neutral (CIE 248:2022).
    #[test]
    fn white_stays_white_to_the_adapted_eye_and_not_to_the_other() {
        let document = dossier();
        let choice = |adapted| LampChoice {
            id: "A".to_owned(),
            adapted,
        };
        let white = |adapted| {
            let under = state_under(
                &document,
                &document.states[0],
                &Spectra::new(),
                &choice(adapted),
            );
            lab_under(
                &under.expect("lamp").otherwise,
                LabD50::new(100.0, 0.0, 0.0),
            )
        };
        assert!(delta_e_2000(white(true), LabD50::new(100.0, 0.0, 0.0)) < 0.01);
        assert!(white(false).b > 30.0, "tungsten beside daylight is yellow");
    }
}
