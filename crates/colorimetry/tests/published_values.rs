//! The crate against published tables and independent computations (`tests/reference`).

use ganosis_colorimetry::adaptation::Method;
use ganosis_colorimetry::delta_e::Application94;
use ganosis_colorimetry::matrix::apply;
use ganosis_colorimetry::paint::{self, Layer, Saunderson};
use ganosis_colorimetry::xyz::{WHITE_D50, WHITE_D65};
use ganosis_colorimetry::*;

mod common;
use common::{Row, number, table};

fn numbers(row: &Row, columns: [&str; 3]) -> [f64; 3] {
    columns.map(|c| number(row, c))
}

fn lab(row: &Row) -> LabD50 {
    LabD50::from_array(numbers(row, ["L", "a", "b"]))
}

fn close(got: [f64; 3], want: [f64; 3], tolerance: f64, what: &str) {
    for i in 0..3 {
        let allowed = tolerance * want[i].abs().max(1.0);
        assert!(
            (got[i] - want[i]).abs() <= allowed,
            "{what}: got {got:?}, want {want:?}"
        );
    }
}

#[test]
fn delta_e_2000_gives_the_pairs_of_sharma_wu_dalal_2005() {
    let rows = table("ciede2000_sharma2005.csv");
    assert_eq!(rows.len(), 34);
    for row in rows {
        let one = LabD50::from_array(numbers(&row, ["L1", "a1", "b1"]));
        let two = LabD50::from_array(numbers(&row, ["L2", "a2", "b2"]));
        let want = number(&row, "dE00_published");
        for got in [delta_e_2000(one, two), delta_e_2000(two, one)] {
            let fits = (got - want).abs() <= 0.000_05;
            // Pair 14 is on the discontinuity of the mean hue: both values are right.
            let other = row["pair"] == "14" && (got - 4.7461).abs() <= 0.000_05;
            assert!(fits || other, "pair {}: {got} for {want}", row["pair"]);
        }
        let computed = number(&row, "dE00_computed");
        if row["pair"] != "14" {
            assert!(
                (delta_e_2000(one, two) - computed).abs() < 1e-8,
                "pair {}",
                row["pair"]
            );
        }
    }
}

#[test]
fn lab_reaches_the_display_as_css_color_4_has_it() {
    let rows = table("lab_to_display_examples.csv");
    assert_eq!(rows.len(), 29);
    for row in rows {
        let lab = lab(&row);
        let id = row["id"].as_str();
        close(
            lab.to_xyz_d50().to_array(),
            numbers(&row, ["X_d50", "Y_d50", "Z_d50"]),
            1e-8,
            id,
        );
        close(
            lab.to_xyz_d65().to_array(),
            numbers(&row, ["X_d65", "Y_d65", "Z_d65"]),
            1e-8,
            id,
        );
        close(
            lab.to_srgb().to_array(),
            numbers(&row, ["srgb_r", "srgb_g", "srgb_b"]),
            1e-8,
            id,
        );
        close(
            lab.to_p3().to_array(),
            numbers(&row, ["p3_r", "p3_g", "p3_b"]),
            1e-8,
            id,
        );
        close(
            LabD50::from(lab.to_srgb()).to_array(),
            lab.to_array(),
            1e-8,
            id,
        );
        close(
            LabD50::from(lab.to_oklab()).to_array(),
            lab.to_array(),
            1e-7,
            id,
        );
        if !row["srgb8"].is_empty() {
            let want: Vec<u8> = row["srgb8"]
                .split(' ')
                .map(|v| v.parse().expect("code"))
                .collect();
            assert_eq!(lab.to_srgb().to_u8().to_vec(), want, "{id}");
        }
        let shown = map_to_gamut::<Srgb>(lab);
        assert_eq!(
            shown.outside,
            row["srgb8"].is_empty(),
            "{id}: half a code is the limit"
        );
    }
}

#[test]
fn conversions_equal_colour_science_over_the_grid() {
    let rows = table("conversions_grid.csv");
    assert!(rows.len() >= 2000);
    let cat16 = Method::Cat16.matrix(WHITE_D50, WHITE_D65);
    let labs: Vec<LabD50> = rows.iter().map(lab).collect();
    for (i, row) in rows.iter().enumerate() {
        let lab = labs[i];
        let want = |name: &str| [0, 1, 2].map(|k| number(row, &format!("{name}_{k}")));
        let d65 = lab.to_xyz_d65();
        close(d65.to_array(), want("xyz_d65"), 1e-6, "XYZ D65");
        close(
            apply(&cat16, lab.to_xyz_d50().to_array()),
            want("cat16"),
            1e-6,
            "CAT16",
        );
        close(
            lab.to_linear::<Srgb>().to_array(),
            want("srgb_linear"),
            1e-6,
            "sRGB",
        );
        close(
            lab.to_linear::<P3>().to_array(),
            want("p3_linear"),
            1e-6,
            "P3",
        );
        close(
            lab.to_linear::<OpRgb>().to_array(),
            want("oprgb_linear"),
            1e-6,
            "opRGB",
        );
        close(
            lab.to_linear::<Rec2020>().to_array(),
            want("rec2020_linear"),
            1e-6,
            "2020",
        );
        close(
            lab.to_linear::<Romm>().to_array(),
            want("romm_linear"),
            1e-6,
            "ROMM",
        );
        let Oklab { l, a, b } = lab.to_oklab();
        close([l, a, b], want("oklab"), 1e-6, "Oklab");
        close(lab.to_srgb().to_array(), want("srgb"), 1e-6, "encoded sRGB");
        let far = labs[labs.len() - 1 - i];
        let other = LabD50::new(far.l, far.a * 0.7, far.b * 0.9);
        let relative = |got: f64, name: &str| {
            let want = number(row, name);
            assert!(
                (got - want).abs() <= 1e-6 * want.max(1.0),
                "{name} {i}: {got} for {want}"
            );
        };
        relative(delta_e_ab(lab, other), "de76");
        relative(delta_e_94(lab, other, Application94::GraphicArts), "de94");
        relative(delta_e_2000(lab, other), "de00");
    }
}

