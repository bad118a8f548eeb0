//! The text layer (the `usda` form of Universal Scene Description).

use std::collections::HashSet;
use std::fmt::Write as _;

use ganosis_dossier::Dossier;
use serde_json::json;

use super::{DOCUMENT, LOOKS, NARRATIONS, REDUCED};
use crate::names::titled;
use crate::site::licence_address;
use crate::solid::{Mesh, ROUGHNESS, Solid, upright};

/// Spoken words that go along.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Narration {
    /// Title of what it belongs to.
    pub title: String,
    /// Id of the view.
    pub view: String,
    /// BCP 47 tag of its language.
    pub language: String,
    /// Path in the package; of a kind that USDZ may hold: m4a, mp3 or wav.
    pub file: String,
    /// The file.
    pub bytes: Vec<u8>,
}

/// The whole layer. Writing to a `String` cannot fail.
pub(super) fn layer(
    document: &Dossier,
    solid: &Solid,
    pictures: &[String],
    narrations: &[Narration],
) -> String {
    let mut out = String::new();
    let language = document.language();
    let states: Vec<String> = identifiers(document.states.iter().map(|s| s.id.as_str()));
    let meshes = identifiers(solid.meshes.iter().map(|m| m.name.as_str()));
    let looks = identifiers(solid.looks.iter().map(|l| l.name.as_str()));
    let title = titled(&document.title, &document.id, language);
    let record = solid.looks.iter();
    let record = record.map(|l| json!({"sheet": l.sheet, "layers": l.layers, "picture": l.picture.map(|p| &pictures[p])}));
    let record: serde_json::Value = record.collect();
    let said = narrations.iter();
    let said = said.map(|n| json!({"view": n.view, "language": n.language, "file": n.file}));
    let said: serde_json::Value = said.collect();
    let reduced = solid.reduced.map_or_else(String::new, |reduced| {
        let record = quoted(&reduced.to_value().to_string());
        format!("        string {REDUCED} = {record}\n")
    });
    let rights = document.rights.as_ref().map_or_else(String::new, |rights| {
        format!(
            "{} {}",
            rights.credit.get(language),
            licence_address(&rights.licence)
        )
    });
    let _ = write!(
        out,
        "#usda 1.0\n(\n    customLayerData = {{\n        string copyright = {}\n        string {DOCUMENT} = {}\n        string {LOOKS} = {}\n        string {NARRATIONS} = {}\n{}    }}\n    \
         defaultPrim = \"Object\"\n    doc = {}\n    metersPerUnit = 1\n    upAxis = \"Y\"\n)\n\n",
        quoted(rights.trim()),
        quoted(&document.to_value().to_string()),
        quoted(&record.to_string()),
        quoted(&said.to_string()),
        reduced,
        quoted(document.description.get(language)),
    );
    let _ = write!(
        out,
        "def Xform \"Object\" (\n    displayName = {}\n    kind = \"component\"\n",
        quoted(title)
    );
    if let Some(first) = states.first() {
        let _ = write!(
            out,
            "    variants = {{\n        string state = \"{first}\"\n    }}\n    prepend variantSets = \"state\"\n"
        );
    }
    out.push_str(")\n{\n");
    turned(document, &mut out);
    for (name, mesh) in meshes.iter().zip(&solid.meshes) {
        geometry(name, mesh, solid, &looks, &mut out);
    }
    materials(solid, &looks, pictures, &mut out);
    places(document, solid, language, &mut out);
    spoken(narrations, &mut out);
    if !states.is_empty() {
        out.push_str("    variantSet \"state\" = {\n");
        for (index, (name, state)) in states.iter().zip(&document.states).enumerate() {
            let _ = write!(
                out,
                "        \"{name}\" (\n            customData = {{\n                string id = {}\n                string title = {}\n            }}\n        ) {{\n",
                quoted(&state.id),
                quoted(titled(&state.title, &state.id, language)),
            );
            for (mesh_name, mesh) in meshes.iter().zip(&solid.meshes) {
                let look = mesh.in_states.get(index).copied().flatten();
                let _ = writeln!(out, "            over \"{mesh_name}\"\n            {{");
                if let Some(look) = look.and_then(|look| looks.get(look)) {
                    let _ = writeln!(
                        out,
                        "                rel material:binding = </Object/Looks/{look}>"
                    );
                } else {
                    out.push_str("                token visibility = \"invisible\"\n");
                }
                out.push_str("            }\n");
            }
            out.push_str("        }\n");
        }
        out.push_str("    }\n");
    }
    out.push_str("}\n");
    out
}

