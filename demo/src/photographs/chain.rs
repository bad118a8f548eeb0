//! The way from the photographs to layers, as commands.

use super::Plan;
use super::scene::RESTORED;
use std::fmt::Write;

/// Stands for the folder of the dossier in a command.
pub(crate) const DOSSIER: &str = "DOSSIER";

/// Folders that the commands write to.
pub(crate) const FOLDERS: [&str; 4] = ["made/colour", "made/poses", "made/uvl", "made/irr"];

/// One command a line, to be run in the folder of the photographs.
pub(crate) fn commands(plan: &Plan, size_px: usize) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |command: String| {
        let _ = writeln!(text, "ganosis {command}");
    };
    let field = "--flat photographs/c-flat.png --dark photographs/c-dark.png --encoding linear";
    line(format!(
        "chart photographs/c-chart.png --reference chart.csv {field} -o made/camera.json --report made/camera.html"
    ));
    line("bands flat.toml -o made/flat".to_owned());
    for name in plan.colour() {
        line(format!(
            "correct photographs/{name}.png --calibration made/camera.json {field} -o made/colour/{name}.tif"
        ));
    }
    for name in plan.grey() {
        for band in ["uvl", "irr"] {
            line(format!(
                "register made/flat/{name}-{band}/1.png --to made/flat/{name}-vis/1.png --kind similarity --encoding linear -o made/{band}/{name}-vis.tif"
            ));
        }
    }
    let (mut colour, mut grey) = (Vec::new(), Vec::new());
    for (names, lens, poses) in [
        (plan.colour(), "c", &mut colour),
        (
            plan.grey().map(|n| format!("{n}-vis")).collect(),
            "g",
            &mut grey,
        ),
    ] {
        for name in names {
            line(format!(
                "pose photographs/{name}.png --surface {DOSSIER}/surface.glb --points points/{name}.csv --lens lenses/{lens}.json -o made/poses/{name}.json"
            ));
            poses.push(format!("made/poses/{name}.json"));
        }
    }
    let drape = |poses: &[String], photos: &str, id: &str, rest: &str| {
        format!(
            "drape --dossier {DOSSIER} --poses {} --photos made/{photos} --id {id} {rest} --size {size_px} --leave-out {RESTORED}",
            poses.join(" ")
        )
    };
    line(drape(
        &colour,
        "colour",
        "photographed",
        "--title Photographed --state as-photographed",
    ));
    for (band, name) in [("uvl", "UVL"), ("irr", "IRR")] {
        let rest = format!("--band {name} --encoding linear");
        line(drape(&grey, band, &format!("photographed-{band}"), &rest));
    }
    line(format!("bands irfc.toml --dossier {DOSSIER}"));
    text
}

/// Flat field of the grey camera's photographs.
pub(crate) fn flat_recipe(plan: &Plan) -> String {
    let mut text = String::from("title = \"Flat field of the grey camera\"\n\n[inputs]\n");
    let mut steps = String::new();
    for name in ["g-flat".to_owned(), "g-dark".to_owned()] {
        let _ = writeln!(
            text,
            "{name} = {{ file = \"photographs/{name}.png\", encoding = \"linear\" }}"
        );
    }
    for name in plan.grey() {
        for band in ["vis", "uvl", "irr"] {
            let of = format!("{name}-{band}");
            let said = if band == "uvl" {
                ", band = \"UVL\""
            } else {
                ""
            };
            let _ = writeln!(
                text,
                "{of} = {{ file = \"photographs/{of}.png\", encoding = \"linear\"{said} }}"
            );
            let _ = write!(
                steps,
                "\n[[step]]\nmake = \"even-{of}\"\ndo = \"flat-field\"\nof = \"{of}\"\nflat = \"g-flat\"\ndark = \"g-dark\"\n\
                 \n[[output]]\nof = \"even-{of}\"\nid = \"{of}\"\nrange = [0.0, 1.0]\n"
            );
        }
    }
    text + &steps
}

/// Infrared false colour of the draped layers.
pub(crate) const IRFC_RECIPE: &str = r#"title = "Infrared false colour of the photographs"

[inputs]
colour = { layer = "photographed" }
infrared = { layer = "photographed-irr" }

[[step]]
make = "irfc"
do = "irfc"
infrared = "infrared"
red = "colour.red"
green = "colour.green"

[[output]]
of = "irfc"
id = "photographed-irfc"
title = "IRFC, from photographs"
"#;
