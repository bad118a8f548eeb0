//! Audit, partings, hints, areas and annotations of the document as it stands.

use ganosis_audit::decoded::FileSources;
use ganosis_audit::{Audit, Colours, Labels, Sources, compare, hints};
use ganosis_dossier::Dossier;
use ganosis_dossier::check::named_files;
use ganosis_dossier::gltf_json;
use ganosis_editing::journal::{Operation, Step};
use ganosis_exchange::{Merged, collection, merge};
use ganosis_surface::Surface;
use serde_json::{Value, json};

use crate::ground::Ground;
use crate::{Desk, DeskError, Outcome};

/// Files, but the maps that are drawn on.
struct DeskSources<'a> {
    files: FileSources<'a>,
    ground: Option<&'a Ground>,
}

impl Sources for DeskSources<'_> {
    fn surface(&self) -> Option<&Surface> {
        self.files.surface()
    }

    fn labels(&self, sheet: &str) -> Option<Labels<'_>> {
        let Some(ground) = self.ground else {
            return self.files.labels(sheet);
        };
        ground.map(sheet).map(|map| Labels {
            width_px: map.width_px,
            height_px: map.height_px,
            codes: map.labels.as_slice().into(),
        })
    }

    fn colours(&self, layer: &str, sheet: &str) -> Option<Colours<'_>> {
        self.files.colours(layer, sheet)
    }
}

impl Desk {
    fn run(&mut self) -> Audit {
        // Without surface or maps the audit says so itself.
        let _ = self.ground();
        let document = self.journal.document();
        let surface = self.surface.as_ref().and_then(|s| s.as_ref().ok());
        let read = &*self.files;
        let sources = DeskSources {
            files: FileSources::with_surface(document, read, surface),
            ground: self.ground.as_ref(),
        };
        ganosis_audit::run(document, &sources)
    }

    /// Audits the document as it stands, as `ganosis audit` does.
    pub fn audit(&mut self) -> &Audit {
        let mark = self.journal.mark();
        let known = self.audited.take().filter(|(of, _)| *of == mark);
        let audit = known.unwrap_or_else(|| (mark, self.run()));
        &self.audited.insert(audit).1
    }

    /// Where two states part.
    ///
    /// # Errors
    /// If there is no such state.
    pub fn compare(&mut self, left: &str, right: &str) -> Result<Value, DeskError> {
        self.audit();
        let (document, audited) = (self.journal.document(), &self.audited);
        let partings = audited
            .as_ref()
            .and_then(|(_, audit)| compare::compare(document, left, right, &audit.measures))
            .ok_or_else(|| format!("this dossier has no state \"{left}\" or \"{right}\""))?;
        Ok(json!(partings))
    }

    /// What the elements of an observation are consistent with; null if they tell of nothing.
    ///
    /// # Errors
    /// If there is no such observation.
    pub fn hints(&self, evidence: &str) -> Result<Value, DeskError> {
        let document = self.journal.document();
        let item = document.evidence.iter().find(|item| item.id == evidence);
        let item = item.ok_or_else(|| format!("this dossier has no evidence \"{evidence}\""))?;
        Ok(json!(hints::for_evidence(document, item)))
    }

    /// Areas of the regions, and of what belongs to none, m².
    ///
    /// # Errors
    /// If the surface or a region map cannot be read.
    pub fn areas(&mut self) -> Result<Value, DeskError> {
        self.make_geometry()?;
        let (Some(geometry), Some(Ok(surface)), Some(ground)) =
            (&self.geometry, &self.surface, &self.ground)
        else {
            return Err("the surface is not here".into());
        };
        let areas = geometry.areas(surface, &ground.maps);
        let regions = areas.regions_m2.iter();
        let list: Vec<Value> = regions
            .map(|(number, area_m2)| json!({"number": number, "area_m2": area_m2}))
            .collect();
        Ok(json!({"regions": list, "unassigned_m2": areas.unassigned_m2}))
    }

    /// Every file that the dossier names, with those that its surface names, sorted.
    #[must_use]
    pub fn file_names(&self) -> Vec<String> {
        let document = self.journal.document();
        let mut names: Vec<String> = named_files(document)
            .into_iter()
            .map(str::to_owned)
            .collect();
        let file = &document.surface.file;
        let surface = (self.files)(file).ok();
        let outside = surface.and_then(|bytes| gltf_json::json_of(&bytes));
        for name in outside.iter().flat_map(gltf_json::outside_files) {
            names.push(ganosis_surface::beside(file, &name));
        }
        names.retain(|name| !name.is_empty());
        names.sort();
        names.dedup();
        names
    }

    /// Pins and observations as Web Annotations (JSON-LD).
    #[must_use]
    pub fn annotations(&self) -> Value {
        collection(self.journal.document())
    }

    /// Reads annotations into the pins, as one step, with a report.
    ///
    /// # Errors
    /// If there is no annotation to read, or the result would have new errors.
    pub fn merge_annotations(
        &mut self,
        text: &str,
        label: &str,
    ) -> Result<(Outcome, Value), DeskError> {
        let document = self.journal.document();
        let merged = merge(document, text.as_bytes()).map_err(|error| error.to_string())?;
        let steps = steps_of(document, &merged);
        let outcome = if steps.is_empty() {
            self.outcome(false, &[])
        } else {
            self.apply(&steps, label)?
        };
        Ok((outcome, report(&merged)))
    }
}

/// What merging has changed, field by field, so that the rest stays as it was written.
fn steps_of(before: &Dossier, merged: &Merged) -> Vec<Step> {
    let mut steps = Vec::new();
    for (index, pin) in merged.document.pins.iter().enumerate() {
        let after = json!(pin);
        let Some(known) = before.pins.get(index).map(|pin| json!(pin)) else {
            steps.push(Step {
                op: Operation::Insert,
                path: "/pins/-".to_owned(),
                value: after,
            });
            continue;
        };
        for (field, value) in after.as_object().into_iter().flatten() {
            if known.get(field) != Some(value) {
                steps.push(Step {
                    op: Operation::Set,
                    path: format!(
                        "/pins/{index}/{}",
                        field.replace('~', "~0").replace('/', "~1")
                    ),
                    value: value.clone(),
                });
            }
        }
    }
    steps
}

fn report(merged: &Merged) -> Value {
    let changed: Vec<Value> = merged
        .changed
        .iter()
        .map(|change| json!({"pin": change.pin, "what": change.what}))
        .collect();
    let left_out: Vec<Value> = merged
        .left_out
        .iter()
        .map(|left| json!({"annotation": left.annotation, "reason": left.reason}))
        .collect();
    json!({"added": merged.added, "changed": changed, "unchanged": merged.unchanged,
           "left_out": left_out, "notes": merged.notes})
}
