//! Band arithmetic against sums done by hand, formulas, and NumPy.
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use std::collections::BTreeMap;

use ganosis_imaging::bands::recipe::{Made, Recipe, Results};
use ganosis_imaging::bands::{Band, BandImage, Unit, arithmetic, components, regions};
use serde_json::{Value, json};

fn image(name: &str, unit: Unit, bands: &[(&str, &[f32])]) -> BandImage {
    BandImage {
        name: name.to_owned(),
        pages_px: vec![(bands[0].1.len(), 1)],
        unit,
        bands: bands
            .iter()
            .map(|(name, values)| Band {
                name: (*name).to_owned(),
                values: values.to_vec(),
            })
            .collect(),
        ultraviolet: false,
    }
}

fn grey(name: &str, values: &[f32]) -> BandImage {
    image(name, Unit::Relative, &[("value", values)])
}

fn cook(steps: Value, inputs: &[BandImage]) -> Result<Results, ganosis_imaging::ImagingError> {
    let names: BTreeMap<&str, Value> = inputs
        .iter()
        .map(|i| (i.name.as_str(), json!({})))
        .collect();
    let recipe = json!({"inputs": names, "step": steps, "output": []});
    let recipe: Recipe = serde_json::from_value(recipe).unwrap();
    recipe.run(inputs.iter().map(|i| (i.name.clone(), i.clone())).collect())
}

fn made(results: &Results, name: &str) -> BandImage {
    match results.get(name).unwrap().into_owned() {
        Made::Image(image) => image,
        Made::Regions(_) => panic!("{name} are regions"),
    }
}

fn close(got: &[f32], wanted: &[f32]) {
    assert_eq!(got.len(), wanted.len());
    for (g, w) in got.iter().zip(wanted) {
        let same = (g - w).abs() <= 1e-6 * w.abs().max(1.0) || (g.is_nan() && w.is_nan());
        assert!(same, "{got:?}, wanted {wanted:?}");
    }
}

#[test]
fn ambient_flat_and_dark_by_hand() {
    let inputs = [
        grey("s", &[0.5, 0.3, 0.2]),
        grey("off", &[0.1, 0.1, 0.3]),
        grey("r", &[0.9, 0.5, 0.1]),
        grey("d", &[0.1, 0.1, 0.1]),
    ];
    let steps = json!([
        {"make": "net", "do": "ambient", "of": "s", "lamp_off": "off"},
        {"make": "flat", "do": "flat-field", "of": "s", "flat": "r", "dark": "d"},
    ]);
    let results = cook(steps, &inputs).unwrap();
    // A value below 0 stays.
    close(&made(&results, "net").bands[0].values, &[0.4, 0.2, -0.1]);
    // R - D = 0.8 0.4 0, mean 0.4; (S - D) = 0.4 0.2 0.1; the last has no light to divide by.
    close(
        &made(&results, "flat").bands[0].values,
        &[0.2, 0.2, f32::NAN],
    );
}

#[test]
fn reflectance_by_one_and_by_three_standards_by_hand() {
    let inputs = [grey("v", &[0.8, 0.4, 0.1, 0.2])];
    let one = json!([{"make": "r", "do": "reflectance", "of": "v",
        "standards": [{"at_px": [0, 0, 1, 1], "percent": 96.0}]}]);
    let results = cook(one, &inputs).unwrap();
    let out = made(&results, "r");
    assert_eq!(out.unit, Unit::Percent);
    close(&out.bands[0].values, &[96.0, 48.0, 12.0, 24.0]);
    // Percent = 100 v + 5 exactly.
    let three = json!([{"make": "r", "do": "reflectance", "of": "v", "standards": [
        {"at_px": [0, 0, 1, 1], "percent": 85.0},
        {"at_px": [1, 0, 2, 1], "percent": 45.0},
        {"at_px": [2, 0, 3, 1], "percent": 15.0}]}]);
    let results = cook(three, &inputs).unwrap();
    close(
        &made(&results, "r").bands[0].values,
        &[85.0, 45.0, 15.0, 25.0],
    );
    assert!(
        results.findings["r"][0]["largest_residual_percent"]
            .as_f64()
            .unwrap()
            < 1e-4
    );
}

