//! What is to be fetched, and what came.

use ganosis_colorimetry::spectrum::Spectrum;
use ganosis_renderer::{Renderer, RendererError};

use super::App;
use crate::content::{Appearance, Content, ImageKind, OpenError, Problem, Progress, Values};

/// Something to be fetched.
#[derive(Clone, Debug, PartialEq)]
pub struct Want {
    /// For `supply` and `fail`.
    pub id: String,
    /// From the folder of the opened file; none for an image inside the mesh file.
    pub path: Option<String>,
    /// `surface`, `buffer`, `colour`, `band`, `labels` or `spectrum`.
    pub kind: &'static str,
    /// Id of its layer.
    pub layer: Option<String>,
    /// Id of its sheet.
    pub sheet: Option<String>,
    /// Needed for the first picture.
    pub urgent: bool,
}

impl App {
    /// What is to be fetched next, the most urgent first.
    #[must_use]
    pub fn wanted(&self) -> Vec<Want> {
        let Some(content) = &self.content else {
            return Vec::new();
        };
        let mut wants: Vec<Want> = content
            .wanted_files()
            .into_iter()
            .map(|(id, path, buffer)| Want {
                id,
                path: Some(path),
                kind: if buffer { "buffer" } else { "surface" },
                layer: None,
                sheet: None,
                urgent: true,
            })
            .collect();
        let ranks = self.image_ranks(content);
        let mut order: Vec<usize> = (0..content.images.len())
            .filter(|&i| content.images[i].progress == Progress::Wanted)
            .collect();
        order.sort_by_key(|&i| ranks[i]);
        wants.extend(order.into_iter().map(|i| {
            let image = &content.images[i];
            Want {
                id: format!("image:{i}"),
                path: match &image.source {
                    crate::content::Source::File(path) => Some(path.clone()),
                    crate::content::Source::Embedded(_) | crate::content::Source::Drawn => None,
                },
                kind: match image.kind {
                    ImageKind::Colour => "colour",
                    ImageKind::Band => "band",
                    ImageKind::Labels => "labels",
                },
                layer: image.layer.map(|l| content.document.layers[l].id.clone()),
                sheet: Some(content.sheet_id(image.sheet).to_owned()),
                urgent: ranks[i] == 0,
            }
        }));
        wants.extend(self.wanted_spectra(content));
        wants.extend(self.finer_level().map(|level| Want {
            id: format!("surface:{level}"),
            path: Some(content.file_of_surface(Some(level))),
            kind: "surface",
            layer: None,
            sheet: None,
            urgent: false,
        }));
        wants
    }

    /// Spectra are fetched once a lamp is chosen.
    fn wanted_spectra(&self, content: &Content) -> Vec<Want> {
        let chosen = self.view.as_ref().is_some_and(|v| v.lamp.is_some());
        let spectra = content.wanted_spectra().filter(|_| chosen);
        spectra
            .map(|(i, path)| Want {
                id: format!("spectrum:{i}"),
                path: Some(path.to_owned()),
                kind: "spectrum",
                layer: None,
                sheet: None,
                urgent: false,
            })
            .collect()
    }

    fn spectrum_index(id: &str) -> Option<usize> {
        id.strip_prefix("spectrum:")?.parse().ok()
    }

    fn supply_spectrum(&mut self, entry: usize, bytes: &[u8]) -> Result<(), OpenError> {
        let read = std::str::from_utf8(bytes)
            .map_err(|e| e.to_string())
            .and_then(|text| Spectrum::reflectance_from_csv(text).map_err(|e| e.to_string()));
        match read {
            Ok(spectrum) => {
                if let Some(content) = &mut self.content {
                    content.spectra.insert(entry, spectrum);
                }
                self.table_is_stale();
                self.dirty = true;
                Ok(())
            }
            Err(message) => {
                let id = format!("spectrum:{entry}");
                let file = self.file_of_spectrum(entry);
                self.fail(&id, &message);
                Err(OpenError { file, message })
            }
        }
    }

