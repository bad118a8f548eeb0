//! How the images came about.

use std::collections::BTreeSet;

use ganosis_dossier::document::{Layer, Origin, StateKind};

use super::Collector;
use crate::finding::{Measure, Place};
use crate::index::Index;
use crate::told::{Value, sentences};

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
        if photographs.contains(layer.id.as_str()) {
            photograph(index, layer, place, found);
        } else if layer.origin.is_none() {
            found.add(sentences::LAYER_WITHOUT_ORIGIN, place, [named(layer)]);
        }
    }
}

fn named(layer: &Layer) -> (&'static str, Value) {
    ("layer", Value::named(&layer.title, &layer.id))
}

fn photograph(index: &Index, layer: &Layer, place: Place, found: &mut Collector) {
    if !layer.origin.as_ref().is_some_and(is_characterised) {
        found.add(sentences::CAMERA_NOT_CHARACTERISED, place, [named(layer)]);
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
        let values = [
            named(layer),
            ("mean", Value::number(mean, 1)),
            (
                "limit",
                Value::number(limit, usize::from(limit.fract() != 0.0)),
            ),
        ];
        let measure = Measure::of(sentences::MEAN, mean, "ΔE00");
        found.add_measured(sentences::CAMERA_RESIDUAL, place, values, vec![measure]);
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