#[test]
fn reflectance_by_standards_in_another_picture_by_hand() {
    let inputs = [
        grey("v", &[0.8, 0.4]),
        grey("board", &[0.9, 0.9]),
        image(
            "colour",
            Unit::Relative,
            &[("red", &[0.9, 0.9]), ("green", &[0.9, 0.9])],
        ),
    ];
    let step = |shown: &str| {
        json!([{"make": "r", "do": "reflectance", "of": "v", "standards_in": shown,
            "standards": [{"at_px": [0, 0, 2, 1], "percent": 90.0}]}])
    };
    let results = cook(step("board"), &inputs).unwrap();
    // 90 % at 0.9.
    close(&made(&results, "r").bands[0].values, &[80.0, 40.0]);
    let error = cook(step("colour"), &inputs).unwrap_err().to_string();
    assert!(error.contains("says nothing of another"), "{error}");
}

#[test]
fn stray_light_by_hand_for_each_channel() {
    // Two standards; the third pixel luminesces 0.2 in red and nothing in green.
    let uvl = image(
        "uvl",
        Unit::Relative,
        &[
            ("red", &[0.08, 0.04, 0.25]),
            ("green", &[0.02, 0.01, 0.0125]),
        ],
    );
    let vis = image(
        "vis",
        Unit::Relative,
        &[("red", &[0.8, 0.4, 0.5]), ("green", &[0.8, 0.4, 0.5])],
    );
    let steps = json!([{"make": "net", "do": "stray", "of": "uvl", "reflected": "vis",
        "at_px": [[0, 0, 1, 1], [1, 0, 2, 1]], "sensor": [1.0, 0.5]}]);
    let results = cook(steps, &[uvl, vis]).unwrap();
    let out = made(&results, "net");
    close(&out.bands[0].values, &[0.0, 0.0, 0.2]);
    close(&out.bands[1].values, &[0.0, 0.0, 0.0]);
    let shares = results.findings["net"]["stray_shares"].clone();
    let shares: Vec<f64> = serde_json::from_value(shares).unwrap();
    assert!((shares[0] - 0.1).abs() < 1e-6 && (shares[1] - 0.025).abs() < 1e-6);
}

#[test]
fn stray_light_of_one_reflected_band_has_a_share_in_each_channel() {
    let uvl = image(
        "uvl",
        Unit::Relative,
        &[("red", &[0.08, 0.25]), ("green", &[0.02, 0.0125])],
    );
    let vis = grey("vis", &[0.8, 0.5]);
    let steps = json!([{"make": "net", "do": "stray", "of": "uvl", "reflected": "vis",
        "at_px": [[0, 0, 1, 1]]}]);
    let out = made(&cook(steps, &[uvl.clone(), vis]).unwrap(), "net");
    close(&out.bands[0].values, &[0.0, 0.2]);
    close(&out.bands[1].values, &[0.0, 0.0]);
    // Shares that do not belong to the bands are refused.
    let vis = grey("vis", &[0.8, 0.5]);
    for shares in [&[][..], &[0.1][..], &[0.1, f64::NAN][..]] {
        let error = arithmetic::without_stray("net", &uvl, &vis, shares).unwrap_err();
        assert!(error.what.contains("shares"), "{error}");
    }
}

