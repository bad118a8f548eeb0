//! How the images came about.

use std::collections::BTreeSet;

use ganosis_dossier::document::{Layer, Origin, StateKind};

use super::{Collector, named};
use crate::finding::{Measure, Place};
use crate::index::Index;

pub(super) fn check(index: &Index, found: &mut Collector) {
    let as_found = index
        .document
        .states
        .iter()
        .filter(|s| s.kind == StateKind::AsFound);
    let photographs: BTreeSet<&str> = as_found
        .flat_map(|state| index.colour_layers(state))
        .map(|layer| layer.id.as_str())
        .collect();
    for layer in &index.document.layers {
        let place = Place {
            layer: Some(layer.id.clone()),
            ..Place::default()
        };
        let name = named(&layer.title, &layer.id);
        if photographs.contains(layer.id.as_str()) {
            photograph(index, layer, place, &name, found);
        } else if layer.origin.is_none() {
            let message = format!("the layer {name} does not say how it was made");
            found.add("layer-without-origin", place, message);
        }
    }
}

fn photograph(index: &Index, layer: &Layer, place: Place, name: &str, found: &mut Collector) {
    if !layer.origin.as_ref().is_some_and(is_characterised) {
        let message = format!(
            "the layer {name} shows the object as found, and its origin names no calibration of the camera"
        );
        found.add("camera-not-characterised", place, message);
        return;
    }
    let limit = index.tables.tolerance("camera-mean");
    let calibration = layer
        .origin
        .as_ref()
        .and_then(|origin| origin.calibration.as_ref());
    if let Some(mean) = calibration
        .and_then(|c| c.mean_delta_e)
        .filter(|mean| *mean > limit)
    {
        let message = format!(
            "the camera of the layer {name} was characterised to a mean of ΔE00 {mean:.1}; the limit is {limit}"
        );
        let measure = Measure {
            name: "mean",
            value: mean,
            unit: "ΔE00",
        };
        found.add_measured("camera-residual", place, message, vec![measure]);
    }
}

/// By its own field, by a parameter, or by a calibration file among the inputs.
fn is_characterised(origin: &Origin) -> bool {
    let own = origin.calibration.as_ref();
    own.is_some_and(|c| !c.chart.is_empty() || !c.method.is_empty() || c.mean_delta_e.is_some())
        || origin
            .parameters
            .get("calibration")
            .is_some_and(|value| !value.is_null())
        || origin
            .inputs
            .iter()
            .any(|input| input.file.ends_with("calibration.json"))
}
