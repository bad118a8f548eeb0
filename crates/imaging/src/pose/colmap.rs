//! Lenses and poses in the text model that the COLMAP documentation describes (page "Output format",
//! section "Text format"): `cameras.txt`, `images.txt` and, for scale and reprojection, `points3D.txt`.
//!
//! Its pixels count from the top left corner as here, its camera axes are the same, and its rotation
//! and translation go from its world to the camera. Its unit is none: [`super::similarity`] brings it
//! to the surface.

use std::collections::HashMap;

use nalgebra::{Quaternion, UnitQuaternion, Vector3};

use super::{Pose, PosedPhoto};
use crate::calibration::InputRecord;
use crate::error::{ImagingError, Result};
use crate::geometry::{Point, distance};
use crate::lens::{Distortion, Lens, Projector};

/// The files read, by their names.
pub const CAMERAS: &str = "cameras.txt";
/// Photographs.
pub const IMAGES: &str = "images.txt";
/// Points in space; may be left out.
pub const POINTS: &str = "points3D.txt";

/// A model.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Model {
    /// Photographs in the order of the file; translations are in the model's unit.
    pub photos: Vec<PosedPhoto>,
    /// Points seen in each photograph, with the point in space.
    pub seen: Vec<Vec<(Point, u64)>>,
    /// Points in space by number, in the model's unit.
    pub points: HashMap<u64, [f64; 3]>,
}

/// How the model's points fall onto where they were seen in one photograph.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reprojection {
    /// Points compared.
    pub points: usize,
    /// Root mean square of the distances, in pixels.
    pub rms_px: f64,
    /// The largest.
    pub max_px: f64,
}

impl Model {
    /// Reads a model from the texts of its files. `place` names the folder.
    ///
    /// # Errors
    /// A line is not as documented, a camera model is none of those with Brown-Conrady distortion, or
    /// a camera is missing.
    pub fn read(cameras: &str, images: &str, points: Option<&str>, place: &str) -> Result<Self> {
        let lenses = lenses(cameras, &format!("{place}/{CAMERAS}"))?;
        let mut model = Self::default();
        model.read_images(images, &lenses, &format!("{place}/{IMAGES}"))?;
        if let Some(points) = points {
            model.points = points_of(points, &format!("{place}/{POINTS}"))?;
        }
        Ok(model)
    }

    fn read_images(&mut self, text: &str, lenses: &HashMap<u64, Lens>, file: &str) -> Result<()> {
        let is_comment = |line: &str| line.trim_start().starts_with('#');
        let mut lines = text
            .lines()
            .enumerate()
            .filter(|(_, line)| !is_comment(line));
        while let Some((number, line)) = lines.next() {
            // The line of points may be empty; an empty line here is at the end or between.
            if line.trim().is_empty() {
                continue;
            }
            let place = format!("{file}, line {}", number + 1);
            let (camera, photo) = photo_of(line, &place)?;
            let Some(lens) = lenses.get(&camera) else {
                return Err(bad(format!("camera {camera} is not in {CAMERAS}"), place));
            };
            self.photos.push(PosedPhoto {
                lens: *lens,
                ..photo
            });
            let seen = match lines.next() {
                Some((number, line)) => seen_of(line, &format!("{file}, line {}", number + 1))?,
                None => Vec::new(),
            };
            self.seen.push(seen);
        }
        if self.photos.is_empty() {
            return Err(bad("it holds no photograph".to_owned(), file.to_owned()));
        }
        Ok(())
    }

    /// How well the points fit a photograph; `None` where none are known.
    pub fn reprojection(&self, photo: usize) -> Option<Reprojection> {
        let one = self.photos.get(photo)?;
        let projector = Projector::new(one.lens);
        let off: Vec<f64> = self.seen[photo]
            .iter()
            .filter_map(|(pixel, id)| {
                let camera = one.pose.camera_of(*self.points.get(id)?);
                Some(distance(projector.project(camera)?, *pixel))
            })
            .collect();
        let rms_px = super::quality::rms(off.iter().copied())?;
        Some(Reprojection {
            points: off.len(),
            rms_px,
            max_px: off.iter().copied().fold(0.0, f64::max),
        })
    }
}

fn bad(what: String, place: String) -> ImagingError {
    ImagingError::new(
        what,
        place,
        "Export the model again as text (cameras.txt, images.txt, points3D.txt).",
    )
}

fn number(text: &str, what: &str, place: &str) -> Result<f64> {
    let read = text.parse::<f64>().ok().filter(|v| v.is_finite());
    read.ok_or_else(|| {
        bad(
            format!("{what} is “{text}”, which is no number"),
            place.to_owned(),
        )
    })
}

