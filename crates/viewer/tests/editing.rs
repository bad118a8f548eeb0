//! A document that changes under the picture, and places between surface and canvas.

use ganosis_testkit::mesh::square_glb;
use ganosis_viewer::app::App;
use serde_json::{Value, json};

fn document() -> Value {
    let state = |id: &str| json!({"id": id, "kind": "hypothetical", "title": id});
    let anchor =
        json!({"sheet": "front", "uv": [0.5, 0.5], "position_m": [3, 1, -2], "normal": [0, 0, 1]});
    json!({
        "format": "ganosis-dossier/1", "id": "square", "revision": 1, "title": "A square",
        "surface": {"file": "square.glb", "sheets": [{"id": "front", "material": "front"}]},
        "states": [state("a"), state("b"), state("c")],
        "regions": [{"id": "leaf", "number": 1, "title": "Leaf"}],
        "pins": [{"id": "here", "title": "Here", "anchor": anchor}],
    })
}

fn app() -> App {
    let mut app = App::default();
    app.resize(800.0, 500.0, 1.0);
    let document = document().to_string();
    app.open("dossier.json", document.as_bytes())
        .expect("opens");
    app.supply("surface", &square_glb([3.0, 1.0, -2.0]))
        .expect("a surface");
    app
}

fn view(app: &App) -> Value {
    app.view().expect("a view").to_value()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|n| n.as_f64().expect("a number")).collect()
}

#[test]
fn a_place_on_the_surface_is_projected_back_to_its_pixel() {
    let mut app = app();
    for azimuth_deg in [0.0, 25.0, -50.0] {
        let change =
            json!({"camera": {"azimuth_deg": azimuth_deg, "elevation_deg": 12}, "compare": "one"});
        app.change_view(&change).expect("changed");
        let projection = app.projection();
        let m = numbers(&projection["view_projection"]);
        let eye = numbers(&projection["eye"]);
        let [width, height] = [800.0, 500.0];
        assert_eq!(
            (projection["width"].as_f64(), projection["height"].as_f64()),
            (Some(width), Some(height))
        );
        for [x, y] in [[400.0, 250.0], [380.5, 200.25], [430.0, 290.0]] {
            let anchor = app.anchor_at(x, y);
            assert_eq!(anchor["sheet"], "front");
            let p = numbers(&anchor["position"]);
            assert!((p[2] + 2.0).abs() < 1e-6, "on the plane of the square");
            // Clip space of a column-major matrix; y points down on the screen.
            let row = |k: usize| m[k] * p[0] + m[4 + k] * p[1] + m[8 + k] * p[2] + m[12 + k];
            let at = [
                (row(0) / row(3) + 1.0) * 0.5 * width,
                (1.0 - row(1) / row(3)) * 0.5 * height,
            ];
            // Positions are f32 of some metres: 2e-7 m, less than a thousandth of a pixel here.
            assert!(
                (at[0] - x).hypot(at[1] - y) < 0.01,
                "{x}, {y} came back as {at:?}"
            );
            // w is the distance along the middle of the view, less than that from the eye.
            let away = (0..3).map(|k| (p[k] - eye[k]).powi(2)).sum::<f64>().sqrt();
            assert!(row(3) <= away * (1.0 + 1e-6) && row(3) > 0.5 * away);
        }
    }
    assert_eq!(app.anchor_at(1.0, 1.0), Value::Null);
}

#[test]
fn an_edited_document_keeps_the_view_as_far_as_it_can() {
    let mut app = app();
    let change = json!({"left": "b", "right": "c", "pin": "here", "region": "leaf", "camera": {"azimuth_deg": 33}});
    app.change_view(&change).expect("changed");
    let before = view(&app);
    let mut edited = document();
    edited["title"] = "Another".into();
    edited["claims"] =
        json!([{"id": "c-1", "regions": ["leaf"], "states": ["b"], "certainty": "conjectural"}]);
    app.replace_document(&edited.to_string()).expect("taken");
    assert_eq!(view(&app), before);
    assert_eq!(app.content().expect("open").document.claims.len(), 1);
    // What is no more is let go of.
    edited["pins"] = json!([]);
    edited["regions"] = json!([]);
    edited["states"].as_array_mut().expect("a list").remove(2);
    app.replace_document(&edited.to_string()).expect("taken");
    let after = view(&app);
    let found = ["left", "right", "pin", "region"].map(|field| after[field].clone());
    assert_eq!(found, [json!("b"), json!("a"), Value::Null, Value::Null]);
    assert_eq!(after["camera"], before["camera"]);
}

#[test]
fn a_document_of_another_surface_is_refused_and_changes_nothing() {
    let mut app = app();
    let before = app.content().expect("open").document.clone();
    let mut surface = document();
    surface["surface"]["file"] = "other.glb".into();
    let mut layers = document();
    let images = json!([{"sheet": "front", "file": "paint.png"}]);
    layers["layers"] =
        json!([{"id": "paint", "kind": "colour", "title": "Paint", "images": images}]);
    for wrong in [surface.to_string(), layers.to_string(), "{".to_owned()] {
        assert!(app.replace_document(&wrong).is_err());
        assert_eq!(app.content().expect("open").document, before);
    }
    // Without a device a map cannot be made, and a sheet that is not there has none.
    assert!(app.ensure_labels("front", [4, 4]).is_err());
    assert!(app.ensure_labels("back", [4, 4]).is_err());
}
