//! Poses as a file: one or more photographs, each with its lens and its place.

use serde::{Deserialize, Serialize};

use super::Pose;
use crate::calibration::InputRecord;
use crate::error::{ImagingError, Result};
use crate::geometry::Point;
use crate::lens::{Lens, Projector};

/// The format written.
pub const FORMAT: &str = "ganosis-poses/1";

/// How well a pose is known, as far as it was solved from points.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FitSummary {
    /// Pairs that count.
    pub pairs: usize,
    /// Pairs left out as wrong.
    pub wrong_pairs: usize,
    /// Root mean square of the residuals, in pixels.
    pub rms_px: f64,
    /// The same on the surface, in millimetres.
    pub rms_mm: f64,
    /// Root mean square of each point's distance when it is left out of the fit, in pixels.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub left_out_rms_px: Option<f64>,
}

/// A photograph with its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PosedPhoto {
    /// The photograph; `sha256` is empty where the pose came without it.
    pub photo: InputRecord,
    /// Its lens; positions are those of the pixels as stored, whatever an EXIF flag says.
    pub lens: Lens,
    /// From the surface to the camera.
    pub pose: Pose,
    /// How well it is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub fit: Option<FitSummary>,
}

impl PosedPhoto {
    /// A projector of surface points: see [`SurfaceProjector::pixel_of`].
    pub fn projector(&self) -> SurfaceProjector {
        SurfaceProjector {
            pose: self.pose,
            lens: Projector::new(self.lens),
        }
    }
}

/// Takes points of the surface to the pixels of one photograph.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceProjector {
    /// The place.
    pub pose: Pose,
    /// The lens.
    pub lens: Projector,
}

impl SurfaceProjector {
    /// The pixel of a surface point (metres) and its depth before the camera (metres). `None` where
    /// it is behind the camera or too far aside; the pixel may lie outside the picture.
    pub fn pixel_of(&self, surface_m: [f64; 3]) -> Option<(Point, f64)> {
        let camera = self.pose.camera_of(surface_m);
        Some((self.lens.project(camera)?, camera[2]))
    }
}

/// What a file of poses holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Poses {
    /// [`FORMAT`].
    pub format: String,
    /// The surface that the poses are before.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub surface: Option<InputRecord>,
    /// Files beside it that hold its geometry.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub surface_files: Vec<InputRecord>,
    /// The photographs.
    pub photos: Vec<PosedPhoto>,
}

impl Poses {
    /// A file to write. `surface` are the records of the mesh file and of those beside it that hold its
    /// geometry, its own first.
    pub fn new(surface: Vec<InputRecord>, photos: Vec<PosedPhoto>) -> Self {
        let mut surface = surface.into_iter();
        Self {
            format: FORMAT.to_owned(),
            surface: surface.next(),
            surface_files: surface.collect(),
            photos,
        }
    }

    /// Reads a file of poses; `file` names it in messages.
    ///
    /// # Errors
    /// It is no JSON of this format, or a lens or pose in it is none.
    pub fn read(text: &str, file: &str) -> Result<Self> {
        let bad = |what: String| {
            ImagingError::new(
                what,
                file,
                "Give poses written by “ganosis pose”; make them again if the file is damaged.",
            )
        };
        let read: Self =
            serde_json::from_str(text).map_err(|e| bad(format!("these are no poses: {e}")))?;
        if read.format != FORMAT {
            return Err(bad(format!(
                "its format is “{}”, and {FORMAT} is read",
                read.format
            )));
        }
        if read.photos.is_empty() {
            return Err(bad("it holds no photograph".to_owned()));
        }
        for one in &read.photos {
            let place = format!("{file}, photograph {}", one.photo.file);
            one.lens.check(&place)?;
            one.pose.check(&place)?;
        }
        Ok(read)
    }

    /// The text of the file.
    pub fn text(&self) -> String {
        // Plain data with text keys: it cannot fail.
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The photograph of this name; a file name is also found by its last part.
    pub fn of_photo(&self, name: &str) -> Option<&PosedPhoto> {
        let last = |path: &str| path.rsplit(['/', '\\']).next().unwrap_or(path).to_owned();
        self.photos
            .iter()
            .find(|one| one.photo.file == name)
            .or_else(|| {
                let mut named = self
                    .photos
                    .iter()
                    .filter(|one| last(&one.photo.file) == last(name));
                // Two of one name in different folders cannot be told apart by it.
                named.next().filter(|_| named.next().is_none())
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn poses() -> Poses {
        let photo = |file: &str| PosedPhoto {
            photo: InputRecord {
                file: file.to_owned(),
                sha256: String::new(),
            },
            lens: Lens::simple(600, 400, 800.0),
            pose: Pose {
                rotation: [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]],
                translation_m: [0.0, 0.0, 2.0],
            },
            fit: None,
        };
        Poses::new(
            Vec::new(),
            vec![photo("vis/boss.tif"), photo("uvl/boss-uvl.tif")],
        )
    }

    #[test]
    fn what_is_written_is_read() {
        let written = poses();
        assert_eq!(Poses::read(&written.text(), "p.json"), Ok(written.clone()));
        assert!(written.of_photo("boss.tif").is_some());
        assert!(written.of_photo("other.tif").is_none());
    }

    #[test]
    fn a_point_before_the_camera_lands_where_geometry_says() {
        let (pixel, depth) = poses().photos[0]
            .projector()
            .pixel_of([0.5, 0.25, 0.0])
            .unwrap();
        assert_eq!((pixel, depth), ([500.0, 100.0], 2.0));
    }

    #[test]
    fn a_mirrored_or_scaled_rotation_and_another_format_are_refused() {
        for (from, to) in [
            ("-1.0", "1.0"),
            ("-1.0", "-1.01"),
            ("poses/1", "poses/2"),
            ("800.0", "-800.0"),
            ("800.0", "1e999"),
        ] {
            let text = poses().text().replacen(from, to, 1);
            assert!(Poses::read(&text, "p.json").is_err(), "{from} to {to}");
        }
    }
}