#[test]
fn paint_gives_the_kubelka_munk_examples() {
    let rows = table("km_examples.csv");
    let mut checked = 0;
    for row in &rows {
        let id = row["id"].as_str();
        let v = |c: &str| row[c].parse::<f64>().unwrap_or(0.0);
        let layer = Layer {
            absorption: v("K"),
            scattering: v("S"),
            thickness: v("X"),
        };
        let surface = Saunderson {
            k1: v("k1"),
            k2: v("k2"),
        };
        // The inverse problems lose digits: their inputs are printed to 12 decimals.
        let (got, tolerance) = if id.starts_with("ks_of") {
            (paint::absorption_ratio_from_reflectance(v("R")), 1e-9)
        } else if id.starts_with("rinf_of") {
            (
                paint::reflectance_from_absorption_ratio(v("K") / v("S")),
                1e-9,
            )
        } else if id.starts_with("layer_") || id.starts_with("pigment_") {
            let thickness = if id.starts_with("pigment_") {
                1.0
            } else {
                v("X")
            };
            (Layer { thickness, ..layer }.reflectance_over(v("Rg")), 1e-9)
        } else if id.starts_with("trans_") {
            (layer.transmittance(), 1e-9)
        } else if id.starts_with("opacity_rinf") {
            (layer.opacity(), 1e-9)
        } else if id.starts_with("opacity_c089") {
            (
                layer.reflectance_over(0.0) / layer.reflectance_over(0.89),
                1e-9,
            )
        } else if id.starts_with("sx_from") {
            (
                paint::scattering_power_from_black_backing(v("R"), v("Rg")),
                // What rounding R0 and R∞ to 12 decimals does to the logarithm.
                1e-9 + 1e-12 / (v("Rg") - v("R")) / (1.0 / v("Rg") - v("Rg")),
            )
        } else if id.starts_with("sx_two") {
            (paint::scattering_from_two_backings(v("R"), v("Rg")).1, 1e-9)
        } else if id.starts_with("kx_two") {
            (paint::scattering_from_two_backings(v("R"), v("Rg")).0, 1e-9)
        } else if id.starts_with("saunderson_inv") {
            (surface.inner(v("R")), 1e-9)
        } else if id.starts_with("saunderson_") {
            (surface.measured(v("R")), 1e-9)
        } else if id.starts_with("mix_single") {
            let mut out = [0.0];
            let shares = [v("X"), 1.0 - v("X")];
            paint::mix_reflectance(&[&[0.05], &[0.90]], &shares, &mut out).expect("a mixture");
            (out[0], 1e-9)
        } else if id.starts_with("mix_two") {
            (
                paint::reflectance_from_absorption_ratio(v("K") / v("S")),
                1e-9,
            )
        } else {
            continue;
        };
        let want = number(row, "result");
        assert!(
            (got - want).abs() <= tolerance * want.abs().max(1.0),
            "{id}: {got} for {want}"
        );
        checked += 1;
    }
    assert!(
        rows.len() - checked <= 3,
        "all but the glazes are checked: {checked}"
    );
    // Glaze: K and S of the two watercolours are in the rows of the pigments.
    for channel in ["r", "g", "b"] {
        let find = |id: String| rows.iter().find(|r| r["id"] == id).expect("row");
        let layer = |name: &str| {
            let row = find(format!("pigment_{name}_{channel}_over_white"));
            Layer {
                absorption: number(row, "K"),
                scattering: number(row, "S"),
                thickness: 1.0,
            }
        };
        let below = layer("cadmium_yellow").reflectance_over(1.0);
        let got = layer("french_ultramarine").reflectance_over(below);
        let row = find(format!(
            "glaze_ultramarine_on_cadmium_yellow_on_white_{channel}"
        ));
        assert!(
            (got - number(row, "result")).abs() < 1e-9,
            "glaze {channel}"
        );
    }
}

fn chart_spectrum(patch: &str) -> spectrum::Spectrum {
    let column = format!("p{:0>2}", patch);
    let rows = table("chart24_reflectance.csv");
    let row = |r: &Row| (0, number(r, "wavelength_nm"), number(r, &column));
    spectrum::Spectrum::from_rows(&rows.iter().map(row).collect::<Vec<_>>()).expect("a spectrum")
}

#[test]
fn chart_spectra_give_the_worked_lab_under_d50_and_d65() {
    let rows = table("spectra_to_lab_examples.csv");
    let mut worst: f64 = 0.0;
    for row in &rows {
        let name = if row["illuminant"] == "D50" {
            "D50"
        } else {
            "D65"
        };
        let lamp = name.parse::<Lamp>().expect("a lamp");
        let got = lamp.lab_of(&chart_spectrum(&row["patch"]), Observer::TwoDegree);
        worst = worst.max(delta_e_ab(LabD50::from_array(got), lab(row)));
    }
    assert_eq!(rows.len(), 96);
    // The two published weightings themselves differ by 0.0064.
    assert!(worst < 0.01, "{worst}");
}
