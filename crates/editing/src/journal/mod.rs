//! The steps of a draft over the document and the region maps, with undo and redo without limit.
//!
//! The document is kept as it was written, so that fields nobody knows, and the order of fields, come
//! through every step and its undoing. A step that would make the document unreadable, or bring in an
//! error of the check that was not there, is refused whole.

mod pointer;
mod steps;

use ganosis_dossier::check::new_errors;
use ganosis_dossier::read::{ReadError, document_from_value};
use ganosis_dossier::store::{Store, StoreError, expect_inside};
use ganosis_dossier::{Dossier, Finding};
use serde_json::Value;

use crate::regions::{Changes, Rect, RegionMaps};
use steps::Applied;
pub use steps::{Operation, Step};

/// Why a change is refused. Nothing has changed then.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refused {
    /// The document as opened has values that reading leaves out.
    #[error(
        "this dossier has values of the wrong type, which saving would lose; correct them with an editor for text first"
    )]
    Incomplete {
        /// Where they are.
        findings: Vec<Finding>,
    },
    /// A step names a place that is not there.
    #[error("the change does not fit the document: {reason} (at \"{path}\")")]
    Place {
        /// JSON Pointer of the step (RFC 6901).
        path: String,
        /// Why.
        reason: &'static str,
    },
    /// The result could not be read.
    #[error(transparent)]
    Unreadable(#[from] ReadError),
    /// The result would have errors that the document did not have.
    #[error("{}", told(findings))]
    Errors {
        /// The errors.
        findings: Vec<Finding>,
    },
}

impl Refused {
    /// What is wrong with the result, where it is that.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        match self {
            Self::Incomplete { findings } | Self::Errors { findings } => findings,
            Self::Place { .. } | Self::Unreadable(_) => &[],
        }
    }
}

fn told(findings: &[Finding]) -> String {
    let first = findings.first().map_or_else(String::new, |finding| {
        format!("{}. {}", finding.message, finding.advice)
    });
    match findings.len() {
        0 | 1 => first,
        more => format!("{first} (and {} more)", more - 1),
    }
}

/// One entry of the history.
#[derive(Debug, Clone)]
struct Entry {
    /// Of all entries there ever were.
    mark: u64,
    label: String,
    steps: Vec<Applied>,
    maps: Vec<Changes>,
}

/// What undoing or doing again has changed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Moved {
    /// The document is another.
    pub document: bool,
    /// Parts of region maps that are others: index of the map, and where.
    pub rects: Vec<(usize, Rect)>,
}

/// A document with its history.
#[derive(Debug, Clone)]
pub struct Journal {
    value: Value,
    document: Dossier,
    /// What could not be read at opening.
    findings: Vec<Finding>,
    done: Vec<Entry>,
    undone: Vec<Entry>,
    last_mark: u64,
}

