//! Measuring on a square of one metre, by way of the desk.

use ganosis_desk::{Desk, DeskError, Measuring};
use ganosis_testkit::mesh::square_glb;
use serde_json::{Value, json};

fn desk() -> Desk {
    let document = json!({
        "format": "ganosis-dossier/1", "id": "square", "revision": 1, "title": "A square",
        "surface": {"file": "square.glb", "sheets": [{"id": "front", "material": "front"}]},
    });
    let files = |path: &str| match path {
        "square.glb" => Ok(square_glb([0.0; 3])),
        _ => Err(format!("{path} is not there")),
    };
    Desk::open(document.to_string().as_bytes(), Box::new(files)).expect("a dossier")
}

fn measure(desk: &mut Desk, kind: &str, places: &[[f64; 2]]) -> Result<Value, DeskError> {
    let places: Vec<Value> = places
        .iter()
        .map(|[x, y]| json!({"position": [x, y, 0.0], "normal": [0, 0, 1]}))
        .collect();
    let measuring = json!({"kind": kind, "places": places, "states": []});
    let measuring: Measuring = serde_json::from_value(measuring).expect("understood");
    desk.measure(&measuring)
}

fn near(got: &Value, exact: f64) {
    let got = got.as_f64().expect("a number");
    // Places arrive in single precision.
    assert!(
        (got - exact).abs() < 1e-6 * (10.0 + exact),
        "{got} for {exact}"
    );
}

#[test]
fn a_square_is_measured_as_it_is() {
    let mut desk = desk();
    assert_eq!(desk.needs("measure", None), ["square.glb"]);
    let distance = measure(&mut desk, "distance", &[[-0.3, -0.2], [0.3, 0.25]]).expect("measured");
    near(&distance["straight_m"], 0.75);
    near(&distance["surface_m"], 0.75);
    assert_eq!(distance["triangles"], 2);
    // 3, 4 and 5.
    let corner = [[0.4, 0.0], [0.0, 0.0], [0.0, 0.3]];
    let angle = measure(&mut desk, "angle", &corner).expect("measured");
    near(&angle["angle_deg"], 90.0);
    let enclosed = measure(&mut desk, "loop", &corner).expect("measured");
    near(&enclosed["perimeter_m"], 1.2);
    near(&enclosed["area_m2"], 0.06);
    let faces = measure(&mut desk, "normals", &[[0.4, 0.0], [-0.2, 0.1]]).expect("measured");
    near(&faces["angle_deg"], 0.0);
    let cut = measure(&mut desk, "profile", &[[-0.3, -0.2], [0.3, 0.25]]).expect("measured");
    let samples = cut["samples_m"].as_array().expect("samples");
    near(&samples[samples.len() - 1][0], 0.75);
    near(&cut["highest_m"], 0.0);
    assert_eq!(cut["whole"], true);
}

#[test]
fn what_cannot_be_measured_is_refused_with_a_reason() {
    let mut desk = desk();
    let refused = |desk: &mut Desk, kind: &str, places: &[[f64; 2]]| {
        measure(desk, kind, places).expect_err("refused").message
    };
    assert!(refused(&mut desk, "distance", &[[0.0, 0.0]]).contains("1 places"));
    assert!(refused(&mut desk, "distance", &[[0.0, 0.0], [3.0, 0.0]]).contains("no surface"));
    let same = [[0.1, 0.1], [0.1, 0.1], [0.2, 0.1]];
    assert!(refused(&mut desk, "angle", &same).contains("the same"));
    assert!(refused(&mut desk, "profile", &same[..2]).contains("one behind the other"));
}
