//! Reading back.

use std::collections::{BTreeMap, BTreeSet};

use ganosis_dossier::{Dossier, document_from_bytes, gltf_json};
use serde_json::{Value, json};

use super::EXTRAS;
use crate::error::ImportError;
use crate::solid::{ROUGHNESS, told_reduced};
use crate::taken_in::{self, TakenIn};

/// The dossier that a binary glTF carries, with the files that it holds: the
/// surface, and a layer for each of its pictures.
///
/// # Errors
/// [`ImportError`] if it is no such file or carries no dossier.
pub fn from_glb(bytes: &[u8]) -> Result<TakenIn, ImportError> {
    let unreadable =
        || ImportError::Unreadable("this is not a whole binary glTF 2.0 file".to_owned());
    let gltf = gltf_json::json_of(bytes).ok_or_else(unreadable)?;
    let bin = binary_chunk(bytes).ok_or_else(unreadable)?.to_vec();
    let ours = gltf["extras"][EXTRAS].clone();
    let record = &ours["document"];
    if !record.is_object() {
        return Err(ImportError::NoDossier("this file"));
    }
    let json = serde_json::to_vec(record).unwrap_or_default();
    let reading = document_from_bytes(&json).map_err(|e| ImportError::Unreadable(e.to_string()))?;
    let mut document = reading.document;
    let first_pin = ours["first_pin"]
        .as_u64()
        .and_then(|n| usize::try_from(n).ok());
    let first_pin = first_pin.ok_or_else(unreadable)?;
    let looks = ours["looks"].as_array().cloned().unwrap_or_default();
    let mut files = BTreeMap::new();
    let pictures = pictures(&gltf, &bin, &looks, &mut files)?;
    let surface = plain_surface(&gltf, &bin, &document, first_pin).ok_or_else(unreadable)?;
    "surface.glb".clone_into(&mut document.surface.file);
    files.insert("surface.glb".to_owned(), surface);
    let (document, mut lost) = taken_in::with_layers(document, pictures);
    lost.extend(told_reduced(&ours["reduced"]));
    Ok(TakenIn {
        document,
        files,
        lost,
    })
}

/// The second chunk (section 4.4.3).
fn binary_chunk(bytes: &[u8]) -> Option<&[u8]> {
    let word = |at: usize| {
        let four = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        usize::try_from(u32::from_le_bytes(four)).ok()
    };
    let start = 20usize.checked_add(word(12)?)?;
    if bytes.get(start + 4..start + 8)? != b"BIN\0" {
        return None;
    }
    let end = (start + 8).checked_add(word(start)?)?;
    bytes.get(start + 8..end)
}

fn part<'b>(gltf: &Value, bin: &'b [u8], view: &Value) -> Option<&'b [u8]> {
    let view = gltf["bufferViews"].get(usize::try_from(view.as_u64()?).ok()?)?;
    let number = |name: &str| usize::try_from(view[name].as_u64().unwrap_or(0)).ok();
    let start = number("byteOffset")?;
    bin.get(start..start.checked_add(number("byteLength")?)?)
}

/// Pictures that are layers, with the layers that each is made of.
fn pictures(
    gltf: &Value,
    bin: &[u8],
    looks: &[Value],
    files: &mut BTreeMap<String, Vec<u8>>,
) -> Result<Vec<taken_in::Flat>, ImportError> {
    let mut flats = Vec::new();
    for (look, material) in looks
        .iter()
        .zip(gltf["materials"].as_array().into_iter().flatten())
    {
        let layers = taken_in::strings(&look["layers"]);
        if layers.is_empty() {
            continue;
        }
        let texture = material["pbrMetallicRoughness"]["baseColorTexture"]["index"].as_u64();
        let image = texture
            .and_then(|i| gltf["textures"].get(usize::try_from(i).ok()?)?["source"].as_u64())
            .and_then(|i| gltf["images"].get(usize::try_from(i).ok()?));
        let bytes = image.and_then(|image| part(gltf, bin, &image["bufferView"]));
        let (Some(image), Some(bytes)) = (image, bytes) else {
            return Err(ImportError::Unreadable(format!(
                "the picture of the material {} is missing",
                material["name"]
            )));
        };
        let end = if image["mimeType"] == "image/png" {
            "png"
        } else {
            "jpg"
        };
        let sheet = look["sheet"].as_str().unwrap_or_default().to_owned();
        let flat = taken_in::Flat::new(layers, sheet, end, bytes)?;
        files.insert(flat.image.file.clone(), bytes.to_vec());
        flats.push(flat);
    }
    Ok(flats)
}

