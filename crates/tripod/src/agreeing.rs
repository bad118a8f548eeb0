//! A pose brought into agreement with a layer of the dossier.

use std::io::Cursor;

use ganosis_imaging::Photo;
use ganosis_imaging::pose::{Agreement, LaidLayer, PosedPhoto, agree_with_layer};
use ganosis_imaging::register::Plane;
use serde::Serialize;

use crate::{Frame, Tripod, TripodError};

/// A pose that agrees with a layer.
#[derive(Debug, Clone, Serialize)]
pub struct Agreed {
    /// The photograph with its new pose.
    pub posed: PosedPhoto,
    /// How they came to agree.
    pub agreement: Agreement,
    /// What the photograph takes in from there.
    pub frame: Frame,
}

impl Tripod {
    /// Names of the sheets of the surface, in the order in which [`Self::agree`] takes their images.
    #[must_use]
    pub fn sheets(&self) -> Vec<String> {
        let sheets = self.surface.sheets.iter();
        sheets.map(|sheet| sheet.name.clone()).collect()
    }

    /// Brings a pose into agreement with a layer, of which `images` has the file of each sheet. Patches
    /// under the nodes `without` are not there.
    ///
    /// # Errors
    /// No photograph was chosen, an image cannot be read, or it is not sure that both show the same.
    pub fn agree(
        &self,
        posed: &PosedPhoto,
        images: &[Option<Vec<u8>>],
        without: &[String],
    ) -> Result<Agreed, TripodError> {
        let held = self.held()?;
        let (w, h) = (held.about.width_px, held.about.height_px);
        if (posed.lens.width_px, posed.lens.height_px) != (w, h) {
            return Err("the lens is not of this photograph".into());
        }
        let plane = |bytes: &Vec<u8>| -> Result<Plane, TripodError> {
            let photo = Photo::read_band(Cursor::new(bytes), "the layer", None)?;
            Ok(Plane::of(&photo))
        };
        let sheets: Vec<Option<Plane>> = images
            .iter()
            .map(|image| image.as_ref().map(plane).transpose())
            .collect::<Result<_, _>>()?;
        let laid = LaidLayer::new(&self.surface, sheets, without)?;
        let agreement =
            agree_with_layer(&held.plane, held.level_px, &posed.lens, &posed.pose, &laid)?;
        let posed = PosedPhoto {
            pose: agreement.pose,
            fit: None,
            ..posed.clone()
        };
        Ok(Agreed {
            frame: Frame::of(&posed.lens, &posed.pose)?,
            posed,
            agreement,
        })
    }
}
