//! What the desk holds, and the steps over it.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use ganosis_audit::Audit;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::LayerKind;
use ganosis_editing::journal::{Journal, Moved, Step};
use ganosis_editing::regions::{Rect, TexelGeometry};
use ganosis_surface::pick::Picker;
use ganosis_surface::relief::Openness;
use ganosis_surface::{Surface, gltf_in};
use serde_json::Value;

use crate::DeskError;
use crate::ground::Ground;
use crate::measuring::Measured;
use crate::saving::Pending;

/// Gives the bytes of a file of the dossier, or says why there are none.
pub(crate) type Files = Box<dyn Fn(&str) -> Result<Vec<u8>, String>>;

/// A document with its history, and what is needed to examine it and draw on it.
pub struct Desk {
    pub(crate) journal: Journal,
    pub(crate) files: Files,
    /// Read when it is first needed; an error stays.
    pub(crate) surface: Option<Result<Surface, String>>,
    pub(crate) ground: Option<Ground>,
    /// Where the texels of the maps lie, once something was drawn.
    pub(crate) geometry: Option<TexelGeometry>,
    /// The surface as it is measured on, once something was measured.
    pub(crate) measured: Option<Measured>,
    /// What the surface hides of the sky, while it is being found.
    pub(crate) openness: Option<Openness>,
    /// The tree over all triangles, made when first asked for.
    pub(crate) picker: Option<Rc<Picker>>,
    /// The last audit, and of which state.
    pub(crate) audited: Option<(u64, Audit)>,
    /// Revision that a save is made from.
    pub(crate) revision: u64,
    /// The state that was saved last.
    pub(crate) saved: u64,
    /// Files of region maps that were saved in this sitting, by sheet.
    pub(crate) named: BTreeMap<String, String>,
    pub(crate) pending: Option<Pending>,
    /// Maps as PNG, by sheet, with what they were made of.
    pub(crate) encoded: BTreeMap<String, (u64, Vec<u8>)>,
}

/// A part of a region map as it now is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Id of the sheet.
    pub sheet: String,
    /// Where on the map.
    pub rect: Rect,
    /// Width and height of the map.
    pub map_px: [u32; 2],
    /// Row by row from the top.
    pub texels: Vec<u16>,
}

/// What a change has come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The text of the document, if that changed.
    pub text: Option<String>,
    /// Parts of region maps that changed.
    pub parts: Vec<Part>,
    /// What undo would take back.
    pub undo: Option<String>,
    /// What redo would do again.
    pub redo: Option<String>,
    /// How many steps stand.
    pub revision: usize,
    /// Nothing differs from what was last saved.
    pub saved: bool,
}

impl Desk {
    /// Opens `dossier.json`. `files` gives the other files of the dossier, when they are needed: see
    /// [`Self::needs`].
    ///
    /// # Errors
    /// If it is no dossier.
    pub fn open(document: &[u8], files: Files) -> Result<Self, DeskError> {
        let journal = Journal::open(document).map_err(|error| error.to_string())?;
        Ok(Self {
            revision: journal.document().revision,
            journal,
            files,
            surface: None,
            ground: None,
            geometry: None,
            measured: None,
            picker: None,
            openness: None,
            audited: None,
            saved: 0,
            named: BTreeMap::new(),
            pending: None,
            encoded: BTreeMap::new(),
        })
    }

    /// The document as it stands.
    #[must_use]
    pub fn document(&self) -> &Dossier {
        self.journal.document()
    }

