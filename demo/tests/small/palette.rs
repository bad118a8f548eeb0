//! The spectra of the palette against the colours that the palette gives.

use anyhow::{Context, Result};
use ganosis_colorimetry::delta_e_2000;
use ganosis_colorimetry::illuminant::{CieIlluminant, Lamp, lab_d50_of};
use ganosis_colorimetry::lab::LabD50;
use ganosis_colorimetry::observer::Observer;
use ganosis_colorimetry::spectrum::Spectrum;
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The palette with the spectra as a reader of the dossier finds them, by id.
static PALETTE: LazyLock<BTreeMap<String, (LabD50, Spectrum)>> =
    LazyLock::new(|| read().expect("the palette"));

fn read() -> Result<BTreeMap<String, (LabD50, Spectrum)>> {
    let dir = super::MADE.path();
    let document: Value = serde_json::from_slice(&std::fs::read(dir.join("dossier.json"))?)?;
    let mut palette = BTreeMap::new();
    for entry in document["palette"].as_array().context("palette")? {
        let file = entry["spectrum"].as_str().context("spectrum")?;
        let text = std::fs::read_to_string(dir.join(file))?;
        assert!(text.starts_with("# Invented"), "{file} does not say so");
        let lab: [f64; 3] = serde_json::from_value(entry["lab_d50"].clone())?;
        palette.insert(
            entry["id"].as_str().context("id")?.to_owned(),
            (
                LabD50::from_array(lab),
                Spectrum::reflectance_from_csv(&text)?,
            ),
        );
    }
    Ok(palette)
}

/// Colour under a lamp, the eye adapted to it.
fn lab_under(lamp: &Lamp, spectrum: &Spectrum) -> LabD50 {
    LabD50::from_array(lamp.lab_of(spectrum, Observer::TwoDegree))
}

/// Each spectrum under D50 for the 2 degree observer (CIE 15:2018) has the colour of its entry.
#[test]
fn every_spectrum_has_the_colour_of_its_entry() {
    assert!(PALETTE.len() >= 13, "{} entries", PALETTE.len());
    for (id, (lab, spectrum)) in PALETTE.iter() {
        assert_eq!(spectrum.grid_nm(), (380.0, 780.0, 10.0), "{id}");
        let off = delta_e_2000(*lab, lab_d50_of(spectrum));
        assert!(off < 0.05, "{id}: {off:.4} from the palette");
    }
}

/// General shapes of the kinds (common practice, no source): reds and yellows have one edge,
/// greens and blues a window, white is high and flat, black low and flat.
#[test]
fn the_curves_have_the_shape_of_their_kind() {
    let at = |id: &str, nm: f64| PALETTE[id].1.at(nm);
    let half = |id: &str| {
        let (low, high) = (at(id, 450.0), at(id, 740.0));
        (450..740)
            .find(|nm| at(id, f64::from(*nm)) > (low + high) / 2.0)
            .unwrap_or(0)
    };
    assert!((585..=610).contains(&half("vermilion")), "vermilion");
    assert!((470..=510).contains(&half("lead-tin-yellow")), "yellow");
    assert!((495..=560).contains(&half("gold-leaf")), "gold");
    for (id, window) in [
        ("azurite", 465.0),
        ("azurite-pale", 465.0),
        ("azurite-green", 500.0),
        ("verdigris", 515.0),
        ("verdigris-yellow", 540.0),
    ] {
        let beside = at(id, 400.0).max(at(id, 640.0));
        assert!(at(id, window) > 1.2 * beside, "{id}: no window");
    }
    assert!(at("lead-white", 500.0) > 0.75 && at("lead-white", 700.0) > 0.75);
    assert!((400..760).all(|nm| at("carbon-black", f64::from(nm)) < 0.06));
}

/// Two greens that no daylight parts, and lamps do: the two hypotheses for reeds and stalks.
#[test]
fn two_greens_match_by_day_and_part_under_lamps() {
    let (one, other) = (&PALETTE["verdigris-yellow"].1, &PALETTE["azurite-yellow"].1);
    let apart = |lamp: CieIlluminant| {
        let lamp = Lamp::Cie(lamp);
        delta_e_2000(lab_under(&lamp, one), lab_under(&lamp, other))
    };
    let [day, day_65, bulb, led] = [
        CieIlluminant::D50,
        CieIlluminant::D65,
        CieIlluminant::A,
        CieIlluminant::LedB3,
    ]
    .map(apart);
    assert!(
        day < 1.0 && day_65 < 1.0,
        "by day: {day:.2} and {day_65:.2}"
    );
    assert!(bulb > 2.0, "lamp A: {bulb:.2}");
    assert!(led > 2.0, "LED-B3: {led:.2}");
}
