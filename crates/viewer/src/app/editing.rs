//! What editing changes while the picture stays: the document, and parts of region maps.

use ganosis_dossier::Dossier;
use ganosis_dossier::read::document_from_bytes;
use glam::DMat4;
use serde_json::{Value, json};

use super::{App, Event};
use crate::content::{Content, Image, ImageKind, OpenError, Progress, Source, Values};

/// A part of a region map, in texels from the upper left corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rect {
    /// From the left.
    pub x: u32,
    /// From the top.
    pub y: u32,
    /// Width.
    pub width: u32,
    /// Height.
    pub height: u32,
}

fn refused(message: impl Into<String>) -> OpenError {
    OpenError {
        file: "dossier.json".to_owned(),
        message: message.into(),
    }
}

/// Why a document cannot take the place of another over the same picture.
fn obstacle(before: &Dossier, after: &Dossier) -> Option<&'static str> {
    let surface = |d: &Dossier| {
        let sheets = d.surface.sheets.iter();
        let sheets: Vec<_> = sheets.map(|s| (s.id.clone(), s.material.clone())).collect();
        (d.surface.file.clone(), sheets)
    };
    let layers = |d: &Dossier| -> Vec<_> {
        let layers = d.layers.iter();
        layers
            .map(|l| (l.id.clone(), l.kind.clone(), l.images.clone()))
            .collect()
    };
    if surface(before) != surface(after) {
        Some("the surface is another; open the dossier again")
    } else if layers(before) != layers(after) {
        Some("the images of the layers are others; open the dossier again")
    } else {
        None
    }
}

impl App {
    /// Takes an edited document over the same surface and layers; view, images and camera stay.
    ///
    /// # Errors
    /// When it cannot be read or shows something else; nothing has changed then.
    pub fn replace_document(&mut self, json: &str) -> Result<(), OpenError> {
        let reading = document_from_bytes(json.as_bytes()).map_err(|e| refused(e.to_string()))?;
        let Some(content) = &mut self.content else {
            return Err(refused("no dossier is open"));
        };
        if content.plain_mesh {
            return Err(refused("a 3D file alone has no document to change"));
        }
        if let Some(obstacle) = obstacle(&content.document, &reading.document) {
            return Err(refused(obstacle));
        }
        content.replace_document(reading.document);
        if let Some(view) = &mut self.view {
            view.keep_to(content);
        }
        self.paints_stale = true;
        self.areas_m2 = None;
        self.table_is_stale();
        self.dirty = true;
        self.events.push(Event::Document);
        self.events.push(Event::View);
        Ok(())
    }

    /// Index of the sheet in the mesh, and of its region map among the images.
    fn labels_of(&self, sheet: &str) -> Result<(usize, Option<usize>), OpenError> {
        let content = self.content.as_ref();
        let content = content.ok_or_else(|| refused("no dossier is open"))?;
        let number = content
            .mesh_sheet(sheet)
            .ok_or_else(|| refused(format!("the surface has no sheet {sheet}")))?;
        Ok((number, content.image_of(None, number, ImageKind::Labels)))
    }

    /// Makes an empty region map for a sheet that has none.
    ///
    /// # Errors
    /// When there is no such sheet, or the device refuses the size.
    pub fn ensure_labels(&mut self, sheet: &str, size: [u32; 2]) -> Result<(), OpenError> {
        let (number, known) = self.labels_of(sheet)?;
        let failed = |i: usize| {
            let content = self.content.as_ref();
            content.is_some_and(|c| c.images[i].progress == Progress::Failed)
        };
        if known.is_some_and(|i| !failed(i)) {
            return Ok(());
        }
        let values = Values {
            size,
            texels: vec![0; size[0] as usize * size[1] as usize],
            full_scale: u16::MAX,
        };
        let texture = self
            .renderer
            .as_mut()
            .map(|r| r.add_labels(size[0], size[1], &values.texels));
        let texture = texture.ok_or_else(|| refused("there is no graphics device"))?;
        let texture = texture.map_err(|e| refused(e.to_string()))?;
        let image = Image {
            kind: ImageKind::Labels,
            layer: None,
            sheet: number,
            source: Source::Drawn,
            tiled: None,
            progress: Progress::Here(texture),
            values: Some(values),
        };
        if let Some(content) = &mut self.content {
            match known {
                Some(i) => content.images[i] = image,
                None => content.images.push(image),
            }
        }
        self.paints_stale = true;
        self.dirty = true;
        Ok(())
    }

