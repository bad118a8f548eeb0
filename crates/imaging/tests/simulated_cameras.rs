//! Simulated cameras, where the truth is known: does the error of patches left out in turn say how far
//! colours will be off that the fit has never seen?
//!
//! Spectra: tests/reference (chart, observer, illuminants) and tests/samples/spectra (sensitivities of
//! one measured camera, 190 surfaces, five minerals), each with its source beside it.

#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::path::PathBuf;

use ganosis_colorimetry::{LabD50, XyzD50, delta_e_2000};
use ganosis_imaging::CameraRgb;
use ganosis_imaging::fit::{Candidate, Options, Sample, characterise};

/// Columns of a table over wavelength, on the grid of 380 to 780 nm in steps of 5 nm.
struct Spectra {
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
}

const GRID: usize = 81;

fn spectra(path: &str) -> Spectra {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests")
        .join(path);
    let text = std::fs::read_to_string(path).unwrap();
    let mut lines = text.lines().filter(|l| !l.starts_with('#'));
    let names: Vec<String> = lines
        .next()
        .unwrap()
        .split(',')
        .skip(1)
        .map(str::to_owned)
        .collect();
    let rows: Vec<Vec<f64>> = lines
        .map(|l| l.split(',').map(|f| f.parse().unwrap()).collect())
        .collect();
    let at = |column: usize, nm: f64| {
        let after = rows.iter().position(|r| r[0] >= nm).unwrap();
        let (a, b) = (&rows[after.saturating_sub(1)], &rows[after]);
        let part = if b[0] > a[0] {
            (nm - a[0]) / (b[0] - a[0])
        } else {
            0.0
        };
        a[column] + (b[column] - a[column]) * part
    };
    let columns = (1..=names.len())
        .map(|c| (0..GRID).map(|i| at(c, 380.0 + 5.0 * i as f64)).collect())
        .collect();
    Spectra { names, columns }
}

impl Spectra {
    fn column(&self, name: &str) -> &[f64] {
        let at = self.names.iter().position(|n| n == name).unwrap();
        &self.columns[at]
    }
}

fn sum(weights: &[f64], light: &[f64], reflectance: &[f64]) -> f64 {
    (0..GRID)
        .map(|i| weights[i] * light[i] * reflectance[i])
        .sum()
}

/// CIELAB D50 of a reflectance, divided by the white of the same sum.
fn lab(cie: &Spectra, reflectance: &[f64]) -> LabD50 {
    let white = LabD50::new(100.0, 0.0, 0.0).to_xyz_d50().to_array();
    let even = [1.0; GRID];
    let d50 = cie.column("D50");
    let names = ["xbar", "ybar", "zbar"];
    let xyz = [0, 1, 2].map(|c| {
        let bar = cie.column(names[c]);
        white[c] * sum(bar, d50, reflectance) / sum(bar, d50, &even)
    });
    XyzD50::from_array(xyz).into()
}

/// What a camera gives, exposed so that a perfect diffuser reaches 0.9 in green.
fn camera(sensitivities: &[Vec<f64>], light: &[f64], reflectance: &[f64]) -> CameraRgb {
    let scale = 0.9 / sum(&sensitivities[1], light, &[1.0; GRID]);
    CameraRgb([0, 1, 2].map(|c| scale * sum(&sensitivities[c], light, reflectance)))
}

/// The measured camera with each channel moved along the spectrum, nm.
fn moved(measured: &Spectra, shift_nm: [i32; 3]) -> Vec<Vec<f64>> {
    (0..3)
        .map(|c| {
            (0..GRID as i32)
                .map(|i| {
                    usize::try_from(i - shift_nm[c] / 5)
                        .ok()
                        .and_then(|k| measured.columns[c].get(k).copied())
                        .unwrap_or(0.0)
                })
                .collect()
        })
        .collect()
}

fn errors_over(candidate: &Candidate, unseen: &[Sample]) -> Vec<f64> {
    let error = |s: &Sample| delta_e_2000(s.target, candidate.model.predict_lab(s.camera));
    unseen.iter().map(error).collect()
}

fn mean_over(candidate: &Candidate, unseen: &[Sample]) -> f64 {
    errors_over(candidate, unseen).iter().sum::<f64>() / unseen.len() as f64
}

