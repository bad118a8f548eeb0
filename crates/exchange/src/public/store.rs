//! The files of a public copy.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::io::Cursor;

use ganosis_dossier::document::FILE_NAME;
use ganosis_dossier::gltf_json;
use ganosis_dossier::{Dossier, Store, StoreError};
use image::ImageFormat;
use serde_json::Value;

use crate::solid::image_of;

use super::{Absent, Mention, PublicCopy, PublicError, labels, mentions, public_copy};

/// A dossier as the public gets it: a store with the public document, the
/// files that it names, and no other.
pub struct PublicStore<'a> {
    inner: &'a dyn Store,
    copy: PublicCopy,
    /// Files that are as they were.
    files: BTreeSet<String>,
    /// Files that are made anew: the document, region maps.
    made: BTreeMap<String, Vec<u8>>,
}

impl<'a> PublicStore<'a> {
    /// The public copy of `document`, whose files are in `inner`.
    ///
    /// # Errors
    /// [`PublicError`].
    pub fn new(document: &Dossier, inner: &'a dyn Store) -> Result<Self, PublicError> {
        let mut copy = public_copy(document)?;
        let joined = if copy.region_numbers.is_empty() {
            BTreeMap::new()
        } else {
            whole_maps(&mut copy.document, inner)?
        };
        let value = copy.document.to_value();
        let mut bytes = serde_json::to_vec_pretty(&value).unwrap_or_default();
        bytes.push(b'\n');
        let mut made = BTreeMap::from([(FILE_NAME.to_owned(), bytes)]);
        let mut files = files_of(&copy, &value, inner)?;
        if !copy.region_numbers.is_empty() {
            for image in copy.document.region_map.iter().flat_map(|map| &map.images) {
                let file = &image.file;
                let bytes = match joined.get(file) {
                    Some(bytes) => bytes.clone(),
                    None if files.remove(file) => inner.read(file)?,
                    None => continue,
                };
                let map = labels::without(&bytes, &copy.region_numbers);
                let map = map.map_err(|reason| PublicError::Labels {
                    file: file.clone(),
                    reason,
                })?;
                made.insert(file.clone(), map);
            }
        }
        Ok(Self {
            inner,
            copy,
            files,
            made,
        })
    }

    /// The public document.
    #[must_use]
    pub fn document(&self) -> &Dossier {
        &self.copy.document
    }

    /// What was left out and why.
    #[must_use]
    pub fn left_out(&self) -> &[Absent] {
        &self.copy.left_out
    }

    /// What stays and names less than before.
    #[must_use]
    pub fn shortened(&self) -> &[Absent] {
        &self.copy.shortened
    }

    /// Files of the dossier that are not in the public copy.
    ///
    /// # Errors
    /// [`StoreError`] if the files cannot be listed.
    pub fn files_left_out(&self) -> Result<Vec<String>, StoreError> {
        let mut all = self.inner.list()?;
        all.retain(|file| !self.files.contains(file) && !self.made.contains_key(file));
        Ok(all)
    }

    /// Texts and files that name something that was left out. Every file is
    /// looked through.
    ///
    /// # Errors
    /// [`StoreError`] if a file cannot be read.
    pub fn mentions(&self) -> Result<Vec<Mention>, StoreError> {
        let words = &self.copy.words;
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let mut found = mentions::in_document(&self.copy.document.to_value(), FILE_NAME, words);
        for file in &self.files {
            let named: BTreeSet<String> = words
                .iter()
                .filter(|word| file.split('/').any(|step| step == word.as_str()))
                .cloned()
                .collect();
            found.extend(named.into_iter().map(|word| Mention {
                file: file.clone(),
                path: String::new(),
                word,
            }));
            found.extend(mentions::in_bytes(&self.inner.read(file)?, file, words));
        }
        found.sort();
        found.dedup();
        Ok(found)
    }
}

