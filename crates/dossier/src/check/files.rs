//! Files: there, readable, of the size and depth that the document states.

use std::collections::HashSet;
use std::io::Cursor;

use image::{ExtendedColorType, ImageDecoder, ImageReader, Limits};
use serde_json::Value;

use super::Findings;
use crate::document::{Dossier, FILE_NAME, LayerImage, LayerKind};
use crate::finding::Severity;
use crate::gltf_json;
use crate::store::{Store, StoreError};

/// Memory that decoding one label image may take: 16384 x 16384 texels of 16
/// bit are 512 MiB, and the decoder needs a second copy.
const DECODER_BYTES: u64 = 2 << 30;

pub(super) fn check(document: &Dossier, store: &dyn Store, found: &mut Findings) {
    check_surface(document, store, found);
    check_levels(document, store, found);
    for (l, layer) in document.layers.iter().enumerate() {
        for (i, image) in layer.images.iter().enumerate() {
            let path = format!("$.layers[{l}].images[{i}]");
            if let Some(bytes) = fetch(store, &format!("{path}.file"), &image.file, found) {
                check_layer_image(&path, image, &layer.kind, &bytes, found);
            }
            if let Some(tiles) = &image.tiles {
                there(store, &format!("{path}.tiles.index"), &tiles.index, found);
            }
        }
    }
    check_regions(document, store, found);
    for (e, item) in document.evidence.iter().enumerate() {
        for (a, attachment) in item.attachments.iter().enumerate() {
            there(
                store,
                &format!("$.evidence[{e}].attachments[{a}].file"),
                &attachment.file,
                found,
            );
        }
    }
    for (p, entry) in document.palette.iter().enumerate() {
        if let Some(spectrum) = &entry.spectrum {
            there(store, &format!("$.palette[{p}].spectrum"), spectrum, found);
        }
    }
    for (v, saved) in document.views.iter().enumerate() {
        for (tag, field, file) in saved.recordings() {
            let path = format!("$.views[{v}].narration[{tag:?}].{field}");
            there(store, &path, file, found);
        }
    }
}

/// Reports the files that only `after` names and that are not there.
pub(super) fn check_new(
    before: &Dossier,
    after: &Dossier,
    store: &dyn Store,
    found: &mut Findings,
) {
    let known: HashSet<&str> = before
        .named_files()
        .into_iter()
        .map(|(_, file)| file)
        .collect();
    for (path, file) in after.named_files() {
        if !known.contains(file) {
            there(store, &path, file, found);
        }
    }
}

/// True if the file is there; reports it otherwise.
fn there(store: &dyn Store, path: &str, file: &str, found: &mut Findings) -> bool {
    match store.size(file) {
        Ok(_) => true,
        Err(error) => {
            report(&error, path, found);
            false
        }
    }
}

fn fetch(store: &dyn Store, path: &str, file: &str, found: &mut Findings) -> Option<Vec<u8>> {
    store
        .read(file)
        .map_err(|error| report(&error, path, found))
        .ok()
}

fn report(error: &StoreError, path: &str, found: &mut Findings) {
    let (rule, message, advice) = match error {
        StoreError::NotFound { path } => (
            "missing-file",
            format!("the file {path} is not there"),
            "Put the file there or correct the path; capitals count.",
        ),
        StoreError::BadPath { .. } => (
            "bad-path",
            error.to_string(),
            "Use a relative path inside the dossier.",
        ),
        StoreError::Refused { .. } => ("refused-file", error.to_string(), "Replace the file."),
        StoreError::Unreadable { .. } => (
            "unreadable-file",
            error.to_string(),
            "Make or copy the file again.",
        ),
    };
    found.error(rule, path, message, advice);
}

fn check_surface(document: &Dossier, store: &dyn Store, found: &mut Findings) {
    let file = &document.surface.file;
    if file.is_empty() {
        let message = "no surface is given".to_owned();
        found.error(
            "missing-file",
            "$.surface.file",
            message,
            "Name a .glb or .gltf file.",
        );
        return;
    }
    let Some(bytes) = fetch(store, "$.surface.file", file, found) else {
        return;
    };
    let Some(gltf) = gltf_json::json_of(&bytes) else {
        let message = format!("{file} is not a glTF 2.0 file");
        found.add(
            "unreadable-surface",
            Severity::Error,
            file,
            "$.surface.file",
            message,
            "Export the surface again as .glb.",
        );
        return;
    };
    check_outside_files(&gltf, file, "$.surface.file", store, found);
    for (i, sheet) in document.surface.sheets.iter().enumerate() {
        if !gltf_json::names(&gltf, "materials").any(|name| name == sheet.material) {
            let message = format!("{file} has no material named \"{}\"", sheet.material);
            let names: Vec<&str> = gltf_json::names(&gltf, "materials").take(8).collect();
            found.error(
                "unknown-material",
                format!("$.surface.sheets[{i}].material"),
                message,
                &format!(
                    "Use the name of a material of the surface: {}.",
                    names.join(", ")
                ),
            );
        }
    }
    for (i, part) in document.surface.parts.iter().enumerate() {
        if !gltf_json::names(&gltf, "nodes").any(|name| name == part.node) {
            let message = format!("{file} has no node named \"{}\"", part.node);
            found.error(
                "unknown-node",
                format!("$.surface.parts[{i}].node"),
                message,
                "Use the name of a node of the surface.",
            );
        }
    }
}

