//! What goes to a server, into a zip, or into a draft.

use std::collections::BTreeMap;

use ganosis_editing::journal::{Operation, Step, rects};
use ganosis_editing::regions::{Changes, MapChange, Rect, RegionMap, Run};
use serde_json::{Map, Value, json};

use crate::ground::print_of;
use crate::{Desk, DeskError, Outcome};

/// A region map under the name that the document is to use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MapFile {
    /// Id of the sheet.
    pub sheet: String,
    /// Path in the dossier.
    pub path: String,
    /// PNG.
    pub bytes: Vec<u8>,
}

/// A document ready to be written, with the maps that it names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ToSave {
    /// For [`Desk::keep`].
    pub mark: u64,
    /// That it will be.
    pub revision: u64,
    /// Of `dossier.json`.
    pub text: String,
    /// Maps that differ from those saved.
    pub maps: Vec<MapFile>,
}

/// A region map of a draft.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftMap {
    /// Id of the sheet.
    pub sheet: String,
    /// PNG.
    pub bytes: Vec<u8>,
}

/// What was handed out to be saved, until it is.
#[derive(Debug)]
pub(crate) struct Pending {
    mark: u64,
    revision: u64,
    value: Value,
    named: BTreeMap<String, String>,
    prints: BTreeMap<String, u64>,
}

impl Desk {
    /// Everything that a save writes: the document, and the maps that differ under new names.
    ///
    /// # Errors
    /// If a map cannot be written as PNG.
    pub fn to_save(&mut self) -> Result<ToSave, DeskError> {
        let revision = self.revision.saturating_add(1);
        let mut named = self.named.clone();
        let mut prints = BTreeMap::new();
        let mut maps = Vec::new();
        for (sheet, print) in self.changed(false) {
            let path = self.new_name(&sheet, revision);
            let bytes = self.png(&sheet, print)?;
            named.insert(sheet.clone(), path.clone());
            prints.insert(sheet.clone(), print);
            maps.push(MapFile { sheet, path, bytes });
        }
        let pending = Pending {
            mark: self.journal.mark(),
            revision,
            value: self.journal.value().clone(),
            named,
            prints,
        };
        let text = self.pretty(&pending);
        let mark = pending.mark;
        self.pending = Some(pending);
        Ok(ToSave {
            mark,
            revision,
            text,
            maps,
        })
    }

    /// The name of a map was taken: the text with another.
    ///
    /// # Errors
    /// If nothing is being saved.
    pub fn renamed(&mut self, sheet: &str, path: &str) -> Result<String, DeskError> {
        let mut pending = self.pending.take().ok_or("nothing is being saved")?;
        pending.named.insert(sheet.to_owned(), path.to_owned());
        let text = self.pretty(&pending);
        self.pending = Some(pending);
        Ok(text)
    }

    /// What [`Self::to_save`] gave is saved, as this revision.
    ///
    /// # Errors
    /// If `mark` is of nothing that was being saved.
    pub fn keep(&mut self, mark: u64, revision: u64) -> Result<Outcome, DeskError> {
        let pending = self.pending.take().filter(|pending| pending.mark == mark);
        let pending = pending.ok_or("this is not what was being saved")?;
        self.named = pending.named;
        self.revision = revision;
        self.saved = mark;
        if let Some(ground) = &mut self.ground {
            for (map, origin) in ground.maps.maps.iter().zip(&mut ground.origins) {
                if let Some(print) = pending.prints.get(&map.sheet) {
                    origin.saved = *print;
                    origin.file = self.named.get(&map.sheet).cloned();
                }
            }
        }
        Ok(self.outcome(true, &[]))
    }

    /// All that differs from what was opened: the text of the document, and maps.
    ///
    /// # Errors
    /// If a map cannot be written as PNG.
    pub fn draft(&mut self) -> Result<(String, Vec<DraftMap>), DeskError> {
        let mut maps = Vec::new();
        for (sheet, print) in self.changed(true) {
            let bytes = self.png(&sheet, print)?;
            maps.push(DraftMap { sheet, bytes });
        }
        Ok((self.text(), maps))
    }

