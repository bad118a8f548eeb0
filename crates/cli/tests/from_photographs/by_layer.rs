//! Poses brought into agreement with a layer, against the cameras that took the photographs.

use std::process::Command;

use ganosis_imaging::pose::{Agreement, Pose, PosedPhoto, Poses};
use glam::{DMat3, DQuat, DVec3};
use serde_json::Value;

use crate::MADE;
use crate::poses::{off_px, truth};

/// A pose off by this: a tripod that was knocked.
fn knocked(pose: &Pose, turn_rad: [f64; 3], shift_m: [f64; 3]) -> Pose {
    let turn = DMat3::from_quat(DQuat::from_scaled_axis(turn_rad.into()));
    let rotation = DMat3::from_cols_array_2d(&pose.rotation).transpose();
    let turned = (turn * rotation).transpose().to_cols_array_2d();
    Pose {
        rotation: turned,
        translation_m: (DVec3::from(pose.translation_m) + DVec3::from(shift_m)).to_array(),
    }
}

/// What the command makes of a photograph from a start; nothing where it is not sure.
fn agreed(photo: &str, layer: &str, start: PosedPhoto) -> Option<(Agreement, PosedPhoto)> {
    let folder = tempfile::tempdir().unwrap();
    let (from, to) = (
        folder.path().join("start.json"),
        folder.path().join("out.json"),
    );
    std::fs::write(&from, Poses::new(Vec::new(), vec![start]).text()).unwrap();
    let dossier = MADE.dossier();
    let words = [
        "pose",
        photo,
        "--by-layer",
        layer,
        "--dossier",
        dossier.to_str().unwrap(),
    ];
    let rest = [
        "--start",
        from.to_str().unwrap(),
        "--without",
        "bill",
        "--encoding",
        "linear",
    ];
    let out = ["--json", "-o", to.to_str().unwrap()];
    let made = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .args([&words[..], &rest, &out].concat())
        .current_dir(MADE.photographs())
        .output()
        .unwrap();
    if made.status.code() == Some(2) {
        let why = String::from_utf8_lossy(&made.stderr);
        assert!(why.contains("it is not sure"), "{why}");
        assert!(!to.exists());
        return None;
    }
    let text = String::from_utf8(made.stdout).unwrap();
    let value: Value = serde_json::from_str(&text).unwrap();
    let agreement = serde_json::from_value(value["agreement"].clone()).unwrap();
    let poses = Poses::read(&std::fs::read_to_string(&to).unwrap(), "out").unwrap();
    Some((agreement, poses.photos[0].clone()))
}

/// Turns and shifts by which the starts are off: some ten pixels.
const KNOCKS: [([f64; 3], [f64; 3]); 3] = [
    ([0.016, -0.010, 0.02], [0.006, 0.003, -0.012]),
    ([-0.012, 0.014, -0.03], [-0.008, 0.006, 0.015]),
    ([0.008, 0.015, 0.012], [0.003, -0.010, 0.018]),
];

#[test]
fn a_knocked_pose_comes_back_by_a_layer_in_the_same_band_and_in_others() {
    let truth = truth();
    let mut refused = Vec::new();
    let mut knocks = KNOCKS.iter().cycle();
    let colours = (1..=8).map(|k| (format!("photographs/c{k}.png"), format!("c{k}.png")));
    let bands = ["vis", "uvl", "irr"];
    let greys = (1..=4).flat_map(|k| {
        bands.map(|band| {
            let file = format!("g{k}-{band}");
            (format!("made/flat/{file}/1.png"), format!("{file}.png"))
        })
    });
    for (photo, name) in colours.chain(greys) {
        let is = truth.of_photo(&name).unwrap();
        let &(turn, shift) = knocks.next().unwrap();
        let start = PosedPhoto {
            pose: knocked(&is.pose, turn, shift),
            ..is.clone()
        };
        let before = off_px(&start, is);
        let Some((agreement, found)) = agreed(&photo, "as-found-colour", start) else {
            println!("{name}: {before:.2} px off before, refused");
            refused.push(name);
            continue;
        };
        let after = off_px(&found, is);
        println!(
            "{name}: {before:.2} px off before, {after:.3} after; said to have moved {:.2}, sure to {:.3}, {} of {} squares, {} rounds",
            agreement.moved_rms_px,
            agreement.standard_error_px,
            agreement.agreeing,
            agreement.squares,
            agreement.rounds
        );
        assert!(after < 0.3, "{name}: {after}");
    }
    // What lies under the paint may share too few edges with it: then it is refused, and never wrong.
    assert!(refused.len() < 2, "{refused:?}");
    assert!(
        refused.iter().all(|name| name.contains("irr")),
        "{refused:?}"
    );
}