/// Puts region maps in tiles together, so that regions can be taken out of them: each becomes one file,
/// which the document names in place of the tiles. Gives these files by their paths.
fn whole_maps(
    document: &mut Dossier,
    inner: &dyn Store,
) -> Result<BTreeMap<String, Vec<u8>>, PublicError> {
    let mut made = BTreeMap::new();
    let maps = document.region_map.iter_mut();
    for image in maps.flat_map(|map| &mut map.images) {
        let Some(tiling) = &image.tiles else { continue };
        let refused = |reason: String| PublicError::Labels {
            file: tiling.index.clone(),
            reason,
        };
        let (pixels, note) =
            image_of(image, inner, u32::MAX).map_err(|error| refused(error.to_string()))?;
        if let Some(note) = note {
            return Err(refused(note));
        }
        let mut bytes = Vec::new();
        pixels
            .write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)
            .map_err(|error| refused(error.to_string()))?;
        let stem = tiling.index.strip_suffix(".json");
        let file = format!("{}.public.png", stem.unwrap_or(&tiling.index));
        image.file.clone_from(&file);
        image.tiles = None;
        made.insert(file, bytes);
    }
    Ok(made)
}

/// The files that a document names in its own fields, the files that those of
/// the surface name, and any other that a field of a later version names.
fn files_of(
    copy: &PublicCopy,
    value: &Value,
    inner: &dyn Store,
) -> Result<BTreeSet<String>, StoreError> {
    let all = inner.list()?;
    let there: HashSet<&str> = all.iter().map(String::as_str).collect();
    let mut files: BTreeSet<String> = copy
        .document
        .named_files()
        .into_iter()
        .map(|(_, file)| file.to_owned())
        .filter(|file| there.contains(file.as_str()))
        .collect();
    let mut strings = BTreeSet::new();
    gather(value, &mut strings);
    for text in strings {
        if text != FILE_NAME && there.contains(text) && !copy.withheld_files.contains(text) {
            files.insert(text.to_owned());
        }
    }
    let layers = copy.document.layers.iter().flat_map(|layer| &layer.images);
    let maps = copy.document.region_map.iter().flat_map(|map| &map.images);
    for tiling in layers.chain(maps).filter_map(|image| image.tiles.as_ref()) {
        let Ok(index) = inner.read(&tiling.index) else {
            continue;
        };
        let tiles = tiles_of(&tiling.index, &index).into_iter();
        files.extend(tiles.filter(|file| there.contains(file.as_str())));
    }
    let surface = &copy.document.surface.file;
    if files.contains(surface)
        && let Some(gltf) = gltf_json::json_of(&inner.read(surface)?)
    {
        let folder = surface.rsplit_once('/').map_or("", |(folder, _)| folder);
        for name in gltf_json::outside_files(&gltf) {
            let path = if folder.is_empty() {
                name
            } else {
                format!("{folder}/{name}")
            };
            if there.contains(path.as_str()) {
                files.insert(path);
            }
        }
    }
    Ok(files)
}

/// Letters of the name of a tile.
const TILE_NAME: usize = 16;

/// The files that a list of tiles names: each in a folder by the first two letters of its name.
fn tiles_of(path: &str, index: &[u8]) -> BTreeSet<String> {
    let index: Value = serde_json::from_slice(index).unwrap_or_default();
    let ending = index["ending"].as_str().unwrap_or_default();
    let folder = path.rfind('/').map_or("", |slash| &path[..=slash]);
    let levels = index["levels"].as_array().into_iter().flatten();
    let names: String = levels.filter_map(|level| level["names"].as_str()).collect();
    if !names.is_ascii() {
        return BTreeSet::new();
    }
    (0..names.len() / TILE_NAME)
        .map(|at| &names[at * TILE_NAME..(at + 1) * TILE_NAME])
        .map(|name| format!("{folder}{}/{name}.{ending}", &name[..2]))
        .collect()
}

fn gather<'v>(value: &'v Value, into: &mut BTreeSet<&'v str>) {
    match value {
        Value::String(text) => {
            into.insert(text);
        }
        Value::Array(list) => list.iter().for_each(|value| gather(value, into)),
        Value::Object(fields) => fields.values().for_each(|value| gather(value, into)),
        _ => {}
    }
}

impl Store for PublicStore<'_> {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        match self.made.get(path) {
            Some(bytes) => Ok(bytes.len() as u64),
            None if self.files.contains(path) => self.inner.size(path),
            None => Err(StoreError::NotFound {
                path: path.to_owned(),
            }),
        }
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        match self.made.get(path) {
            Some(bytes) => Ok(bytes.clone()),
            None if self.files.contains(path) => self.inner.read(path),
            None => Err(StoreError::NotFound {
                path: path.to_owned(),
            }),
        }
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        let mut all: Vec<String> = self.files.iter().chain(self.made.keys()).cloned().collect();
        all.sort();
        Ok(all)
    }
}