    /// Takes a draft up, as one step. Which files the region maps have is not taken from it: its own
    /// maps, where it has some, are drawn instead.
    ///
    /// # Errors
    /// If it does not fit this dossier; nothing has changed then.
    pub fn restore(
        &mut self,
        text: &str,
        maps: &[DraftMap],
        label: &str,
    ) -> Result<Outcome, DeskError> {
        let mut value: Value = serde_json::from_str(text)
            .map_err(|error| format!("the draft cannot be read: {error}"))?;
        if let Value::Object(fields) = &mut value {
            for field in ["region_map", "revision"] {
                match self.journal.value().get(field) {
                    Some(own) => {
                        fields.insert(field.to_owned(), own.clone());
                    }
                    None => {
                        fields.shift_remove(field);
                    }
                }
            }
        }
        let mut changes = Changes::default();
        if !maps.is_empty() {
            let ground = self.ground()?;
            let mut drawn = Vec::new();
            for map in maps {
                let number = ground.maps.maps.iter().position(|m| m.sheet == map.sheet);
                let number =
                    number.ok_or_else(|| format!("there is no sheet \"{}\"", map.sheet))?;
                let after = RegionMap::from_png(&map.sheet, &map.bytes)?;
                let before = &ground.maps.maps[number];
                if (before.width_px, before.height_px) != (after.width_px, after.height_px) {
                    let what = format!(
                        "the region map of the sheet \"{}\" has another size in the draft",
                        map.sheet
                    );
                    return Err(what.into());
                }
                drawn.extend(difference(number, before, &after));
            }
            changes.maps = drawn;
        }
        let step = Step {
            op: Operation::Set,
            path: String::new(),
            value,
        };
        let rects = rects([&changes]);
        if let Some(ground) = &mut self.ground {
            changes.redo(&mut ground.maps);
        }
        if let Err(refused) = self.journal.apply_with(&[step], changes.clone(), label) {
            if let Some(ground) = &mut self.ground {
                changes.undo(&mut ground.maps);
            }
            return Err(refused.into());
        }
        Ok(self.outcome(true, &rects))
    }

    /// Sheets whose map differs from what was saved; of a draft also from what was opened.
    fn changed(&self, of_draft: bool) -> Vec<(String, u64)> {
        let Some(ground) = &self.ground else {
            return Vec::new();
        };
        let maps = ground.maps.maps.iter().zip(&ground.origins);
        maps.filter_map(|(map, origin)| {
            let print = print_of(map);
            let changed = origin.saved != print || (of_draft && origin.opened != print);
            changed.then(|| (map.sheet.clone(), print))
        })
        .collect()
    }

    fn png(&mut self, sheet: &str, print: u64) -> Result<Vec<u8>, DeskError> {
        if let Some((of, bytes)) = self.encoded.get(sheet)
            && *of == print
        {
            return Ok(bytes.clone());
        }
        let maps = self.ground.iter().flat_map(|ground| &ground.maps.maps);
        let map = maps.into_iter().find(|map| map.sheet == sheet);
        let bytes = map.ok_or("the region map is not here")?.to_png()?;
        self.encoded
            .insert(sheet.to_owned(), (print, bytes.clone()));
        Ok(bytes)
    }

    /// Beside the file that the map had, with the revision: `regions/crown-r8.png`.
    fn new_name(&self, sheet: &str, revision: u64) -> String {
        let ground = self.ground.iter();
        let mut origins = ground.flat_map(|g| g.maps.maps.iter().zip(&g.origins));
        let file = origins
            .find(|(map, _)| map.sheet == sheet)
            .and_then(|(_, origin)| origin.file.clone())
            .unwrap_or_else(|| format!("regions/{}.png", plain(sheet)));
        let stem = file
            .rsplit_once('.')
            .map_or(file.as_str(), |(stem, _)| stem);
        let stem = unnumbered(stem);
        format!("{stem}-r{revision}.png")
    }