impl Journal {
    /// Opens `dossier.json`.
    ///
    /// # Errors
    /// [`ReadError`] if it is no dossier. With values of the wrong type it opens, but takes no steps.
    pub fn open(bytes: &[u8]) -> Result<Self, ReadError> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        // Read first, for errors with a place.
        let reading = ganosis_dossier::document_from_bytes(bytes)?;
        let value = serde_json::from_slice(bytes).unwrap_or_else(|_| reading.document.to_value());
        Ok(Self {
            value,
            document: reading.document,
            findings: reading.findings,
            done: Vec::new(),
            undone: Vec::new(),
            last_mark: 0,
        })
    }

    /// The document as JSON, as it was written.
    #[must_use]
    pub fn value(&self) -> &Value {
        &self.value
    }

    /// The document, read.
    #[must_use]
    pub fn document(&self) -> &Dossier {
        &self.document
    }

    /// Number of steps that stand.
    #[must_use]
    pub fn len(&self) -> usize {
        self.done.len()
    }

    /// True if nothing stands.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.done.is_empty()
    }

    /// Tells this state of draft from every other: 0 as opened.
    #[must_use]
    pub fn mark(&self) -> u64 {
        self.done.last().map_or(0, |entry| entry.mark)
    }

    /// What [`Self::undo`] would take back.
    #[must_use]
    pub fn undo_label(&self) -> Option<&str> {
        self.done.last().map(|entry| entry.label.as_str())
    }

    /// What [`Self::redo`] would do again.
    #[must_use]
    pub fn redo_label(&self) -> Option<&str> {
        self.undone.last().map(|entry| entry.label.as_str())
    }

    /// Changes the document: all steps or none, as one entry of the history.
    ///
    /// # Errors
    /// [`Refused`]; nothing has changed then.
    pub fn apply(&mut self, steps: &[Step], label: &str) -> Result<(), Refused> {
        self.apply_with(steps, Changes::default(), label)
    }

    /// As [`Self::apply`], with changes of region maps that have been made already and belong to it.
    ///
    /// # Errors
    /// As [`Self::apply`]; the maps are then for the caller to put back.
    pub fn apply_with(
        &mut self,
        steps: &[Step],
        maps: Changes,
        label: &str,
    ) -> Result<(), Refused> {
        if !self.findings.is_empty() {
            let findings = self.findings.clone();
            return Err(Refused::Incomplete { findings });
        }
        let mut applied = Vec::new();
        let outcome = steps
            .iter()
            .try_for_each(|step| steps::apply(&mut self.value, step, &mut applied))
            .and_then(|()| self.validated());
        match outcome {
            Ok(document) => {
                self.document = document;
                self.push(label, applied, kept(maps));
                Ok(())
            }
            Err(refused) => {
                for step in applied.iter().rev() {
                    step.take_back(&mut self.value);
                }
                Err(refused)
            }
        }
    }

    /// Takes note of changes of region maps that have been made. `continues` adds them to the last entry,
    /// when that is one of drawing with the same label: a stroke that goes on is one stroke.
    pub fn draw(&mut self, maps: Changes, label: &str, continues: bool) {
        if maps.is_empty() {
            return;
        }
        let next = self.last_mark + 1;
        if continues
            && self.undone.is_empty()
            && let Some(last) = self.done.last_mut()
            && last.steps.is_empty()
            && last.label == label
        {
            last.maps.push(maps);
            last.mark = next;
            self.last_mark = next;
            return;
        }
        self.push(label, Vec::new(), kept(maps));
    }

    /// Takes the last entry back.
    pub fn undo(&mut self, maps: &mut RegionMaps) -> Option<Moved> {
        let entry = self.done.pop()?;
        for step in entry.steps.iter().rev() {
            step.take_back(&mut self.value);
        }
        for changes in entry.maps.iter().rev() {
            changes.undo(maps);
        }
        Some(self.moved(entry, false))
    }

    /// Does the last entry taken back again.
    pub fn redo(&mut self, maps: &mut RegionMaps) -> Option<Moved> {
        let entry = self.undone.pop()?;
        for step in &entry.steps {
            step.do_again(&mut self.value);
        }
        for changes in &entry.maps {
            changes.redo(maps);
        }
        Some(self.moved(entry, true))
    }

    fn moved(&mut self, entry: Entry, forward: bool) -> Moved {
        let document = !entry.steps.is_empty();
        // It was readable when it stood like this before.
        if document && let Ok(reading) = document_from_value(self.value.clone()) {
            self.document = reading.document;
        }
        let rects = rects(&entry.maps);
        if forward {
            self.done.push(entry);
        } else {
            self.undone.push(entry);
        }
        Moved { document, rects }
    }

    fn push(&mut self, label: &str, steps: Vec<Applied>, maps: Vec<Changes>) {
        self.last_mark += 1;
        self.undone.clear();
        self.done.push(Entry {
            mark: self.last_mark,
            label: label.to_owned(),
            steps,
            maps,
        });
    }

    fn validated(&self) -> Result<Dossier, Refused> {
        let reading = document_from_value(self.value.clone())?;
        if !reading.findings.is_empty() {
            let findings = reading.findings;
            return Err(Refused::Errors { findings });
        }
        let findings = new_errors(&self.document, &reading.document, &AnyFile);
        if findings.is_empty() {
            Ok(reading.document)
        } else {
            Err(Refused::Errors { findings })
        }
    }
}

fn kept(maps: Changes) -> Vec<Changes> {
    if maps.is_empty() {
        Vec::new()
    } else {
        vec![maps]
    }
}

/// One rectangle a map, around all that changed on it.
pub fn rects<'a>(changes: impl IntoIterator<Item = &'a Changes>) -> Vec<(usize, Rect)> {
    let mut all: Vec<(usize, Rect)> = Vec::new();
    for change in changes.into_iter().flat_map(|changes| &changes.maps) {
        match all.iter_mut().find(|(map, _)| *map == change.map) {
            Some((_, known)) => *known = around(known, &change.rect),
            None => all.push((change.map, change.rect)),
        }
    }
    all
}

fn around(a: &Rect, b: &Rect) -> Rect {
    let (x, y) = (a.x.min(b.x), a.y.min(b.y));
    Rect {
        x,
        y,
        width: (a.x + a.width).max(b.x + b.width) - x,
        height: (a.y + a.height).max(b.y + b.height) - y,
    }
}

/// Says of every file with a good path that it is there: only where it is saved can one know.
struct AnyFile;

impl Store for AnyFile {
    fn size(&self, path: &str) -> Result<u64, StoreError> {
        expect_inside(path).map(|()| 0)
    }

    fn read(&self, path: &str) -> Result<Vec<u8>, StoreError> {
        expect_inside(path).map(|()| Vec::new())
    }

    fn list(&self) -> Result<Vec<String>, StoreError> {
        Ok(Vec::new())
    }
}