#[test]
fn ratios_differences_and_their_units_by_hand() {
    let inputs = [grey("a", &[0.6, 0.2, 0.0]), grey("b", &[0.2, 0.4, 0.0])];
    let steps = json!([
        {"make": "d", "do": "difference", "of": "a", "less": "b"},
        {"make": "q", "do": "ratio", "of": "a", "to": "b"},
        {"make": "n", "do": "normalised-difference", "of": "a", "less": "b"},
    ]);
    let results = cook(steps, &inputs).unwrap();
    let (d, q, n) = (
        made(&results, "d"),
        made(&results, "q"),
        made(&results, "n"),
    );
    close(&d.bands[0].values, &[0.4, -0.2, 0.0]);
    close(&q.bands[0].values, &[3.0, 0.5, f32::NAN]);
    close(&n.bands[0].values, &[0.5, -1.0 / 3.0, f32::NAN]);
    assert_eq!(
        (d.unit, q.unit, n.unit),
        (Unit::Relative, Unit::Dimensionless, Unit::Dimensionless)
    );
    let percent = image("p", Unit::Percent, &[("value", &[1.0, 2.0, 3.0])]);
    let steps = json!([{"make": "x", "do": "difference", "of": "a", "less": "p"}]);
    let error = cook(steps, &[inputs[0].clone(), percent]).unwrap_err();
    assert!(
        error.what.contains('%') && error.place.contains('x'),
        "{error}"
    );
}

#[test]
fn infrared_false_colour_is_in_the_order_of_the_trade() {
    let irr = grey("irr", &[0.7]);
    let vis = image(
        "vis",
        Unit::Relative,
        &[("red", &[0.5]), ("green", &[0.3]), ("blue", &[0.1])],
    );
    let steps = json!([{"make": "irfc", "do": "irfc", "infrared": "irr", "red": "vis.red",
        "green": "vis.green"}]);
    let out = made(&cook(steps, &[irr, vis]).unwrap(), "irfc");
    let shown: Vec<(&str, f32)> = out
        .bands
        .iter()
        .map(|b| (b.name.as_str(), b.values[0]))
        .collect();
    assert_eq!(shown, [("red", 0.7), ("green", 0.5), ("blue", 0.3)]);
}

#[test]
fn principal_components_are_those_of_numpy() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../tests/reference/principal_components.json"
    );
    let table: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let bands: Vec<Vec<f32>> = serde_json::from_value(table["bands"].clone()).unwrap();
    let named: Vec<(String, &[f32])> = bands
        .iter()
        .enumerate()
        .map(|(i, b)| (format!("b{i}"), b.as_slice()))
        .collect();
    let named: Vec<(&str, &[f32])> = named.iter().map(|(n, b)| (n.as_str(), *b)).collect();
    let image = image("five", Unit::Percent, &named);
    let near = |got: f64, wanted: f64, what: &str| {
        assert!(
            (got - wanted).abs() < 1e-9 * wanted.abs().max(1.0),
            "{what}: {got}, wanted {wanted}"
        );
    };
    for (key, standardised) in [("covariance", false), ("correlation", true)] {
        let wanted = &table[key];
        let list =
            |field: &str| -> Vec<f64> { serde_json::from_value(wanted[field].clone()).unwrap() };
        let rows = |field: &str| -> Vec<Vec<f64>> {
            serde_json::from_value(wanted[field].clone()).unwrap()
        };
        let got = components::principal_components("pc", &image, standardised).unwrap();
        for (k, (variance, explained)) in
            list("variances").iter().zip(list("explained")).enumerate()
        {
            near(got.variances[k], *variance, "variance");
            near(got.explained[k], explained, "explained");
        }
        for (ours, theirs) in got.loadings.iter().zip(rows("loadings")) {
            for (o, t) in ours.iter().zip(theirs) {
                assert!((o - t).abs() < 1e-8, "{key}: loading {o}, wanted {t}");
            }
        }
        for (pixel, theirs) in rows("first_pixels").iter().enumerate() {
            for (band, t) in got.image.bands.iter().zip(theirs) {
                // Single precision of the images.
                assert!(
                    (f64::from(band.values[pixel]) - t).abs() < 1e-5,
                    "{key} {pixel}"
                );
            }
        }
    }
}