/// Where the chart foretells too little by more than a fifth, both under the coldest lamp and both two
/// standard errors off. The ratio of today is held, so that a change is seen.
const MISSES: [([i32; 3], &str, f64); 2] =
    [([0, 0, 0], "LED_B5", 0.76), ([-10, 5, 10], "LED_B5", 0.76)];

/// Student's t for 95 in 100 and 23 degrees of freedom (any table of it).
const T_95_OF_24: f64 = 2.069;

/// Draws for [`share_of_draws_off_by_a_fifth`].
const DRAWS: usize = 2000;

/// How often the mean over 24 of these errors, drawn at random, is off by more than a fifth: what a
/// chart of 24 patches could do at best, were it drawn from the very surfaces that are to be foretold.
fn share_of_draws_off_by_a_fifth(errors: &[f64]) -> f64 {
    let truth = errors.iter().sum::<f64>() / errors.len() as f64;
    // S. K. Park, K. W. Miller, Communications of the ACM 31(10), 1988.
    let mut state = 1u64;
    let mut draw = || {
        state = state * 16_807 % 2_147_483_647;
        errors[state as usize % errors.len()]
    };
    let off = (0..DRAWS).filter(|_| {
        let mean = (0..24).map(|_| draw()).sum::<f64>() / 24.0;
        (mean / truth - 1.0).abs() > 0.2
    });
    off.count() as f64 / DRAWS as f64
}

#[test]
fn patches_left_out_predict_the_error_of_unseen_surfaces_within_a_fifth() {
    let cie = spectra("reference/cie_spectra_5nm.csv");
    let chart = spectra("reference/chart24_reflectance.csv");
    let measured = spectra("samples/spectra/camera-npl.csv");
    let mut unseen = spectra("samples/spectra/training-190-patches.csv").columns;
    unseen.extend(spectra("samples/spectra/minerals-usgs-splib07.csv").columns);
    assert_eq!((chart.columns.len(), unseen.len()), (24, 195));
    let mut cameras = 0;
    let mut off_by_chance = 0.0;
    for shift in [[0, 0, 0], [10, 0, -5], [-10, 5, 10], [0, 15, 0]] {
        let sensitivities = moved(&measured, shift);
        for light in ["D50", "D65", "A", "LED_B3", "LED_B5", "LED_V2"] {
            let power = cie.column(light);
            let samples = |of: &[Vec<f64>]| -> Vec<Sample> {
                of.iter()
                    .map(|r| Sample {
                        camera: camera(&sensitivities, power, r),
                        target: lab(&cie, r),
                    })
                    .collect()
            };
            let (known, unknown) = (samples(&chart.columns), samples(&unseen));
            let grey = known[20].camera.0;
            let options = Options {
                white_balance: grey.map(|v| grey[1] / v),
                tone: false,
            };
            let tried = characterise(&known, &options).unwrap();
            let truths: Vec<f64> = tried.iter().map(|c| mean_over(c, &unknown)).collect();
            let preferred = &tried[0];
            let ratio = preferred.left_out_mean() / truths[0];
            let standard_error = preferred.left_out_standard_error();
            println!(
                "{shift:?} {light:6} {}: fit {:.2} left out {:.2} ± {standard_error:.2} \
                 truth {:.2} ratio {ratio:.2}",
                preferred.title(),
                preferred.fit_mean(),
                preferred.left_out_mean(),
                truths[0],
            );
            let off = (preferred.left_out_mean() - truths[0]).abs();
            assert!(
                off <= T_95_OF_24 * standard_error,
                "{shift:?} {light}: {off} is more than {standard_error} explains"
            );
            cameras += 1;
            off_by_chance += share_of_draws_off_by_a_fifth(&errors_over(preferred, &unknown));
            assert!(
                truths[0] <= truths[1],
                "{shift:?} {light}: the model preferred is not the better one"
            );
            let known_miss = MISSES.iter().find(|m| m.0 == shift && m.1 == light);
            match known_miss {
                Some(&(_, _, today)) => assert!((ratio - today).abs() < 0.02, "{ratio}"),
                None => assert!((0.8..=1.2).contains(&ratio), "{shift:?} {light}: {ratio}"),
            }
        }
    }
    let (missed, at_best) = (
        MISSES.len() as f64 / f64::from(cameras),
        off_by_chance / f64::from(cameras),
    );
    println!(
        "off by more than a fifth: {missed:.2} of the cameras; of charts drawn from the surfaces: {at_best:.2}"
    );
    assert!(
        missed < at_best,
        "24 patches could foretell better: {missed} {at_best}"
    );
}