/// A rotation, if the surface's own up is another one.
fn turned(document: &Dossier, out: &mut String) {
    let Some([r, u, f]) = upright(document) else {
        return;
    };
    // USD multiplies row vectors by matrices: the columns are right, up and front.
    let row = |k: usize| format!("({}, {}, {}, 0)", r[k], u[k], f[k]);
    let _ = write!(
        out,
        "    matrix4d xformOp:transform = ( {}, {}, {}, (0, 0, 0, 1) )\n    uniform token[] xformOpOrder = [\"xformOp:transform\"]\n\n",
        row(0),
        row(1),
        row(2)
    );
}

fn geometry(name: &str, mesh: &Mesh, solid: &Solid, looks: &[String], out: &mut String) {
    let fold = |start: f32, of: fn(f32, f32) -> f32| {
        let side = |k: usize| mesh.positions.iter().map(|p| p[k]).fold(start, of);
        [side(0), side(1), side(2)]
    };
    let low = fold(f32::INFINITY, f32::min);
    let high = fold(f32::NEG_INFINITY, f32::max);
    let double = solid
        .looks
        .get(mesh.usual)
        .is_some_and(|look| look.double_sided);
    let _ = write!(
        out,
        "    def Mesh \"{name}\" (\n        prepend apiSchemas = [\"MaterialBindingAPI\"]\n        customData = {{\n            string name = {}\n            string sheet = {}\n        }}\n    )\n    {{\n        \
         uniform bool doubleSided = {}\n        float3[] extent = [{}, {}]\n        int[] faceVertexCounts = [",
        quoted(&mesh.name),
        quoted(&mesh.sheet),
        u8::from(double),
        triple(low),
        triple(high),
    );
    joined(out, (0..mesh.indices.len() / 3).map(|_| "3"));
    out.push_str("]\n        int[] faceVertexIndices = [");
    joined(out, mesh.indices.iter());
    out.push_str("]\n");
    if mesh.in_states.is_empty()
        && let Some(look) = looks.get(mesh.usual)
    {
        let _ = writeln!(out, "        rel material:binding = </Object/Looks/{look}>");
    }
    out.push_str("        normal3f[] normals = [");
    joined(out, mesh.normals.iter().map(|n| triple(*n)));
    out.push_str(
        "] (\n            interpolation = \"vertex\"\n        )\n        point3f[] points = [",
    );
    joined(out, mesh.positions.iter().map(|p| triple(*p)));
    out.push_str("]\n        texCoord2f[] primvars:st = [");
    // In USD v = 0 is the bottom row of a picture.
    joined(
        out,
        mesh.uvs
            .iter()
            .map(|[u, v]| format!("({u}, {})", 1.0 - f64::from(*v))),
    );
    out.push_str("] (\n            interpolation = \"vertex\"\n        )\n        uniform token subdivisionScheme = \"none\"\n    }\n\n");
}

fn triple([x, y, z]: [f32; 3]) -> String {
    format!("({x}, {y}, {z})")
}

fn joined(out: &mut String, items: impl Iterator<Item = impl std::fmt::Display>) {
    for (i, item) in items.enumerate() {
        let _ = write!(out, "{}{item}", if i == 0 { "" } else { ", " });
    }
}

