//! Points of a photogrammetric model that are known on the surface, and the model brought to them.

use super::colmap::Model;
use super::similarity::SimilarityFit;
use super::table::rows;
use super::{PosedPhoto, Poses};
use crate::calibration::InputRecord;
use crate::error::{ImagingError, Result};

/// A point in both.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Its name.
    pub name: String,
    /// In the model, in its unit.
    pub model: [f64; 3],
    /// On the surface, in metres.
    pub surface_m: [f64; 3],
}

/// Reads a table of known points: `name`, then `x,y,z` in the model or `point`, the number of one of
/// its points, then `x_m,y_m,z_m`.
///
/// # Errors
/// A column is missing, a value is no number, or the model has no such point.
pub fn read_known(text: &str, file: &str, model: &Model) -> Result<Vec<Known>> {
    let is_head = |line: &&str| !line.starts_with('#') && !line.trim().is_empty();
    let marked = text.trim_start_matches('\u{feff}');
    let head = marked.lines().find(is_head).unwrap_or_default();
    if !head.split(',').any(|column| column.trim() == "point") {
        let all = rows(text, file, ["x", "y", "z", "x_m", "y_m", "z_m"])?;
        return Ok(all
            .into_iter()
            .map(|row| {
                let [x, y, z, x_m, y_m, z_m] = row.numbers;
                Known {
                    name: row.name,
                    model: [x, y, z],
                    surface_m: [x_m, y_m, z_m],
                }
            })
            .collect());
    }
    let all = rows(text, file, ["point", "x_m", "y_m", "z_m"])?;
    all.into_iter()
        .map(|row| {
            let [point, x_m, y_m, z_m] = row.numbers;
            let is_whole = point >= 0.0 && point.fract() == 0.0;
            let there = is_whole
                .then(|| model.points.get(&(point as u64)))
                .flatten();
            let Some(&there) = there else {
                return Err(ImagingError::new(
                    format!("the model has no point {point}"),
                    row.place,
                    "Give numbers of points3D.txt, or the columns x,y,z with places in the model.",
                ));
            };
            Ok(Known {
                name: row.name,
                model: there,
                surface_m: [x_m, y_m, z_m],
            })
        })
        .collect()
}

/// The model's photographs before the surface: scaled, turned and shifted by the known points. `surface`
/// as in [`Poses::new`].
///
/// # Errors
/// The points are too few or on one line.
pub fn bring_to_surface(
    model: &Model,
    known: &[Known],
    surface: Vec<InputRecord>,
    place: &str,
) -> Result<(Poses, SimilarityFit)> {
    let from: Vec<[f64; 3]> = known.iter().map(|k| k.model).collect();
    let to: Vec<[f64; 3]> = known.iter().map(|k| k.surface_m).collect();
    let fit = SimilarityFit::of(&from, &to, place)?;
    let photos = model.photos.iter().map(|one| PosedPhoto {
        pose: fit.similarity.pose(&one.pose),
        ..one.clone()
    });
    Ok((Poses::new(surface, photos.collect()), fit))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model() -> Model {
        let points = "5 1 2 3 0 0 0 0\n6 2 2 3 0 0 0 0\n7 1 4 3 0 0 0 0\n";
        let images = "1 1 0 0 0 0 0 2 1 a.tif\n\n";
        Model::read("1 PINHOLE 6 4 8 8 3 2", images, Some(points), "m").unwrap()
    }

    #[test]
    fn points_by_number_and_by_place_bring_the_same() {
        let by_number = "name,point,x_m,y_m,z_m\na,5,0,0,0\nb,6,0.1,0,0\nc,7,0,0.2,0\n";
        // As spreadsheets write it, with a byte order mark before the first column.
        let by_marked = "\u{feff}point,x_m,y_m,z_m\n5,0,0,0\n6,0.1,0,0\n7,0,0.2,0\n";
        let by_place = "x,y,z,x_m,y_m,z_m\n1,2,3,0,0,0\n2,2,3,0.1,0,0\n1,4,3,0,0.2,0\n";
        let moved = [by_number, by_place, by_marked].map(|text| {
            let known = read_known(text, "k.csv", &model()).unwrap();
            bring_to_surface(&model(), &known, Vec::new(), "k.csv").unwrap()
        });
        assert_eq!(moved[0].0, moved[1].0);
        assert_eq!(moved[0].0, moved[2].0);
        assert!((moved[0].1.similarity.scale - 0.1).abs() < 1e-12);
        assert!(moved[0].1.rms_mm < 1e-9);
        // A point of the model stays where it was seen.
        let there = moved[0].0.photos[0].pose.camera_of([0.1, 0.0, 0.0]);
        let wanted = [0.2, 0.2, 0.5];
        assert!(
            (0..3).all(|k| (there[k] - wanted[k]).abs() < 1e-12),
            "{there:?}"
        );
    }

    #[test]
    fn a_point_that_is_not_there_is_named() {
        for text in [
            "point,x_m,y_m,z_m\n9,0,0,0\n",
            "point,x_m,y_m,z_m\n-1,0,0,0\n",
        ] {
            let error = read_known(text, "k.csv", &model()).unwrap_err();
            assert!(error.what.contains("no point") && error.place.contains("line 2"));
        }
    }
}
