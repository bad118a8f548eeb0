//! What is fetched before what else.

use ganosis_testkit::mesh::square_glb;
use ganosis_viewer::app::App;
use serde_json::json;

/// The layers whose images are still to come, the first first.
fn waited_for(app: &App) -> Vec<String> {
    let mut layers: Vec<String> = app.wanted().into_iter().filter_map(|w| w.layer).collect();
    layers.dedup();
    layers
}

/// Of many bands the one that somebody lays over everything does not wait for the others.
#[test]
fn the_band_over_everything_comes_right_after_what_it_lies_over() {
    let bands = ["vis", "uvl", "irr"];
    let layer = |id: &str, kind: &str| {
        json!({"id": id, "kind": kind, "title": id, "band": (kind == "band").then_some("X"),
            "images": [{"sheet": "front", "file": format!("{id}.png"), "width_px": 8, "height_px": 8}]})
    };
    let colours = ["left", "right", "other"];
    let layers: Vec<_> = bands
        .iter()
        .map(|id| layer(id, "band"))
        .chain(colours.iter().map(|id| layer(id, "colour")))
        .collect();
    let states: Vec<_> = colours
        .iter()
        .map(|id| json!({"id": format!("s-{id}"), "kind": "hypothetical", "title": id, "layers": [id]}))
        .collect();
    let document = json!({
        "format": "ganosis-dossier/1", "id": "square", "revision": 1, "title": "A square",
        "surface": {"file": "square.glb", "sheets": [{"id": "front", "material": "front"}]},
        "layers": layers, "states": states,
    });
    let mut app = App::default();
    app.resize(800.0, 500.0, 1.0);
    app.open("dossier.json", document.to_string().as_bytes())
        .expect("opens");
    app.supply("surface", &square_glb([0.0; 3]))
        .expect("a surface");
    app.change_view(&json!({"left": "s-left", "right": "s-right"}))
        .expect("a view");
    assert_eq!(
        waited_for(&app),
        ["left", "right", "other", "vis", "uvl", "irr"]
    );
    app.change_view(&json!({"over": "irr"})).expect("a view");
    assert_eq!(
        waited_for(&app),
        ["left", "irr", "right", "other", "vis", "uvl"]
    );
}
