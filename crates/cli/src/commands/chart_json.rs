//! The results of `ganosis chart` as JSON for other programs.

use std::io::{self, Write};
use std::path::Path;

use ganosis_imaging::agreement::Agreement;
use ganosis_imaging::calibration::Calibration;
use ganosis_imaging::characterisation::Characterisation;
use ganosis_imaging::chart::Summary;
use ganosis_imaging::tolerance::Judgement;
use serde::Serialize;

use super::chart::Examined;
use super::chart_text::verdict;

#[derive(Serialize)]
struct Output<'a> {
    photos: Vec<PhotoOutput<'a>>,
    agreements: Vec<AgreementOutput<'a>>,
    report: String,
}

#[derive(Serialize)]
struct PhotoOutput<'a> {
    photo: &'a str,
    calibration_file: String,
    references: Vec<ReferenceOutput<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<String>,
    patches: Vec<PatchOutput<'a>>,
    fit_delta_e_00: Summary,
    left_out_delta_e_00: Summary,
    abs_delta_l: Summary,
    abs_delta_c: Summary,
    white_balance_error_delta_ab: Option<f64>,
    tone_error_delta_l: Option<f64>,
    judgements: &'a [Judgement],
    calibration: &'a Calibration,
}

#[derive(Serialize)]
struct ReferenceOutput<'a> {
    reference: &'a str,
    model: String,
    fit_mean_delta_e_00: f64,
    left_out_mean_delta_e_00: f64,
}

#[derive(Serialize)]
struct PatchOutput<'a> {
    name: &'a str,
    used: bool,
    camera: [f64; 3],
    encoded: [f64; 3],
    asked_lab_d50: [f64; 3],
    got_lab_d50: [f64; 3],
    delta_e_00: f64,
    left_out_delta_e_00: Option<f64>,
    delta_l: f64,
    delta_c: f64,
}

#[derive(Serialize)]
struct AgreementOutput<'a> {
    photos: [&'a str; 2],
    delta_e_00: Summary,
    patches: Vec<PatchAgreement<'a>>,
}

#[derive(Serialize)]
struct PatchAgreement<'a> {
    name: &'a str,
    delta_e_00: f64,
}

/// Prints it.
pub(super) fn print(
    results: &[Examined],
    agreements: &[Agreement],
    report: &Path,
) -> io::Result<()> {
    let output = Output {
        photos: results.iter().map(photo).collect(),
        agreements: agreements.iter().map(|a| agreement(a, results)).collect(),
        report: report.display().to_string(),
    };
    let mut out = io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &output)?;
    writeln!(out)
}

fn photo(result: &Examined) -> PhotoOutput<'_> {
    let best = result.best();
    let a = &best.assessment;
    PhotoOutput {
        photo: &result.photo.name,
        calibration_file: result.written_to.display().to_string(),
        references: result
            .compared
            .iter()
            .map(|one| ReferenceOutput {
                reference: &one.reference.title,
                model: one.preferred().title(),
                fit_mean_delta_e_00: one.preferred().fit_mean(),
                left_out_mean_delta_e_00: one.preferred().left_out_mean(),
            })
            .collect(),
        verdict: (result.compared.len() > 1).then(|| verdict(&result.compared)),
        patches: patches(best),
        fit_delta_e_00: a.fit,
        left_out_delta_e_00: a.left_out,
        abs_delta_l: a.delta_l,
        abs_delta_c: a.delta_c,
        white_balance_error_delta_ab: a.worst_grey(|g| g.delta_ab),
        tone_error_delta_l: a.worst_grey(|g| g.delta_l.abs()),
        judgements: &result.judgements,
        calibration: &result.calibration,
    }
}

fn patches(best: &Characterisation) -> Vec<PatchOutput<'_>> {
    let results = best.assessment.patches.iter();
    results
        .zip(&best.reading.readings)
        .enumerate()
        .map(|(i, (patch, read))| PatchOutput {
            name: &patch.name,
            used: best.assessment.used.contains(&i),
            camera: read.camera.0,
            encoded: read.encoded,
            asked_lab_d50: [patch.asked.l, patch.asked.a, patch.asked.b],
            got_lab_d50: [patch.got.l, patch.got.a, patch.got.b],
            delta_e_00: patch.delta_e_00,
            left_out_delta_e_00: patch.left_out_delta_e_00,
            delta_l: patch.delta_l,
            delta_c: patch.delta_c,
        })
        .collect()
}

fn agreement<'a>(pair: &Agreement, results: &'a [Examined]) -> AgreementOutput<'a> {
    let names = &results[pair.photos[0]].best().reference.patches;
    AgreementOutput {
        photos: pair.photos.map(|i| results[i].photo.name.as_str()),
        delta_e_00: pair.delta_e_00,
        patches: pair
            .patches
            .iter()
            .map(|&(i, delta_e_00)| PatchAgreement {
                name: &names[i].name,
                delta_e_00,
            })
            .collect(),
    }
}