    fn file_of_spectrum(&self, entry: usize) -> String {
        let palette = self.content.as_ref().map(|c| &c.document.palette);
        palette
            .and_then(|p| p.get(entry)?.spectrum.clone())
            .unwrap_or_default()
    }

    /// 0 left, 1 right and the band over everything, 2 region map, 3 the other states, 4 the rest.
    pub(super) fn image_ranks(&self, content: &Content) -> Vec<u8> {
        let mut ranks = vec![4_u8; content.images.len()];
        for state in 0..content.document.states.len() {
            content
                .images_for(Appearance::State(state))
                .into_iter()
                .for_each(|i| ranks[i] = 3);
        }
        for (i, image) in content.images.iter().enumerate() {
            if image.kind == ImageKind::Labels {
                ranks[i] = 2;
            }
        }
        if let Some(view) = &self.view {
            let ids = view.shown();
            let ranked = ids.iter().enumerate().rev();
            let ranked = ranked.map(|(i, id)| (*id, u8::from(i > 0)));
            let beside = [(view.right.as_str(), 1)].into_iter();
            let over = view.over.as_deref().map(|id| (id, 1));
            for (id, rank) in beside.chain(over).chain(ranked) {
                let images = content
                    .appearance(id)
                    .map(|a| content.images_for(a))
                    .unwrap_or_default();
                images
                    .into_iter()
                    .for_each(|i| ranks[i] = ranks[i].min(rank));
            }
        }
        ranks
    }

    /// Takes the bytes of something wanted: mesh, buffer, band image or region map.
    ///
    /// # Errors
    /// When the content is bad; it then counts as failed and the rest goes on.
    #[cfg(feature = "files")]
    pub fn supply(&mut self, id: &str, bytes: &[u8]) -> Result<(), OpenError> {
        let Some(content) = &mut self.content else {
            return Ok(());
        };
        if id == "surface" {
            content.supply_surface(bytes.to_vec())?;
        } else if let Some(level) = Self::level_of(id) {
            let surface = content.read_level(level, bytes)?;
            self.take_surface(id, surface)?;
        } else if let Some(uri) = id.strip_prefix("buffer:") {
            content.supply_buffer(uri, bytes.to_vec())?;
        } else if id.starts_with("image:") {
            let read = crate::decode::grey(bytes).map_err(|e| e.to_string());
            return self.supply_values(id, read);
        } else {
            return self.supply_text(id, bytes);
        }
        self.show_surface();
        Ok(())
    }

    /// Takes the bytes of a spectrum.
    ///
    /// # Errors
    /// When it is none.
    pub fn supply_text(&mut self, id: &str, bytes: &[u8]) -> Result<(), OpenError> {
        match Self::spectrum_index(id) {
            Some(entry) => self.supply_spectrum(entry, bytes),
            None => Ok(()),
        }
    }

    pub(super) fn image_index(&self, id: &str) -> Option<usize> {
        let index: usize = id.strip_prefix("image:")?.parse().ok()?;
        (index < self.content.as_ref()?.images.len()).then_some(index)
    }

    /// Takes the numbers of a band image or a region map, or why there are none.
    ///
    /// # Errors
    /// When there are none, or the device refuses them; it then counts as failed and the rest goes on.
    pub fn supply_values(
        &mut self,
        id: &str,
        read: Result<Values, String>,
    ) -> Result<(), OpenError> {
        let Some(index) = self.image_index(id) else {
            return Ok(());
        };
        let outcome = read.and_then(|values| {
            self.upload_values(index, &values)
                .map_err(|e| e.to_string())
                .map(|id| (id, values))
        });
        let Some(content) = &mut self.content else {
            return Ok(());
        };
        match outcome {
            Ok((texture, values)) => {
                content.images[index].progress = Progress::Here(texture);
                content.images[index].values = Some(values);
                self.note_tiled(index);
                self.late_patches(index);
                self.paints_stale = true;
                self.dirty = true;
                Ok(())
            }
            Err(message) => {
                self.fail(id, &message);
                Err(OpenError {
                    file: self.file_of(index),
                    message,
                })
            }
        }
    }