/// Levels: there, glTF, from the coarsest on.
fn check_levels(document: &Dossier, store: &dyn Store, found: &mut Findings) {
    let levels = &document.surface.levels;
    for (l, level) in levels.iter().enumerate() {
        let path = format!("$.surface.levels[{l}]");
        let Some(bytes) = fetch(store, &format!("{path}.file"), &level.file, found) else {
            continue;
        };
        if gltf_json::json_of(&bytes).is_none() {
            found.error(
                "unreadable-surface",
                format!("{path}.file"),
                format!("{} is not a glTF 2.0 file", level.file),
                "Pack the dossier again.",
            );
        }
        if l > 0 && level.triangles < levels[l - 1].triangles {
            found.error(
                "levels-order",
                format!("{path}.triangles"),
                format!("{} triangles come after more", level.triangles),
                "Put the coarsest level first.",
            );
        }
    }
}

pub(super) fn check_outside_files(
    gltf: &Value,
    file: &str,
    path: &str,
    store: &dyn Store,
    found: &mut Findings,
) {
    let folder = file
        .rsplit_once('/')
        .map_or(String::new(), |(folder, _)| format!("{folder}/"));
    for name in gltf_json::outside_files(gltf) {
        let name = format!("{folder}{name}");
        if let Err(error) = store.size(&name) {
            let message = format!("the file {name}, which {file} names, cannot be had: {error}");
            found.add(
                "missing-file",
                Severity::Error,
                file,
                path,
                message,
                "Put the file beside it, or export the surface as .glb, which holds everything.",
            );
        }
    }
}

/// Size and kind of pixel, from the header.
struct Header {
    width_px: u32,
    height_px: u32,
    colour: ExtendedColorType,
}

fn header(bytes: &[u8]) -> Result<Header, String> {
    let decoder = decoder(bytes)?;
    let (width_px, height_px) = decoder.dimensions();
    let colour = decoder.original_color_type();
    Ok(Header {
        width_px,
        height_px,
        colour,
    })
}

fn decoder(bytes: &[u8]) -> Result<impl ImageDecoder, String> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| error.to_string())?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(DECODER_BYTES);
    reader.limits(limits);
    reader.into_decoder().map_err(|error| error.to_string())
}

fn check_layer_image(
    path: &str,
    image: &LayerImage,
    kind: &LayerKind,
    bytes: &[u8],
    found: &mut Findings,
) {
    let Some(header) = check_header(path, image, bytes, found) else {
        return;
    };
    let grey = matches!(
        header.colour,
        ExtendedColorType::L8 | ExtendedColorType::L16
    );
    if *kind == LayerKind::Band && !grey {
        found.add(
            "bad-pixels",
            Severity::Error,
            &image.file,
            format!("{path}.file"),
            format!(
                "{} holds pixels of the kind {:?}; a band is greyscale of 8 or 16 bit",
                image.file, header.colour
            ),
            "Save it as greyscale, without alpha.",
        );
    }
    let deep = matches!(
        header.colour,
        ExtendedColorType::Rgb16
            | ExtendedColorType::Rgba16
            | ExtendedColorType::L16
            | ExtendedColorType::Rgb32F
            | ExtendedColorType::Rgba32F
    );
    if *kind == LayerKind::Colour && deep {
        found.add(
            "bad-pixels",
            Severity::Error,
            &image.file,
            format!("{path}.file"),
            format!(
                "{} holds pixels of the kind {:?}; a colour layer has 8 bit",
                image.file, header.colour
            ),
            "Save it with 8 bit per channel in the colour space of the layer.",
        );
    }
}

/// Compares an image with what is stated of it.
fn check_header(
    path: &str,
    image: &LayerImage,
    bytes: &[u8],
    found: &mut Findings,
) -> Option<Header> {
    let file_path = format!("{path}.file");
    let header = match header(bytes) {
        Ok(header) => header,
        Err(reason) => {
            let message = format!("{} cannot be read as an image: {reason}", image.file);
            found.add(
                "unreadable-image",
                Severity::Error,
                &image.file,
                file_path,
                message,
                "Save or copy the image again.",
            );
            return None;
        }
    };
    if is_cut_off(bytes) {
        let message = format!("{} ends too early", image.file);
        found.add(
            "unreadable-image",
            Severity::Error,
            &image.file,
            file_path.clone(),
            message,
            "Save or copy the image again.",
        );
    }
    let stated = (image.width_px, image.height_px);
    if stated == (0, 0) {
        found.warning(
            "no-image-size",
            path,
            format!("the size of {} is not stated", image.file),
            &format!(
                "State width_px {} and height_px {}.",
                header.width_px, header.height_px
            ),
        );
    } else if !has_size(image, &header) {
        let message = format!(
            "{} is {} x {} px, but {} x {} px are stated",
            image.file, header.width_px, header.height_px, stated.0, stated.1
        );
        found.add(
            "wrong-image-size",
            Severity::Error,
            &image.file,
            path,
            message,
            "Correct width_px and height_px, or put the right image there.",
        );
    }
    Some(header)
}