#[test]
fn the_spectral_angle_is_that_of_the_formula_and_forgets_brightness() {
    let three = image(
        "three",
        Unit::Percent,
        &[
            ("a", &[1.0, 10.0, 0.0, 0.0]),
            ("b", &[0.0, 10.0, 5.0, 0.0]),
            ("c", &[0.0, 0.0, 0.0, 0.0]),
        ],
    );
    let out = components::spectral_angle("angle", &three, &[2.0, 0.0, 0.0]).unwrap();
    assert_eq!(out.unit, Unit::Degrees);
    close(&out.bands[0].values, &[0.0, 45.0, 90.0, f32::NAN]);
    assert!(components::spectral_angle("angle", &three, &[1.0, 1.0]).is_err());
}

#[test]
fn regions_have_the_area_of_the_surface() {
    // A square of 0.3 m; the left third is lighter.
    let surface = scene::surface(vec![scene::square(0.3, 4)]);
    let mesh = scene::mesh(&surface, 400);
    let areas = mesh.texel_areas();
    let all: f64 = areas.iter().map(|a| f64::from(*a)).sum();
    assert!((all - 0.09).abs() < 0.09 * 0.002, "{all}");
    let mut values = vec![f32::NAN; 400 * 400];
    for (i, value) in values.iter_mut().enumerate() {
        // The chart lies between 0.05 and 0.95 of the sheet.
        if areas[i] > 0.0 {
            let u = ((i % 400) as f32 + 0.5) / 400.0;
            *value = if (u - 0.05) / 0.9 < 1.0 / 3.0 {
                0.8
            } else {
                0.2
            };
        }
    }
    let mut image = grey("v", &values);
    image.pages_px = vec![(400, 400)];
    let labels = regions::threshold(&image, 0.5, f64::INFINITY).unwrap();
    let cm2 = labels.areas_cm2(&areas).unwrap();
    assert!((cm2[1] - 300.0).abs() < 1.5, "{cm2:?}");
    // The same parts are found by likeness: the larger is 1.
    let groups = regions::gather(&image, 2, 5).unwrap();
    let cm2 = groups.labels.areas_cm2(&areas).unwrap();
    assert!(
        (cm2[1] - 600.0).abs() < 3.0 && (cm2[2] - 300.0).abs() < 1.5,
        "{cm2:?}"
    );
    assert!((groups.middles[0][0] - 0.2).abs() < 1e-6 && (groups.middles[1][0] - 0.8).abs() < 1e-6);
}

#[test]
fn bad_recipes_are_refused_with_the_place() {
    let a = grey("a", &[0.1, 0.2]);
    let other = grey("other", &[0.1, 0.2, 0.3]);
    let cases = [
        (
            json!([{"make": "x", "do": "ratio", "of": "a", "to": "nothing"}]),
            "nothing",
        ),
        (
            json!([{"make": "x", "do": "ratio", "of": "a", "to": "other"}]),
            "Register",
        ),
        (
            json!([{"make": "a", "do": "ratio", "of": "a", "to": "a"}]),
            "name",
        ),
        (
            json!([{"make": "x", "do": "ratio", "of": "a.red", "to": "a"}]),
            "no band",
        ),
        (
            json!([{"make": "x", "do": "reflectance", "of": "a",
                "standards": [{"at_px": [0, 0, 9, 1], "percent": 50.0}]}]),
            "box",
        ),
        (
            json!([{"make": "x", "do": "reflectance", "of": "a", "standards": [
                {"at_px": [0, 0, 1, 1], "percent": 90.0}, {"at_px": [1, 0, 2, 1], "percent": 10.0}]}]),
            "standards",
        ),
        (
            json!([{"make": "x", "do": "principal-components", "of": ["a"]}]),
            "two or more",
        ),
    ];
    for (steps, word) in cases {
        let error = cook(steps.clone(), &[a.clone(), other.clone()])
            .unwrap_err()
            .to_string();
        assert!(error.contains(word), "{steps}: {error}");
    }
    let misspelt = json!({"inputs": {}, "step": [{"make": "x", "do": "ratio", "of": "a", "too": "b"}],
        "output": []});
    let error = serde_json::from_value::<Recipe>(misspelt)
        .unwrap_err()
        .to_string();
    assert!(error.contains("too") && error.contains('x'), "{error}");
}