    pub(super) fn upload_values(
        &mut self,
        index: usize,
        values: &Values,
    ) -> Result<ganosis_renderer::TextureId, RendererError> {
        let kind = self.content.as_ref().map(|c| c.images[index].kind);
        let Some(renderer) = &mut self.renderer else {
            return Err(RendererError::NoDevice {
                detail: "not started".to_owned(),
            });
        };
        let [width, height] = values.size;
        if kind == Some(ImageKind::Labels) {
            return renderer.add_labels(width, height, &values.texels);
        }
        values.with_samples(|samples| renderer.add_band(width, height, samples))
    }

    /// Takes a colour image through `upload`, which puts it on the GPU; one that was here before makes room.
    ///
    /// # Errors
    /// When the device refuses it; it then counts as failed and the rest goes on.
    pub fn supply_colour(
        &mut self,
        id: &str,
        upload: &dyn Fn(&mut Renderer) -> Result<ganosis_renderer::TextureId, RendererError>,
    ) -> Result<(), OpenError> {
        let Some(index) = self.image_index(id) else {
            return Ok(());
        };
        let Some(renderer) = &mut self.renderer else {
            return Ok(());
        };
        let progress = self.content.as_ref().map(|c| &c.images[index].progress);
        if let Some(Progress::Here(old)) = progress {
            renderer.replace(*old);
        }
        match upload(renderer) {
            Ok(texture) => {
                if let Some(content) = &mut self.content {
                    content.images[index].progress = Progress::Here(texture);
                }
                self.note_tiled(index);
                self.paints_stale = true;
                self.dirty = true;
                Ok(())
            }
            Err(error) => {
                let message = error.to_string();
                self.fail(id, &message);
                Err(OpenError {
                    file: self.file_of(index),
                    message,
                })
            }
        }
    }

    pub(super) fn file_of(&self, index: usize) -> String {
        match self.content.as_ref().map(|c| (&c.images[index].source, c)) {
            Some((crate::content::Source::File(path), _)) => path.clone(),
            Some((_, content)) => content.document.surface.file.clone(),
            None => String::new(),
        }
    }

    /// Something wanted is not to be had: it is left out and said.
    pub fn fail(&mut self, id: &str, message: &str) {
        let index = self.image_index(id);
        let spectrum = Self::spectrum_index(id);
        let file = match (index, spectrum) {
            (Some(i), _) => Some(self.file_of(i)),
            (None, Some(entry)) => Some(self.file_of_spectrum(entry)),
            (None, None) => None,
        };
        let Some(content) = &mut self.content else {
            return;
        };
        match (index, spectrum) {
            (Some(i), _) => content.images[i].progress = Progress::Failed,
            (None, Some(entry)) => {
                content.failed_spectra.insert(entry);
            }
            // A finer level that is not to be had leaves the coarser one.
            (None, None) if content.surface().is_some() => {}
            (None, None) => content.fail_surface(),
        }
        let file = file.unwrap_or_else(|| content.file_of_surface(Self::level_of(id)));
        content.problems.push(Problem {
            file,
            message: message.to_owned(),
        });
        self.paints_stale = true;
        self.dirty = true;
    }

    /// What could not be shown so far.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        self.content.as_ref().map_or(&[], |c| &c.problems)
    }

    /// True when the first picture can be drawn.
    #[must_use]
    pub fn ready(&self) -> bool {
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return false;
        };
        self.geometry_is_here() && self.arrived(content, &view.left)
    }

    pub(super) fn arrived(&self, content: &Content, id: &str) -> bool {
        let images = content
            .appearance(id)
            .map(|a| content.images_for(a))
            .unwrap_or_default();
        images
            .iter()
            .all(|&i| content.images[i].progress != Progress::Wanted)
    }
}