/// Whether an image has the stated size, or, of tiles, is one of the halved ones.
fn has_size(image: &LayerImage, header: &Header) -> bool {
    let halved = |side: u32, times: u32| (side >> times).max(1);
    let times = if image.tiles.is_some() { 0..32 } else { 0..1 };
    times.into_iter().any(|t| {
        (halved(image.width_px, t), halved(image.height_px, t))
            == (header.width_px, header.height_px)
    })
}

/// PNG (third edition) section 11.2.5: the last chunk is IEND. JPEG, ITU-T
/// T.81 section B.2.1: the last marker is EOI; bytes may follow it in practice.
fn is_cut_off(bytes: &[u8]) -> bool {
    let has = |end: &[u8]| bytes.windows(end.len()).rev().any(|window| window == end);
    if bytes.starts_with(b"\x89PNG") {
        !has(b"IEND\xaeB`\x82")
    } else if bytes.starts_with(b"\xff\xd8") {
        !has(b"\xff\xd9")
    } else {
        false
    }
}

fn check_regions(document: &Dossier, store: &dyn Store, found: &mut Findings) {
    let images = document
        .region_map
        .as_ref()
        .map_or(&[][..], |map| &map.images);
    let mut seen = vec![false; 1 << 16];
    let mut all_read = true;
    for (i, image) in images.iter().enumerate() {
        let path = format!("$.region_map.images[{i}]");
        if let Some(tiles) = &image.tiles {
            there(store, &format!("{path}.tiles.index"), &tiles.index, found);
        }
        let codes = fetch(store, &format!("{path}.file"), &image.file, found)
            .and_then(|bytes| label_codes(&path, image, &bytes, found));
        let Some(codes) = codes else {
            all_read = false;
            continue;
        };
        for code in (1..seen.len()).filter(|&code| codes[code]) {
            seen[code] = true;
            if document
                .region_numbered(u32::try_from(code).unwrap_or(0))
                .is_none()
            {
                found.add(
                    "region-without-entry",
                    Severity::Error,
                    &image.file,
                    &path,
                    format!(
                        "{} has texels with the number {code}, and no region has it",
                        image.file
                    ),
                    &format!(
                        "Add a region with the number {code} to $.regions, or correct the image."
                    ),
                );
            }
        }
    }
    for (i, region) in document.regions.iter().enumerate() {
        let code = usize::try_from(region.number).unwrap_or(usize::MAX);
        if all_read && region.number > 0 && !seen.get(code).is_some_and(|seen| *seen) {
            found.add(
                "region-without-area",
                Severity::Warning,
                FILE_NAME,
                format!("$.regions[{i}].number"),
                format!(
                    "no texel of the region map has the number {} of \"{}\"",
                    region.number, region.id
                ),
                "Paint the region into the region map, or correct its number.",
            );
        }
    }
}

/// Which codes occur in a label image.
fn label_codes(
    path: &str,
    image: &LayerImage,
    bytes: &[u8],
    found: &mut Findings,
) -> Option<Vec<bool>> {
    let header = check_header(path, image, bytes, found)?;
    if !bytes.starts_with(b"\x89PNG")
        || !matches!(
            header.colour,
            ExtendedColorType::L8 | ExtendedColorType::L16
        )
    {
        let message = format!(
            "{} is no greyscale PNG of 8 or 16 bit (it is {:?})",
            image.file, header.colour
        );
        found.add("bad-pixels", Severity::Error, &image.file, format!("{path}.file"), message,
            "Save the region map as greyscale PNG without alpha; its codes are numbers, not colours.");
        return None;
    }
    let decoded = decoder(bytes).and_then(|decoder| {
        let size = usize::try_from(decoder.total_bytes())
            .ok()
            .filter(|size| *size as u64 <= DECODER_BYTES)
            .ok_or("it is too large")?;
        let mut pixels = vec![0; size];
        decoder
            .read_image(&mut pixels)
            .map_err(|error| error.to_string())?;
        Ok(pixels)
    });
    let pixels = match decoded {
        Ok(pixels) => pixels,
        Err(reason) => {
            let message = format!("{} cannot be read as an image: {reason}", image.file);
            found.add(
                "unreadable-image",
                Severity::Error,
                &image.file,
                format!("{path}.file"),
                message,
                "Save or copy the image again.",
            );
            return None;
        }
    };
    let mut codes = vec![false; 1 << 16];
    if header.colour == ExtendedColorType::L8 {
        pixels
            .iter()
            .for_each(|&code| codes[usize::from(code)] = true);
    } else {
        // `read_image` gives 16-bit samples in the byte order of the machine.
        for pair in pixels.chunks_exact(2) {
            codes[usize::from(u16::from_ne_bytes([pair[0], pair[1]]))] = true;
        }
    }
    Some(codes)
}
