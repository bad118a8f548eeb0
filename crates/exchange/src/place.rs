//! A place on a surface as a fragment, and back.

use ganosis_dossier::document::Anchor;
use ganosis_dossier::gltf_json::percent_decoded;

use crate::names::encoded;

/// Names the syntax of [`place_of`] in `conformsTo` (section 4.2.1 of the
/// model asks for an IRI; a random UUID of ours).
pub const PLACE_SYNTAX: &str = "urn:uuid:5c9e6c3e-7201-4c9d-b1c9-c20ed88f596e";

/// The value of a `FragmentSelector`: fields with `=`, joined by `&`.
///
/// `sheet` is the name of the sheet, percent-encoded; `uv` two numbers by the
/// glTF convention; `position_m` three, metres in the coordinates of the
/// surface; `normal` three, the outward direction. Numbers are those of JSON,
/// with commas between. Fields may be missing and others may follow.
#[must_use]
pub fn place_of(anchor: &Anchor) -> String {
    let mut fields = Vec::new();
    if !anchor.sheet.is_empty() {
        fields.push(format!("sheet={}", encoded(&anchor.sheet, b"-._~")));
    }
    let mut numbers = |name: &str, values: Option<&[f64]>| {
        if let Some(values) = values {
            let values: Vec<String> = values.iter().map(f64::to_string).collect();
            fields.push(format!("{name}={}", values.join(",")));
        }
    };
    numbers("uv", anchor.uv.as_ref().map(<[f64; 2]>::as_slice));
    numbers(
        "position_m",
        anchor.position_m.as_ref().map(<[f64; 3]>::as_slice),
    );
    numbers("normal", anchor.normal.as_ref().map(<[f64; 3]>::as_slice));
    fields.join("&")
}

/// The place that a fragment names; `None` if it names none.
#[must_use]
pub fn anchor_of(fragment: &str) -> Option<Anchor> {
    let mut anchor = Anchor::default();
    for field in fragment.trim_start_matches('#').split('&') {
        let (name, value) = field.split_once('=')?;
        match name {
            "sheet" => anchor.sheet = percent_decoded(value),
            "uv" => anchor.uv = Some(numbers(value)?),
            "position_m" => anchor.position_m = Some(numbers(value)?),
            "normal" => anchor.normal = Some(numbers(value)?),
            _ => {}
        }
    }
    let placed = anchor.uv.is_some() || anchor.position_m.is_some();
    placed.then_some(anchor)
}

fn numbers<const N: usize>(text: &str) -> Option<[f64; N]> {
    let values: Vec<f64> = text
        .split(',')
        .map(|number| number.parse().ok().filter(|x: &f64| x.is_finite()))
        .collect::<Option<_>>()?;
    values.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_comes_back_to_the_last_bit() {
        for anchor in [
            Anchor {
                sheet: "crown & bill/é".to_owned(),
                uv: Some([0.1, 2.0 / 3.0]),
                position_m: Some([-1e-9, 0.123_456_789_012_345_68, 1e21]),
                normal: Some([0.0, 0.0, 1.0]),
                ..Default::default()
            },
            Anchor {
                position_m: Some([1.0, 2.0, 3.0]),
                ..Default::default()
            },
        ] {
            assert_eq!(anchor_of(&place_of(&anchor)).as_ref(), Some(&anchor));
        }
    }

    #[test]
    fn other_fragments_are_no_place() {
        for fragment in [
            "",
            "t=10,20",
            "xywh=1,1,1,1",
            "sheet=crown",
            "uv=0.1",
            "uv=0.1,0.2,0.3",
            "uv=a,b",
            "position_m=0,0,inf",
            "position_m=0,0,NaN",
            "uv",
        ] {
            assert_eq!(anchor_of(fragment), None, "{fragment}");
        }
        assert!(anchor_of("#uv=0,1&later=x").is_some());
    }
}