fn id(text: &str, what: &str, place: &str) -> Result<u64> {
    let read = text.parse::<u64>();
    read.map_err(|_| {
        bad(
            format!("{what} is “{text}”, which is no number"),
            place.to_owned(),
        )
    })
}

fn rows<'a>(text: &'a str, file: &'a str) -> impl Iterator<Item = (String, Vec<&'a str>)> {
    text.lines()
        .enumerate()
        .filter(|(_, line)| !line.trim().is_empty() && !line.trim_start().starts_with('#'))
        .map(move |(i, line)| {
            let place = format!("{file}, line {}", i + 1);
            (place, line.split_whitespace().collect())
        })
}

fn lenses(text: &str, file: &str) -> Result<HashMap<u64, Lens>> {
    let mut lenses = HashMap::new();
    for (place, fields) in rows(text, file) {
        let [camera, model, width, height, parameters @ ..] = fields.as_slice() else {
            return Err(bad("a camera has fewer than four fields".to_owned(), place));
        };
        let size = |text: &str, what: &str| -> Result<usize> {
            // A picture of more pixels along a side than 2³² is none.
            let px = id(text, what, &place)?;
            u32::try_from(px)
                .map(|px| px as usize)
                .map_err(|_| bad(format!("{what} is {px}"), place.clone()))
        };
        let numbers: Vec<f64> = parameters
            .iter()
            .map(|text| number(text, "a parameter", &place))
            .collect::<Result<_>>()?;
        let lens = Lens {
            width_px: size(width, "the width")?,
            height_px: size(height, "the height")?,
            ..lens_of(model, &numbers, &place)?
        };
        lens.check(&place)?;
        lenses.insert(id(camera, "the camera's number", &place)?, lens);
    }
    Ok(lenses)
}

/// The camera models whose distortion is of the Brown-Conrady kind, with their parameters in the
/// order of the documentation.
fn lens_of(model: &str, n: &[f64], place: &str) -> Result<Lens> {
    let wanted = match model {
        "SIMPLE_PINHOLE" => 3,
        "PINHOLE" | "SIMPLE_RADIAL" => 4,
        "RADIAL" => 5,
        "OPENCV" => 8,
        "FULL_OPENCV" => 12,
        other => {
            return Err(ImagingError::new(
                format!("the camera model {other} is not read"),
                place,
                "Export with SIMPLE_PINHOLE, PINHOLE, SIMPLE_RADIAL, RADIAL, OPENCV or \
                 FULL_OPENCV, or undistort the photographs first.",
            ));
        }
    };
    if n.len() != wanted {
        return Err(bad(
            format!("{model} has {wanted} parameters, and {} are there", n.len()),
            place.to_owned(),
        ));
    }
    let none = Distortion::default();
    let one_focal = matches!(model, "SIMPLE_PINHOLE" | "SIMPLE_RADIAL" | "RADIAL");
    let (focal_px, rest) = if one_focal {
        ([n[0]; 2], &n[1..])
    } else {
        ([n[0], n[1]], &n[2..])
    };
    let d = &rest[2..];
    let distortion = match model {
        "SIMPLE_RADIAL" => Distortion { k1: d[0], ..none },
        "RADIAL" => Distortion {
            k1: d[0],
            k2: d[1],
            ..none
        },
        "OPENCV" => Distortion {
            k1: d[0],
            k2: d[1],
            p1: d[2],
            p2: d[3],
            ..none
        },
        "FULL_OPENCV" => Distortion {
            k1: d[0],
            k2: d[1],
            p1: d[2],
            p2: d[3],
            k3: d[4],
            k4: d[5],
            k5: d[6],
            k6: d[7],
        },
        _ => none,
    };
    Ok(Lens {
        width_px: 0,
        height_px: 0,
        focal_px,
        centre_px: [rest[0], rest[1]],
        distortion,
    })
}

/// The camera's number, and the photograph with a lens that is still to be put in.
fn photo_of(line: &str, place: &str) -> Result<(u64, PosedPhoto)> {
    let mut rest = line.trim();
    // The name comes last and may hold spaces.
    let mut fields = [""; 9];
    for field in &mut fields {
        let (first, others) = rest.split_once(char::is_whitespace).ok_or_else(|| {
            bad(
                "a photograph has fewer than ten fields".to_owned(),
                place.to_owned(),
            )
        })?;
        *field = first;
        rest = others.trim_start();
    }
    let mut n = [0.0; 7];
    for (value, text) in n.iter_mut().zip(&fields[1..8]) {
        *value = number(text, "a number of the pose", place)?;
    }
    let turn = Quaternion::new(n[0], n[1], n[2], n[3]);
    // Written with six digits at least.
    if (turn.norm() - 1.0).abs() > 1e-4 {
        return Err(bad(
            format!("the quaternion has the length {}, not 1", turn.norm()),
            place.to_owned(),
        ));
    }
    let rotation = UnitQuaternion::from_quaternion(turn).to_rotation_matrix();
    let photo = PosedPhoto {
        photo: InputRecord {
            file: rest.to_owned(),
            sha256: String::new(),
        },
        lens: Lens::simple(1, 1, 1.0),
        pose: Pose::new(&rotation, Vector3::new(n[4], n[5], n[6])),
        fit: None,
    };
    Ok((id(fields[8], "the camera's number", place)?, photo))
}