    /// Files that a method reads; to be asked again when they have come, since one may name others.
    /// `layer` is what a fill goes by.
    #[must_use]
    pub fn needs(&self, method: &str, layer: Option<&str>) -> Vec<String> {
        let mut paths = BTreeSet::new();
        let examines = matches!(method, "audit" | "compare");
        let draws = matches!(
            method,
            "stroke"
                | "lasso"
                | "fill"
                | "grow"
                | "shrink"
                | "assign"
                | "restore"
                | "areas"
                | "spot"
        );
        let document = self.document();
        let lights = method.starts_with("relief");
        let takes = method == "package";
        if takes || ((examines || draws || lights || method == "measure") && self.surface.is_none())
        {
            let file = &document.surface.file;
            paths.insert(file.clone());
            let buffers = (self.files)(file).map(|bytes| gltf_in::needed_files(&bytes));
            let buffers = buffers.ok().and_then(Result::ok).unwrap_or_default();
            paths.extend(
                buffers
                    .iter()
                    .map(|name| ganosis_surface::beside(file, name)),
            );
        }
        if method == "files" {
            paths.insert(document.surface.file.clone());
        }
        if (examines || draws) && self.ground.is_none() {
            let maps = document.region_map.iter().flat_map(|map| &map.images);
            paths.extend(maps.map(|image| image.file.clone()));
        }
        let read = document
            .layers
            .iter()
            .filter(|l| Some(l.id.as_str()) == layer || (examines && l.kind == LayerKind::Colour));
        paths.extend(read.flat_map(|l| &l.images).map(|image| image.file.clone()));
        paths.remove("");
        paths.into_iter().collect()
    }

    /// Changes the document: all steps or none.
    ///
    /// # Errors
    /// If the document would be unreadable or have errors that it did not have.
    pub fn apply(&mut self, steps: &[Step], label: &str) -> Result<Outcome, DeskError> {
        self.journal.apply(steps, label)?;
        Ok(self.outcome(true, &[]))
    }

    /// Takes the last step back; without one nothing happens.
    pub fn undo(&mut self) -> Outcome {
        self.go(Journal::undo)
    }

    /// Does the last step taken back again; without one nothing happens.
    pub fn redo(&mut self) -> Outcome {
        self.go(Journal::redo)
    }

    fn go(
        &mut self,
        go: fn(&mut Journal, &mut ganosis_editing::regions::RegionMaps) -> Option<Moved>,
    ) -> Outcome {
        // Only what was drawn on these maps is in the history: without them it holds no drawing.
        let mut none = ganosis_editing::regions::RegionMaps::default();
        let maps = self
            .ground
            .as_mut()
            .map_or(&mut none, |ground| &mut ground.maps);
        let moved = go(&mut self.journal, maps).unwrap_or_default();
        self.outcome(moved.document, &moved.rects)
    }

    pub(crate) fn outcome(&self, document: bool, rects: &[(usize, Rect)]) -> Outcome {
        let part = |(map, rect): &(usize, Rect)| {
            let maps = &self.ground.as_ref()?.maps;
            let of = maps.maps.get(*map)?;
            Some(Part {
                sheet: of.sheet.clone(),
                rect: *rect,
                map_px: [of.width_px, of.height_px],
                texels: maps.texels(*map, *rect),
            })
        };
        Outcome {
            text: document.then(|| self.text()),
            parts: rects.iter().filter_map(part).collect(),
            undo: self.journal.undo_label().map(str::to_owned),
            redo: self.journal.redo_label().map(str::to_owned),
            revision: self.journal.len(),
            saved: self.journal.mark() == self.saved,
        }
    }

    /// The text of the document as it stands.
    #[must_use]
    pub fn text(&self) -> String {
        self.current().to_string()
    }

    /// The document with what saving has decided: its revision and the files of its region maps.
    pub(crate) fn current(&self) -> Value {
        self.with_maps(self.journal.value().clone(), &self.named, self.revision)
    }

    /// The tree over all triangles of the surface, made when first asked for.
    pub(crate) fn picker(&mut self) -> Result<Rc<Picker>, DeskError> {
        if let Some(picker) = &self.picker {
            return Ok(Rc::clone(picker));
        }
        let picker = Rc::new(Picker::new(self.surface()?));
        Ok(Rc::clone(self.picker.insert(picker)))
    }

    /// The surface, read when first asked for.
    pub(crate) fn surface(&mut self) -> Result<&Surface, DeskError> {
        if self.surface.is_none() {
            let document = self.journal.document();
            self.surface = Some(ganosis_audit::decoded::surface(document, &*self.files));
        }
        match &self.surface {
            Some(Ok(surface)) => Ok(surface),
            Some(Err(problem)) => Err(problem.as_str().into()),
            None => Err("the surface is not here".into()),
        }
    }
}