    /// Writes a part of a region map, rows from the top; one that is still on its way gets it when it
    /// is here.
    ///
    /// # Errors
    /// When the sheet has no region map, or the part does not lie in it.
    pub fn patch_labels(
        &mut self,
        sheet: &str,
        rect: Rect,
        texels: &[u16],
    ) -> Result<(), OpenError> {
        let (_, index) = self.labels_of(sheet)?;
        let Some((index, content)) = index.zip(self.content.as_mut()) else {
            return Err(refused(format!("the sheet {sheet} has no region map")));
        };
        let image = &mut content.images[index];
        let Some(values) = &mut image.values else {
            content.late_patches.push((index, rect, texels.to_vec()));
            return Ok(());
        };
        if !values.write(rect, texels) {
            return Err(refused(format!(
                "a drawing does not fit the region map of the sheet {sheet}, of {} × {} px",
                values.size[0], values.size[1]
            )));
        }
        if let (Progress::Here(texture), Some(renderer)) = (&image.progress, &self.renderer) {
            renderer.write_labels(
                *texture,
                [rect.x, rect.y],
                [rect.width, rect.height],
                texels,
            );
        }
        self.areas_m2 = None;
        self.legend_told = None;
        self.dirty = true;
        Ok(())
    }

    /// What came while a region map was on its way.
    pub(super) fn late_patches(&mut self, index: usize) {
        let Some(content) = &mut self.content else {
            return;
        };
        let (mine, others) = std::mem::take(&mut content.late_patches)
            .into_iter()
            .partition(|(of, _, _)| *of == index);
        content.late_patches = others;
        let mine: Vec<(usize, Rect, Vec<u16>)> = mine;
        let sheet = content.sheet_id(content.images[index].sheet).to_owned();
        for (_, rect, texels) in mine {
            // One that does not fit what came is of another map, and shows nowhere.
            let _ = self.patch_labels(&sheet, rect, &texels);
        }
    }

    /// The place on the surface under a point of the canvas:
    /// `{position, normal, sheet, uv}`, metres; null off the surface.
    pub fn anchor_at(&mut self, x: f64, y: f64) -> Value {
        let place = self.place_at(x, y);
        place
            .zip(self.content.as_ref())
            .map_or(Value::Null, |(place, content)| {
                json!({"position": place.position_m.to_array(), "normal": place.normal.to_array(),
                   "sheet": content.sheet_id(place.sheet), "uv": place.uv})
            })
    }

    /// How space comes to the canvas, or to the first of its panes:
    /// `{view_projection, eye, width, height}`, column-major, metres and CSS pixels; null before there
    /// is a view.
    #[must_use]
    pub fn projection(&self) -> Value {
        let (Some(content), Some(view), Some(ball)) = (&self.content, &self.view, self.ball) else {
            return Value::Null;
        };
        let (basis, origin) = (content.basis(), self.origin_m());
        let clip_from_scene = view
            .camera
            .clip_from_scene(&basis, self.aspect(), ball, origin);
        let clip_from_space = clip_from_scene.as_dmat4() * DMat4::from_translation(-origin);
        let [width, height] = self.pane_size();
        json!({"view_projection": clip_from_space.to_cols_array(),
               "eye": view.camera.eye_m(&basis).to_array(), "width": width, "height": height})
    }
}

impl Content {
    /// Index in the mesh of a sheet of the document.
    pub(super) fn mesh_sheet(&self, id: &str) -> Option<usize> {
        let surface = self.surface()?;
        (0..surface.sheets.len()).find(|number| self.sheet_id(*number) == id)
    }
}
