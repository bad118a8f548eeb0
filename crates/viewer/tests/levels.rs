//! A surface in levels: which of them is fetched when.

use ganosis_testkit::mesh::square_glb;
use ganosis_viewer::app::App;
use serde_json::json;

/// Errors of the levels in mm: the first is off by metres, the second by a quarter of a pixel or less at
/// the size at which the square of 1 m is first seen, the third by nothing.
const ERRORS_MM: [f64; 3] = [4000.0, 0.5, 0.0];

fn app() -> App {
    let mut app = App::default();
    app.resize(800.0, 500.0, 1.0);
    let levels: Vec<_> = (1..=3)
        .map(|n| json!({"file": format!("surface/{n}.glb"), "triangles": n, "error_mm": ERRORS_MM[n - 1], "shift_mm": 0.0}))
        .collect();
    let document = json!({
        "format": "ganosis-dossier/1", "id": "square", "revision": 1, "title": "A square",
        "surface": {"file": "square.glb", "sheets": [{"id": "front", "material": "front"}], "levels": levels},
        "states": [{"id": "a", "kind": "hypothetical", "title": "a"}],
    });
    app.open("dossier.json", document.to_string().as_bytes())
        .expect("opens");
    app
}

fn wanted(app: &App) -> Vec<(String, String)> {
    let surfaces = app.wanted().into_iter().filter(|w| w.kind == "surface");
    surfaces.map(|w| (w.id, w.path.expect("a file"))).collect()
}

fn one(id: &str, file: &str) -> Vec<(String, String)> {
    vec![(id.to_owned(), file.to_owned())]
}

#[test]
fn the_coarsest_comes_first_and_then_what_the_picture_needs() {
    let mut app = app();
    let square = square_glb([0.0; 3]);
    assert_eq!(wanted(&app), one("surface", "surface/1.glb"));
    app.supply("surface", &square).expect("a surface");
    assert_eq!(app.level()["level"], 1);
    // Half a pixel is some millimetres here.
    assert_eq!(wanted(&app), one("surface:1", "surface/2.glb"));
    app.supply("surface:1", &square).expect("a level");
    assert_eq!(app.level()["level"], 2);
    assert!(wanted(&app).is_empty(), "{:?}", wanted(&app));
    // Twenty times as near, half a pixel is less than half a millimetre.
    let camera = app.view().expect("a view").to_value()["camera"].clone();
    let near = camera["distance_m"].as_f64().expect("a number") / 20.0;
    app.change_view(&json!({"camera": {"distance_m": near}}))
        .expect("nearer");
    assert_eq!(wanted(&app), one("surface:2", "surface/3.glb"));
}

#[test]
fn light_asks_for_the_finest() {
    let mut app = app();
    app.supply("surface", &square_glb([0.0; 3]))
        .expect("a surface");
    app.change_view(&json!({"light": {"mode": "raking"}}))
        .expect("light");
    assert_eq!(wanted(&app), one("surface:2", "surface/3.glb"));
}

#[test]
fn a_level_that_does_not_fit_leaves_what_is_there() {
    let mut app = app();
    app.supply("surface", &square_glb([0.0; 3]))
        .expect("a surface");
    let error = app.supply("surface:1", b"no mesh").expect_err("refused");
    assert_eq!(error.file, "surface/2.glb");
    app.fail("surface:1", &error.message);
    assert!(app.ready());
    assert_eq!(app.level()["level"], 1);
    assert_eq!(app.problems().last().expect("one").file, "surface/2.glb");
}
