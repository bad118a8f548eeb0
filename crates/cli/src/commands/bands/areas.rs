//! The areas of regions: on layers by the texels' places, on photographs by their pose.

use std::cell::OnceCell;
use std::path::Path;

use ganosis_audit::decoded;
use ganosis_imaging::bands::regions::Labels;
use ganosis_imaging::drape::areas::pixel_areas_m2;
use ganosis_imaging::drape::mesh::faces_of;
use ganosis_imaging::drape::{Mesh, SheetSize, View};
use ganosis_imaging::pose::{PosedPhoto, Poses};
use ganosis_surface::Surface;

use super::inputs::Source;
use super::{Arguments, Written};
use crate::commands::chart_files::{self as files, trouble};
use crate::commands::pose_inputs;
use crate::trouble::Trouble;

/// What is needed for areas; it is worked out when regions first ask for it.
pub(super) struct Areas {
    /// Area in m² of the surface that each texel of the layers covers.
    texel_m2: OnceCell<Vec<f32>>,
    posed: Option<Posed>,
}

/// A surface as the photographs show it.
struct Posed {
    photo: PosedPhoto,
    surface: Surface,
    leave_out: Vec<String>,
    /// Area in m² of the surface that each pixel shows.
    pixel_m2: OnceCell<Vec<f32>>,
}

impl Areas {
    /// Reads pose and surface, where they are given; their records go with those of the images.
    pub(super) fn read(arguments: &Arguments, source: &mut Source) -> anyhow::Result<Self> {
        let posed = match (&arguments.pose, &arguments.surface) {
            (Some(pose), Some(surface)) => {
                Some(Posed::read(pose, surface, &arguments.leave_out, source)?)
            }
            // clap asks for both.
            _ => None,
        };
        Ok(Self {
            texel_m2: OnceCell::new(),
            posed,
        })
    }

    /// Areas in cm² of regions; `None` for those on photographs without a pose.
    pub(super) fn of_regions(
        &self,
        labels: &Labels,
        source: &Source,
        dossier: Option<&Written>,
    ) -> anyhow::Result<Option<Vec<f64>>> {
        let each_m2 = match (&source.sheets, dossier, &self.posed) {
            (Some(sheets), Some(dossier), _) if labels.pages_px == source.sheets_px => {
                if self.texel_m2.get().is_none() {
                    let mesh = mesh(&source.sheets_px, sheets, dossier)?;
                    let _ = self.texel_m2.set(mesh.texel_areas());
                }
                self.texel_m2.get()
            }
            (_, _, Some(posed)) => Some(posed.pixel_m2(labels)?),
            _ => None,
        };
        let areas = each_m2.map(|m2| labels.areas_cm2(m2)).transpose();
        areas.map_err(trouble)
    }
}

impl Posed {
    fn read(
        pose: &Path,
        surface: &Path,
        leave_out: &[String],
        source: &mut Source,
    ) -> anyhow::Result<Self> {
        let text = files::text(pose)?;
        let poses = Poses::read(&text, &pose.display().to_string()).map_err(trouble)?;
        let [photo] = poses.photos.as_slice() else {
            return Err(Trouble::error(
                format!("these are poses of {} photographs", poses.photos.len()),
                pose.display(),
                "Give the pose of one: of that to which the others were registered.",
            ));
        };
        source.records.push(files::record(pose)?);
        let (surface, records) = pose_inputs::surface(surface)?;
        source.records.extend(records);
        Ok(Self {
            photo: photo.clone(),
            surface,
            leave_out: leave_out.to_vec(),
            pixel_m2: OnceCell::new(),
        })
    }

    fn pixel_m2(&self, labels: &Labels) -> anyhow::Result<&Vec<f32>> {
        let lens = &self.photo.lens;
        if labels.pages_px != [(lens.width_px, lens.height_px)] {
            return Err(Trouble::error(
                format!(
                    "the regions are on {:?} px, the pose was made for {} × {} px",
                    labels.pages_px, lens.width_px, lens.height_px
                ),
                "--pose",
                "Give the pose of the photograph to which the others were registered.",
            ));
        }
        Ok(self.pixel_m2.get_or_init(|| {
            let is_there = |patch: usize| {
                let mut path = self.surface.patches[patch].node_path.iter();
                !path.any(|node| self.leave_out.contains(node))
            };
            let faces = faces_of(&self.surface, &is_there);
            pixel_areas_m2(&View::new(&self.photo, None), &faces)
        }))
    }
}

fn unreadable(file: &str, reason: &str) -> anyhow::Error {
    Trouble::error(
        format!("the surface cannot be read: {reason}"),
        file,
        "Run “ganosis check” on the dossier.",
    )
}

/// The surface with sheets of the size of the pages, in their order.
fn mesh(pages: &[(usize, usize)], sheets: &[String], dossier: &Written) -> anyhow::Result<Mesh> {
    let file = &dossier.document.surface.file;
    let read = |path: &str| dossier.store.read(path).map_err(|e| e.to_string());
    let surface = decoded::surface(&dossier.document, &read).map_err(|e| unreadable(file, &e))?;
    let material = |id: &str| {
        let own = dossier.document.surface.sheets.iter().find(|s| s.id == id);
        own.map_or(id, |s| s.material.as_str()).to_owned()
    };
    // Pages are in the order of the layer's images; the mesh wants the order of the surface.
    let order: Vec<Option<usize>> = surface
        .sheets
        .iter()
        .map(|sheet| sheets.iter().position(|id| material(id) == sheet.name))
        .collect();
    if order.iter().flatten().copied().ne(0..sheets.len()) {
        return Err(Trouble::error(
            "the layer's images are not in the order of the surface's sheets",
            file,
            "Write the images of the layer in the order of the materials.",
        ));
    }
    let sizes = surface.sheets.iter().zip(&order).map(|(sheet, page)| {
        let (width, height) = page.and_then(|p| pages.get(p).copied()).unwrap_or((0, 0));
        SheetSize {
            name: sheet.name.clone(),
            width_px: width as u32,
            height_px: height as u32,
        }
    });
    Mesh::new(&surface, sizes.collect(), &|_| true).map_err(trouble)
}
