//! Readings as CSV: X-ray fluorescence with the real line energies, and reflectance.

use crate::maths::exp;
use crate::noise::Random;
use ganosis_colorimetry::spectrum::Spectrum;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Emission lines: element, energy (keV), relative height. Energies as in the X-ray Data
/// Booklet (Lawrence Berkeley National Laboratory), table 1-2, written from memory; heights are
/// rounded and serve the picture only.
const LINES: [(&str, f32, f32); 24] = [
    ("K", 3.314, 1.0),
    ("Ca", 3.692, 1.0),
    ("Ca", 4.013, 0.13),
    ("Fe", 6.404, 1.0),
    ("Fe", 7.058, 0.14),
    ("Cu", 8.048, 1.0),
    ("Cu", 8.905, 0.15),
    ("Hg", 2.195, 0.12),
    ("Hg", 9.989, 1.0),
    ("Hg", 11.823, 0.75),
    ("Hg", 13.830, 0.13),
    ("Au", 2.123, 0.10),
    ("Au", 9.713, 1.0),
    ("Au", 11.442, 0.75),
    ("Au", 13.382, 0.12),
    ("Pb", 2.345, 0.12),
    ("Pb", 10.552, 1.0),
    ("Pb", 12.614, 0.80),
    ("Pb", 14.764, 0.13),
    ("Sn", 3.444, 0.20),
    ("Sn", 25.271, 1.0),
    ("Sn", 28.486, 0.20),
    ("Sr", 14.165, 1.0),
    ("Sr", 15.836, 0.18),
];
/// Tube lines that every spectrum shows (rhodium Kα and Kβ) and argon of the air.
const ALWAYS: [(f32, f32); 3] = [(20.216, 0.22), (22.724, 0.05), (2.957, 0.03)];

/// Counts of 0..40 keV in steps of 40 eV.
pub(crate) fn xrf(counts: &BTreeMap<String, f32>, random: &mut Random) -> String {
    let mut text = String::from(
        "# Invented X-ray fluorescence spectrum. Line energies: X-ray Data Booklet (LBNL), table 1-2.\nenergy_kev,counts\n",
    );
    for channel in 25..1000 {
        let energy = channel as f32 * 0.04;
        // A silicon drift detector resolves about 140 eV at 6 keV (common practice, no source).
        let sigma = 0.045 + 0.0022 * energy;
        let peak = |at: f32| exp(-0.5 * ((energy - at) / sigma) * ((energy - at) / sigma));
        let mut level = 60.0 * exp(-((energy - 15.0) / 9.0) * ((energy - 15.0) / 9.0)) + 4.0;
        for (element, at, height) in LINES {
            level += counts
                .get(element)
                .map_or(0.0, |c| c * height * 5200.0 * peak(at));
        }
        level += ALWAYS
            .iter()
            .map(|(at, h)| h * 2600.0 * peak(*at))
            .sum::<f32>();
        let noisy = (level + level.sqrt() * random.bell()).max(0.0).round();
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{energy:.2},{noisy}");
    }
    text
}

/// A reading of a paint, with the noise of the instrument: 400 to 780 nm in steps of 5 nm.
pub(crate) fn reflectance(paint: &Spectrum, random: &mut Random) -> String {
    let mut text =
        String::from("# Invented reflectance spectrum, 45/0.\nwavelength_nm,reflectance_factor\n");
    for step in 0..=76 {
        let nm = 400.0 + 5.0 * f64::from(step);
        let r = (paint.at(nm) + 0.003 * f64::from(random.bell())).max(0.0);
        let _ = writeln!(text, "{nm:.0},{r:.4}");
    }
    text
}