fn seen_of(line: &str, place: &str) -> Result<Vec<(Point, u64)>> {
    let fields: Vec<&str> = line.split_whitespace().collect();
    if !fields.len().is_multiple_of(3) {
        return Err(bad(
            "points of a photograph come in threes (x, y, number), and these do not; a photograph \
             without points has an empty line"
                .to_owned(),
            place.to_owned(),
        ));
    }
    let mut seen = Vec::new();
    for three in fields.chunks_exact(3) {
        let x = number(three[0], "x", place)?;
        let y = number(three[1], "y", place)?;
        // -1 stands for a point that is not in the model.
        if let Ok(id) = three[2].parse::<u64>() {
            seen.push(([x, y], id));
        }
    }
    Ok(seen)
}

fn points_of(text: &str, file: &str) -> Result<HashMap<u64, [f64; 3]>> {
    let mut points = HashMap::new();
    for (place, fields) in rows(text, file) {
        let [point, x, y, z, ..] = fields.as_slice() else {
            return Err(bad("a point has fewer than four fields".to_owned(), place));
        };
        let mut xyz = [0.0; 3];
        for (value, text) in xyz.iter_mut().zip([x, y, z]) {
            *value = number(text, "a coordinate", &place)?;
        }
        points.insert(id(point, "the point's number", &place)?, xyz);
    }
    Ok(points)
}

#[cfg(test)]
mod tests {
    use super::*;

    const CAMERAS_TEXT: &str = "# comment\n1 PINHOLE 600 400 800 810 300 200\n\
        7 OPENCV 600 400 800 800 300 200 -0.1 0.02 0.001 -0.002\n";

    #[test]
    fn photographs_with_and_without_points_and_names_with_spaces_are_read() {
        let images = "# a\n3 1 0 0 0 0 0 2 1 vis/boss one.tif\n400 200 5 10 10 -1\n\
                      4 0 1 0 0 0 0 2 7 uvl.tif\n\n";
        let points = "5 0.25 0 0 0 0 0 0\n";
        let model = Model::read(CAMERAS_TEXT, images, Some(points), "m").unwrap();
        assert_eq!(model.photos.len(), 2);
        assert_eq!(model.photos[0].photo.file, "vis/boss one.tif");
        assert_eq!(model.photos[1].lens.distortion.p2, -0.002);
        let fit = model.reprojection(0).unwrap();
        assert_eq!((fit.points, fit.rms_px), (1, 0.0));
        assert!(model.reprojection(1).is_none());
        // A half turn about x: y and z change sides.
        assert_eq!(
            model.photos[1].pose.camera_of([1.0, 2.0, -3.0]),
            [1.0, -2.0, 5.0]
        );
    }

    #[test]
    fn what_is_not_as_documented_is_said_with_its_line() {
        let good = "3 1 0 0 0 0 0 2 1 a.tif\n\n";
        for (cameras, images, place, what) in [
            (
                "1 OPENCV_FISHEYE 6 4 8 8 3 2 0 0 0 0",
                good,
                "cameras.txt, line 1",
                "FISHEYE",
            ),
            ("1 PINHOLE 6 4 8 8 3", good, "line 1", "4 parameters"),
            ("1 PINHOLE 6 4 8 x 3 2", good, "line 1", "“x”"),
            (
                "2 PINHOLE 6 4 8 8 3 2",
                good,
                "images.txt, line 1",
                "camera 1",
            ),
            (
                CAMERAS_TEXT,
                "3 1 0 0 0 0 0 2 1\n\n",
                "line 1",
                "ten fields",
            ),
            (
                CAMERAS_TEXT,
                "3 1 1 0 0 0 0 2 1 a\n\n",
                "line 1",
                "quaternion",
            ),
            (
                CAMERAS_TEXT,
                "3 1 0 0 0 0 0 2 1 a\n1 2\n",
                "line 2",
                "threes",
            ),
            (CAMERAS_TEXT, "# nothing\n", "images.txt", "no photograph"),
        ] {
            let error = Model::read(cameras, images, None, "m").unwrap_err();
            assert!(error.what.contains(what), "{error}");
            assert!(error.place.contains(place), "{error}");
        }
    }
}