fn materials(solid: &Solid, names: &[String], pictures: &[String], out: &mut String) {
    out.push_str("    def Scope \"Looks\"\n    {\n");
    for (name, look) in names.iter().zip(&solid.looks) {
        let at = format!("/Object/Looks/{name}");
        let _ = write!(
            out,
            "        def Material \"{name}\"\n        {{\n            token outputs:surface.connect = <{at}/Surface.outputs:surface>\n\n            \
             def Shader \"Surface\"\n            {{\n                uniform token info:id = \"UsdPreviewSurface\"\n"
        );
        match look.picture {
            Some(_) => {
                let _ = writeln!(
                    out,
                    "                color3f inputs:diffuseColor.connect = <{at}/Picture.outputs:rgb>"
                );
            }
            None => {
                let [r, g, b, a] = look.colour;
                let _ = writeln!(
                    out,
                    "                color3f inputs:diffuseColor = ({r}, {g}, {b})"
                );
                if a < 1.0 {
                    let _ = writeln!(out, "                float inputs:opacity = {a}");
                }
            }
        }
        let _ = write!(
            out,
            "                float inputs:metallic = 0\n                float inputs:roughness = {ROUGHNESS}\n                token outputs:surface\n            }}\n"
        );
        if let Some(file) = look.picture.and_then(|picture| pictures.get(picture)) {
            let _ = write!(
                out,
                "\n            def Shader \"Place\"\n            {{\n                uniform token info:id = \"UsdPrimvarReader_float2\"\n                \
                 string inputs:varname = \"st\"\n                float2 outputs:result\n            }}\n\n            \
                 def Shader \"Picture\"\n            {{\n                uniform token info:id = \"UsdUVTexture\"\n                \
                 asset inputs:file = @{file}@\n                token inputs:sourceColorSpace = \"sRGB\"\n                \
                 float2 inputs:st.connect = <{at}/Place.outputs:result>\n                token inputs:wrapS = \"clamp\"\n                \
                 token inputs:wrapT = \"clamp\"\n                float3 outputs:rgb\n            }}\n"
            );
        }
        out.push_str("        }\n\n");
    }
    out.push_str("    }\n\n");
}

fn places(document: &Dossier, solid: &Solid, language: &str, out: &mut String) {
    let pins = document
        .pins
        .iter()
        .map(|pin| ("pin", &pin.id, &pin.title, &pin.text));
    let evidence = document.evidence.iter();
    let evidence = evidence.map(|item| ("evidence", &item.id, &item.title, &item.result));
    let all: Vec<_> = pins
        .chain(evidence)
        .filter_map(|(kind, id, title, text)| {
            let place = solid.places.get(&(kind, id.clone()))?;
            Some((kind, id, title, text, place))
        })
        .collect();
    if all.is_empty() {
        return;
    }
    let names = identifiers(all.iter().map(|(_, id, ..)| id.as_str()));
    out.push_str("    def Scope \"Pins\"\n    {\n");
    for (name, (kind, id, title, text, place)) in names.iter().zip(all) {
        let _ = write!(
            out,
            "        def Xform \"{name}\" (\n            displayName = {}\n            customData = {{\n                string id = {}\n                string kind = \"{kind}\"\n                string text = {}\n            }}\n        )\n        {{\n            \
             double3 xformOp:translate = ({}, {}, {})\n            uniform token[] xformOpOrder = [\"xformOp:translate\"]\n        }}\n\n",
            quoted(titled(title, id, language)),
            quoted(id),
            quoted(text.get(language)),
            place.x,
            place.y,
            place.z
        );
    }
    out.push_str("    }\n\n");
}

fn spoken(narrations: &[Narration], out: &mut String) {
    if narrations.is_empty() {
        return;
    }
    out.push_str("    def Scope \"Narration\"\n    {\n");
    for (i, narration) in narrations.iter().enumerate() {
        let _ = write!(
            out,
            "        def SpatialAudio \"n{i}\" (\n            displayName = {}\n        )\n        {{\n            uniform token auralMode = \"nonSpatial\"\n            \
             uniform asset filePath = @{}@\n            uniform token playbackMode = \"onceFromStart\"\n        }}\n\n",
            quoted(&narration.title),
            narration.file
        );
    }
    out.push_str("    }\n\n");
}

/// A string of the text form: quotation marks, backslashes and line breaks escaped.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// Names that prims may have (letters, digits and `_`, no digit first), all different.
fn identifiers<'a>(names: impl Iterator<Item = &'a str>) -> Vec<String> {
    let mut taken: HashSet<String> = ["Looks", "Pins", "Narration"].map(str::to_owned).into();
    names
        .map(|name| {
            let mut plain: String = name
                .chars()
                .map(|c| if c.is_ascii_alphanumeric() { c } else { '_' })
                .collect();
            if plain.is_empty() || plain.starts_with(|c: char| c.is_ascii_digit()) {
                plain.insert(0, '_');
            }
            let mut unique = plain.clone();
            let mut number = 2;
            while !taken.insert(unique.clone()) {
                unique = format!("{plain}_{number}");
                number += 1;
            }
            unique
        })
        .collect()
}