/// The meshes alone: pins, variants and pictures are elsewhere in a dossier.
fn plain_surface(
    gltf: &Value,
    bin: &[u8],
    document: &Dossier,
    first_pin: usize,
) -> Option<Vec<u8>> {
    let mut used = BTreeSet::new();
    let nodes = gltf["nodes"].as_array()?.get(..first_pin)?.to_vec();
    let mut meshes = gltf["meshes"].as_array()?.clone();
    let mut materials: Vec<Value> = Vec::new();
    let mut out_nodes = Vec::new();
    for node in &nodes {
        let mesh = usize::try_from(node["mesh"].as_u64()?).ok()?;
        let sheet = node["extras"][EXTRAS]["sheet"].as_str()?;
        let known = document.surface.sheets.iter().find(|s| s.id == sheet);
        let name = known.map_or(sheet, |s| s.material.as_str());
        let material = match materials.iter().position(|m| m["name"] == name) {
            Some(at) => at,
            None => {
                materials.push(json!({"name": name, "pbrMetallicRoughness": {"metallicFactor": 0.0, "roughnessFactor": ROUGHNESS}}));
                materials.len() - 1
            }
        };
        let primitive = meshes.get_mut(mesh)?.get_mut("primitives")?.get_mut(0)?;
        let fields = primitive.as_object_mut()?;
        fields.insert("material".to_owned(), material.into());
        fields.shift_remove("extensions");
        for accessor in primitive["attributes"]
            .as_object()?
            .values()
            .chain([&primitive["indices"]])
        {
            used.insert(usize::try_from(accessor.as_u64()?).ok()?);
        }
        out_nodes.push(json!({"name": node["name"], "mesh": mesh}));
    }
    // Only what the meshes use of the buffer.
    let mut bytes: Vec<u8> = Vec::new();
    let mut accessors = gltf["accessors"].as_array()?.clone();
    let mut views = Vec::new();
    for &index in &used {
        let accessor = accessors.get_mut(index)?;
        let data = part(gltf, bin, &accessor["bufferView"])?;
        let old =
            gltf["bufferViews"].get(usize::try_from(accessor["bufferView"].as_u64()?).ok()?)?;
        let mut view = old.clone();
        view.as_object_mut()?
            .insert("byteOffset".to_owned(), bytes.len().into());
        bytes.extend_from_slice(data);
        while !bytes.len().is_multiple_of(4) {
            bytes.push(0);
        }
        accessor
            .as_object_mut()?
            .insert("bufferView".to_owned(), views.len().into());
        views.push(view);
    }
    let place: BTreeMap<usize, usize> = used
        .iter()
        .enumerate()
        .map(|(to, from)| (*from, to))
        .collect();
    for mesh in &mut meshes {
        let primitive = mesh.get_mut("primitives")?.get_mut(0)?;
        for value in primitive["attributes"].as_object_mut()?.values_mut() {
            *value = (*place.get(&usize::try_from(value.as_u64()?).ok()?)?).into();
        }
        let index = usize::try_from(primitive["indices"].as_u64()?).ok()?;
        primitive
            .as_object_mut()?
            .insert("indices".to_owned(), (*place.get(&index)?).into());
    }
    let accessors: Vec<Value> = used.iter().map(|i| accessors[*i].clone()).collect();
    let out = json!({
        "asset": gltf["asset"], "scene": 0,
        "scenes": [{"nodes": (0..out_nodes.len()).collect::<Vec<_>>()}],
        "nodes": out_nodes, "meshes": meshes, "materials": materials,
        "accessors": accessors, "bufferViews": views, "buffers": [{"byteLength": bytes.len()}],
    });
    super::write::packed(&out, &bytes)
}
