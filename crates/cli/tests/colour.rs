//! `ganosis colour` as it is run.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

struct Said {
    code: Option<i32>,
    out: String,
    err: String,
}

fn colour(arguments: &[&str]) -> Said {
    let output = Command::new(env!("CARGO_BIN_EXE_ganosis"))
        .arg("colour")
        .args(arguments)
        // A pipe is no terminal, whatever the variable says.
        .env("COLORTERM", "truecolor")
        .output()
        .unwrap();
    Said {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn json(arguments: &[&str]) -> Value {
    let said = colour(&[arguments, &["--json"]].concat());
    assert_eq!(said.code, Some(0), "{}", said.err);
    serde_json::from_str(&said.out).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// A file in a folder of its own.
fn file(name: &str, text: &str) -> (tempfile::TempDir, PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    std::fs::write(&path, text).unwrap();
    (dir, path)
}

fn refused(text: &str, parts: &[&str]) {
    let (_dir, path) = file("swatches.csv", text);
    let said = colour(&[path.to_str().unwrap()]);
    assert_eq!(said.code, Some(2), "{text}: {}", said.out);
    assert!(said.out.is_empty(), "{}", said.out);
    for part in parts.iter().chain(&["swatches.csv", "do:"]) {
        assert!(said.err.contains(part), "{part}: {}", said.err);
    }
}

fn reference(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/reference")
        .join(name)
}

#[test]
fn a_colour_is_converted_and_its_gamut_is_told() {
    // W3C Web Platform Tests, css/css-color/lab-001: this is #008000.
    let value = json(&["lab(46.277% -47.562 48.583)"]);
    let green = &value["colours"][0];
    assert_eq!(green["css"], "#008000");
    assert_eq!(
        (&green["outside_gamut"], &value["to"]),
        (&false.into(), &"srgb".into())
    );

    // The cyan of the 24-patch chart is outside sRGB and inside Display P3.
    let cyan = "lab(49.57 -29.71 -28.32)";
    let srgb = &json(&[cyan])["colours"][0];
    assert_eq!(srgb["outside_gamut"], true);
    assert!(number(&srgb["shown_off_delta_e_2000"]) > 0.5);
    let p3 = &json(&[cyan, "--to", "display-p3"])["colours"][0];
    assert_eq!(p3["outside_gamut"], false);
    assert!(p3["css"].as_str().unwrap().starts_with("color(display-p3 "));
    let lch = &json(&[cyan, "--to", "lch"])["colours"][0];
    assert!(lch["outside_gamut"].is_null());
    assert_eq!(lch["css"], "lch(49.57 41.05 223.63)");
}

#[test]
fn several_colours_are_compared_with_the_first() {
    // Sharma, Wu, Dalal 2005, table 1, pairs 1 and 2.
    let said = json(&[
        "lab(50 2.6772 -79.7751)",
        "lab(50 0 -82.7485)",
        "lab(50 2.6772 -79.7751)",
    ]);
    let differences: Vec<f64> = (said["colours"].as_array().unwrap().iter())
        .map(|c| number(&c["from_first_delta_e_2000"]))
        .collect();
    assert!((differences[1] - 2.0425).abs() < 5e-5, "{differences:?}");
    assert_eq!((differences[0], differences[2]), (0.0, 0.0));

    let table = colour(&["lab(50 2.6772 -79.7751)", "lab(50 0 -82.7485)"]);
    assert_eq!(table.code, Some(0));
    assert!(
        table.out.contains("ΔE00 from first") && table.out.contains("2.04"),
        "{}",
        table.out
    );
    assert!(!table.out.contains('\x1b'), "no swatch into a pipe");

    let csv = colour(&["lab(50 2.6772 -79.7751)", "#fff", "--csv"]).out;
    let mut rows = csv::Reader::from_reader(csv.as_bytes());
    let header = rows.headers().unwrap().clone();
    assert_eq!(
        header
            .iter()
            .filter(|h| *h == "from_first_delta_e_2000")
            .count(),
        1
    );
    assert_eq!(
        rows.records()
            .map(|r| r.unwrap()[0].to_owned())
            .collect::<Vec<_>>(),
        ["lab(50 2.6772 -79.7751)", "#fff"]
    );
}

#[test]
fn spectra_are_seen_under_another_light() {
    let chart = reference("chart24_reflectance.csv");
    let chart = chart.to_str().unwrap();
    let value = json(&[chart, "--light", "A", "--to", "display-p3"]);
    let colours = value["colours"].as_array().unwrap();
    assert_eq!(colours.len(), 24);
    // tests/reference/relight_examples.csv, computed by colour-science: patch 1 under A.
    let lab: Vec<f64> = colours[0]["lab_d50"]
        .as_array()
        .unwrap()
        .iter()
        .map(number)
        .collect();
    for (got, want) in lab.iter().zip([39.474, 16.481, 17.536]) {
        assert!((got - want).abs() < 0.05, "{lab:?}");
    }
    assert!((number(&value["light"]["cct_k"]) - 2856.0).abs() < 3.0);
    assert!((number(&value["light"]["ra"]) - 100.0).abs() < 0.1);
    let unadapted = json(&[chart, "--light", "A", "--unadapted"]);
    assert!(
        number(&unadapted["colours"][18]["lab_d50"][2]) > 30.0,
        "white is orange"
    );

    let by_day = json(&[chart]);
    assert!(by_day["light"].is_null() && by_day["colours"][0]["from_spectrum"] == true);
    let ten = json(&[chart, "--observer", "10"]);
    assert_ne!(
        ten["colours"][0]["lab_d50"],
        by_day["colours"][0]["lab_d50"]
    );

    let rows: String = (380..=780)
        .step_by(10)
        .map(|nm| format!("{nm},{}\n", nm - 300))
        .collect();
    let (_dir, lamp) = file("lamp.csv", &format!("nm,power\n{rows}"));
    let measured = json(&[chart, "--light", lamp.to_str().unwrap()]);
    assert!(number(&measured["light"]["cct_k"]) < 5000.0);
}

#[test]
fn pairs_that_match_only_by_day_are_named() {
    // Grey, and grey with four bell curves that X, Y and Z under D50 do not see: three factors follow
    // from the fourth by a 3×3 system, solved with the tables of colour-science.
    let wave = |nm: f64, centre: f64| (-0.5 * ((nm - centre) / 18.0).powi(2)).exp();
    let factors = [-0.102_618, 0.336_844, -0.196_624, 0.1];
    let mut text = String::from("wavelength_nm,smalt,azurite\n");
    for nm in (380..=780).step_by(5) {
        let bells = [450.0, 500.0, 550.0, 600.0].map(|c| wave(f64::from(nm), c));
        let sum: f64 = factors.iter().zip(bells).map(|(f, b)| f * b).sum();
        text += &format!("{nm},0.4,{:.5}\n", 0.4 + sum);
    }
    let (_dir, path) = file("pair.csv", &text);
    let path = path.to_str().unwrap();
    let by_day = number(&json(&[path])["colours"][1]["from_first_delta_e_2000"]);
    let value = json(&[path, "--light", "A"]);
    let by_lamp = number(&value["colours"][1]["from_first_delta_e_2000"]);
    let found = value["metamers"].as_array().unwrap().len();
    assert_eq!(
        found == 1,
        by_day <= 1.0 && by_lamp > 2.0,
        "{by_day} {by_lamp} {found}"
    );
    assert!(
        by_day <= 1.0 && by_lamp > 2.0,
        "the pair is one: {by_day} {by_lamp}"
    );
    let said = colour(&[path, "--light", "A"]).out;
    assert!(said.contains("metamers: smalt and azurite"), "{said}");
}

#[test]
fn files_of_every_shape_are_read() {
    let read = |text: &str| {
        let (_dir, path) = file("swatches.csv", text);
        let value = json(&[path.to_str().unwrap()]);
        (value["colours"].as_array().unwrap().iter())
            .map(|c| {
                (
                    c["name"].as_str().unwrap().to_owned(),
                    number(&c["lab_d50"][0]),
                )
            })
            .collect::<Vec<_>>()
    };
    let want = [("vermilion".to_owned(), 43.5), ("azurite".to_owned(), 38.2)];
    assert_eq!(
        read("# of 2025\nname,L,a,b\nvermilion,43.5,61,45\nazurite,38.2,-3.1,-33\n"),
        want
    );
    assert_eq!(
        read("name;L*;a*;b*\nvermilion;43,5;61;45\nazurite;38,2;-3,1;-33\n"),
        want
    );
    assert_eq!(
        read("pigment,colour\nvermilion,lab(43.5 61 45)\nazurite,\"lab(38.2 -3.1 -33)\"\n"),
        want
    );
    let heads: Vec<String> = (380..=780)
        .step_by(20)
        .map(|nm| format!("{nm} nm"))
        .collect();
    let row = |value: &str| vec![value; heads.len()].join("\t");
    let text = format!(
        "id\t{}\ngrey\t{}\nwhite\t{}\n",
        heads.join("\t"),
        row("0,5"),
        row("1,0")
    );
    let got = read(&text);
    // L* of Y = 0.5 is 116 cbrt(0.5) - 16.
    assert!(
        (got[0].1 - 76.0693).abs() < 1e-3 && (got[1].1 - 100.0).abs() < 1e-6,
        "{got:?}"
    );
    assert_eq!(got[0].0, "grey");
}

#[test]
fn a_palette_of_a_dossier_is_read() {
    let dir = tempfile::tempdir().unwrap();
    let rows: String = (380..=780)
        .step_by(10)
        .map(|nm| format!("{nm},0.5\n"))
        .collect();
    std::fs::write(dir.path().join("grey.csv"), format!("nm,R\n{rows}")).unwrap();
    let document = r#"{"format": "ganosis-dossier/1", "id": "boss", "revision": 1, "title": "Boss",
        "rights": {"licence": "CC0-1.0"}, "surface": {"file": "s.gltf"},
        "palette": [{"id": "grey", "title": "Grey", "spectrum": "grey.csv"},
                    {"id": "azurite", "title": "Azurite", "lab_d50": [38.2, -3.1, -33.0]}]}"#;
    std::fs::write(dir.path().join("dossier.json"), document).unwrap();
    let path = dir.path().to_str().unwrap();
    let value = json(&[path]);
    assert_eq!(value["colours"][1]["name"], "azurite");
    assert!((number(&value["colours"][0]["lab_d50"][0]) - 76.0693).abs() < 1e-3);
    let said = colour(&[path, "--light", "candle"]);
    assert!(
        said.code == Some(2) && said.err.contains("no spectrum"),
        "{}",
        said.err
    );
    assert!(said.err.contains("azurite"), "{}", said.err);
}

#[test]
fn what_cannot_be_read_is_said_and_exits_with_2() {
    for (arguments, parts) in [
        (
            &["lab(43.5 61)"][..],
            &["column 12", "lab(43.5 61)", "do:"][..],
        ),
        (&["vermillion"], &["vermillion", "do:"]),
        (&["nowhere.csv"], &["nowhere.csv", "do:"]),
        (&["#fff", "--light", "A"], &["no spectrum", "#fff"]),
        (&["#fff", "--light", "LED-B9"], &["LED-B9", "LED-B3", "do:"]),
        (&["#fff", "--light", "90000K"], &["90000 K"]),
        (&["#fff", "--to", "cmyk"], &["display-p3"]),
        (&["#fff", "--unadapted"], &["--light"]),
        (&[], &["COLOUR"]),
    ] {
        let said = colour(arguments);
        assert_eq!(said.code, Some(2), "{arguments:?}: {}", said.err);
        for part in parts {
            assert!(
                said.err.contains(part),
                "{arguments:?} {part}: {}",
                said.err
            );
        }
    }
    refused("name,L,a,b\nvermilion,43.5,x,45\n", &["line 2", "column a"]);
    refused("name,L,a,b\nvermilion,NaN,1,45\n", &["line 2", "column L"]);
    refused(
        "name,L,a,b\nvermilion,435,61,45\n",
        &["line 2", "L* of 435"],
    );
    refused("name,L,a,b\none,0.4,0.1,0.2\ntwo,0.5,0,0\n", &["fraction"]);
    refused("name,colour\nvermilion,lab(43\n", &["line 2", "column"]);
    refused("name,size\nvermilion,4\n", &["tells neither"]);
    refused("", &["no rows"]);
    refused("name,L,a,b\n", &["no rows"]);
    let spectrum = |f: &dyn Fn(usize) -> String| {
        let rows: String = (380..=780)
            .step_by(10)
            .map(|nm| format!("{nm},{}\n", f(nm)))
            .collect();
        format!("wavelength_nm,azurite\n{rows}")
    };
    refused(&spectrum(&|_| "40".into()), &["azurite", "percent"]);
    refused(&spectrum(&|_| "0,4".into()), &["line 2", "semicolon"]);
    refused(
        &spectrum(&|nm| {
            if nm == 500 {
                String::new()
            } else {
                "0.4".into()
            }
        }),
        &["line 14"],
    );
    refused(
        &spectrum(&|_| "0.4".into()).replace("500,0.4\n", ""),
        &["gap"],
    );
    let path = tempfile::tempdir().unwrap().path().join("image.csv");
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(&path, [0x89, b'P', 0xff, 0]).unwrap();
    let said = colour(&[path.to_str().unwrap()]);
    assert!(
        said.code == Some(2) && said.err.contains("UTF-8"),
        "{}",
        said.err
    );
}
