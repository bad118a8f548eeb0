//! Reading back what [`super::to_usdz`] wrote: the text layer has one
//! statement a line, which is all that is understood here. A package of
//! another program is told to be one.

use std::collections::BTreeMap;

use ganosis_dossier::document::NARRATION_FIELD;
use ganosis_dossier::{Dossier, document_from_bytes};
use serde_json::{Value, json};

use super::{DOCUMENT, LOOKS, NARRATIONS, REDUCED, zip};
use crate::error::ImportError;
use crate::glb::to_glb;
use crate::solid::{Look, Mesh, Solid, told_reduced};
use crate::taken_in::{self, TakenIn};

/// The dossier that a package carries, with the files that it holds.
///
/// # Errors
/// [`ImportError`] if it is no such package or carries no dossier.
pub fn from_usdz(bytes: &[u8]) -> Result<TakenIn, ImportError> {
    let broken = |what: &str| ImportError::Unreadable(format!("the package is damaged: {what}"));
    let packed = zip::files(bytes)
        .ok_or_else(|| ImportError::Unreadable("this is not a whole USDZ package".to_owned()))?;
    let (_, layer) = packed.first().ok_or_else(|| broken("it is empty"))?;
    let layer = std::str::from_utf8(layer)
        .ok()
        .filter(|text| text.starts_with("#usda"))
        .ok_or(ImportError::NoDossier("this package"))?;
    let record = string_after(layer, &format!("string {DOCUMENT} = "))
        .ok_or(ImportError::NoDossier("this package"))?;
    let reading = document_from_bytes(record.as_bytes())
        .map_err(|e| ImportError::Unreadable(e.to_string()))?;
    let mut document = reading.document;
    let looks = string_after(layer, &format!("string {LOOKS} = ")).unwrap_or_default();
    let looks: Vec<Value> = serde_json::from_str(&looks).unwrap_or_default();
    let mut files = BTreeMap::new();
    let mut flats = Vec::new();
    for look in &looks {
        let layers = taken_in::strings(&look["layers"]);
        let Some(picture) = look["picture"].as_str().filter(|_| !layers.is_empty()) else {
            continue;
        };
        let (_, bytes) = packed
            .iter()
            .find(|(name, _)| name == picture)
            .ok_or_else(|| broken(&format!("{picture} is missing")))?;
        let end = picture.rsplit('.').next().unwrap_or("png");
        let sheet = look["sheet"].as_str().unwrap_or_default().to_owned();
        let flat = taken_in::Flat::new(layers, sheet, end, bytes)?;
        files.insert(flat.image.file.clone(), bytes.to_vec());
        flats.push(flat);
    }
    let mut solid = Solid::default();
    for part in layer.split("    def Mesh \"").skip(1) {
        let mut mesh = mesh(part).ok_or_else(|| broken("a mesh cannot be read"))?;
        let known = document.surface.sheets.iter().find(|s| s.id == mesh.sheet);
        let material = known.map_or(mesh.sheet.clone(), |s| s.material.clone());
        mesh.usual = match solid.looks.iter().position(|look| look.name == material) {
            Some(at) => at,
            None => {
                solid.looks.push(Look {
                    name: material,
                    picture: None,
                    colour: [1.0; 4],
                    double_sided: false,
                    layers: Vec::new(),
                    sheet: mesh.sheet.clone(),
                });
                solid.looks.len() - 1
            }
        };
        solid.meshes.push(mesh);
    }
    // The surface is written as any other; it has neither states nor pins.
    let bare = Dossier {
        id: document.id.clone(),
        rights: document.rights.clone(),
        ..Default::default()
    };
    let surface = to_glb(&bare, &solid).map_err(|e| ImportError::Unreadable(e.to_string()))?;
    "surface.glb".clone_into(&mut document.surface.file);
    files.insert("surface.glb".to_owned(), surface);
    let (mut document, mut lost) = taken_in::with_layers(document, flats);
    let reduced = string_after(layer, &format!("string {REDUCED} = ")).unwrap_or_default();
    let reduced: Value = serde_json::from_str(&reduced).unwrap_or_default();
    lost.extend(told_reduced(&reduced));
    let said = string_after(layer, &format!("string {NARRATIONS} = ")).unwrap_or_default();
    let said: Vec<Value> = serde_json::from_str(&said).unwrap_or_default();
    for (number, one) in said.iter().enumerate() {
        let word = |name: &str| one[name].as_str().unwrap_or_default();
        let view = document
            .views
            .iter_mut()
            .find(|view| view.id == word("view"));
        let spoken = packed.iter().find(|(name, _)| name == word("file"));
        let (Some(view), Some((name, bytes))) = (view, spoken) else {
            continue;
        };
        let end = taken_in::plain(name.rsplit('.').next().unwrap_or("mp3"));
        let path = format!("narration/{number}.{end}");
        let narration = json!({word("language"): {"audio": path}});
        view.other.insert(NARRATION_FIELD.to_owned(), narration);
        files.insert(path, bytes.to_vec());
        let what = format!("narration of view:{}", view.id);
        for line in lost.iter_mut().filter(|line| **line == what) {
            *line = format!("captions and other languages of the {what}");
        }
    }
    Ok(TakenIn {
        document,
        files,
        lost,
    })
}

/// The string of the text form that follows `before`.
fn string_after(text: &str, before: &str) -> Option<String> {
    let rest = text.split_once(before)?.1.strip_prefix('"')?;
    let mut out = String::new();
    let mut letters = rest.chars();
    loop {
        match letters.next()? {
            '"' => return Some(out),
            '\\' => out.push(match letters.next()? {
                'n' => '\n',
                'r' => '\r',
                't' => '\t',
                other => other,
            }),
            c => out.push(c),
        }
    }
}

fn mesh(text: &str) -> Option<Mesh> {
    let numbers = |before: &str| -> Option<Vec<f64>> {
        let rest = text.split_once(before)?.1;
        let list = rest.split_once(']')?.0;
        list.split([',', '(', ')', ' '])
            .filter(|word| !word.is_empty())
            .map(|word| word.parse().ok().filter(|x: &f64| x.is_finite()))
            .collect()
    };
    let triples = |before: &str| -> Option<Vec<[f32; 3]>> {
        let all = numbers(before)?;
        let exact = all.len().is_multiple_of(3);
        exact.then(|| {
            all.chunks_exact(3)
                .map(|c| [c[0] as f32, c[1] as f32, c[2] as f32])
                .collect()
        })
    };
    let positions = triples("point3f[] points = [")?;
    let normals = triples("normal3f[] normals = [")?;
    let uvs: Vec<[f32; 2]> = numbers("primvars:st = [")?
        .chunks_exact(2)
        .map(|c| [c[0] as f32, (1.0 - c[1]) as f32])
        .collect();
    let indices: Vec<u32> = numbers("int[] faceVertexIndices = [")?
        .into_iter()
        .map(|i| i as u32)
        .collect();
    let count = positions.len();
    let sound = normals.len() == count
        && uvs.len() == count
        && indices.len().is_multiple_of(3)
        && indices.iter().all(|i| (*i as usize) < count);
    sound.then_some(())?;
    Some(Mesh {
        name: string_after(text, "string name = ")?,
        sheet: string_after(text, "string sheet = ")?,
        positions,
        normals,
        uvs,
        indices,
        ..Mesh::default()
    })
}