    fn pretty(&self, pending: &Pending) -> String {
        let value = self.with_maps(pending.value.clone(), &pending.named, pending.revision);
        // Plain data with string keys: writing cannot fail.
        let mut text = serde_json::to_string_pretty(&value).unwrap_or_default();
        text.push('\n');
        text
    }

    /// A document with its revision and the files of region maps by sheet.
    pub(crate) fn with_maps(
        &self,
        mut value: Value,
        named: &BTreeMap<String, String>,
        revision: u64,
    ) -> Value {
        let Value::Object(fields) = &mut value else {
            return value;
        };
        if fields.get("revision").and_then(Value::as_u64) != Some(revision) {
            fields.insert("revision".to_owned(), revision.into());
        }
        if named.is_empty() {
            return value;
        }
        if !fields.contains_key("region_map") {
            let at = fields.keys().position(|key| key == "regions");
            let at = at.unwrap_or(fields.len());
            fields.shift_insert(at, "region_map".to_owned(), json!({"images": []}));
        }
        for (sheet, path) in named {
            let size = self.size_of(sheet);
            let Some(images) = fields.get_mut("region_map").and_then(images_of) else {
                continue;
            };
            let known = images.iter_mut().find(|image| image["sheet"] == **sheet);
            match known.and_then(Value::as_object_mut) {
                Some(image) => name_image(image, path, size),
                None => {
                    let mut image = Map::new();
                    image.insert("sheet".to_owned(), json!(sheet));
                    name_image(&mut image, path, size);
                    images.push(image.into());
                }
            }
        }
        value
    }

    fn size_of(&self, sheet: &str) -> [u32; 2] {
        let maps = self.ground.iter().flat_map(|ground| &ground.maps.maps);
        maps.into_iter()
            .find(|map| map.sheet == sheet)
            .map_or([0, 0], |map| [map.width_px, map.height_px])
    }
}

fn images_of(map: &mut Value) -> Option<&mut Vec<Value>> {
    let fields = map.as_object_mut()?;
    fields
        .entry("images")
        .or_insert_with(|| json!([]))
        .as_array_mut()
}

fn name_image(image: &mut Map<String, Value>, path: &str, [width, height]: [u32; 2]) {
    image.insert("file".to_owned(), path.into());
    image.insert("width_px".to_owned(), width.into());
    image.insert("height_px".to_owned(), height.into());
}

/// A name without what an earlier save has put to it: `-r8`, or `-r8-2` where that was taken.
fn unnumbered(stem: &str) -> &str {
    let numbered = |end: &str| {
        let mut parts = end.split('-');
        let digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        parts.clone().count() <= 2 && parts.all(digits)
    };
    stem.rsplit_once("-r")
        .filter(|(_, end)| numbered(end))
        .map_or(stem, |(stem, _)| stem)
}

/// A name that does as one of a file on every system.
fn plain(name: &str) -> String {
    let keep = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_');
    let plain: String = name
        .chars()
        .map(|c| if keep(c) { c } else { '-' })
        .collect();
    if plain.trim_matches('-').is_empty() {
        "sheet".to_owned()
    } else {
        plain
    }
}

/// What makes one map into another of the same size.
fn difference(number: usize, before: &RegionMap, after: &RegionMap) -> Option<MapChange> {
    let mut runs: Vec<Run> = Vec::new();
    let pairs = before.labels.iter().zip(&after.labels);
    for (at, (&old, &new)) in pairs.enumerate().filter(|(_, (old, new))| old != new) {
        let at = u32::try_from(at).ok()?;
        match runs.last_mut() {
            Some(run) if run.first + run.count == at && (run.before, run.after) == (old, new) => {
                run.count += 1;
            }
            _ => runs.push(Run {
                first: at,
                count: 1,
                before: old,
                after: new,
            }),
        }
    }
    let (first, last) = (runs.first()?, runs.last()?);
    let width = before.width_px.max(1);
    let top = first.first / width;
    let bottom = (last.first + last.count - 1) / width;
    let rect = Rect {
        x: 0,
        y: top,
        width,
        height: bottom - top + 1,
    };
    Some(MapChange {
        map: number,
        runs,
        rect,
    })
}
