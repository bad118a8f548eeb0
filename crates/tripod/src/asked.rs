//! Questions about the photograph and their answers; both cross as JSON.

use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::lens::{Lens, Projector};
use ganosis_imaging::pose::{
    Pair, Pose, PoseFit, PosedPhoto, Poses, Question, TriedFree, read_lens, read_pairs, write_pairs,
};
use serde::{Deserialize, Serialize};

use crate::{Tripod, TripodError};

/// What the page asks.
#[derive(Debug, Clone, Deserialize)]
pub struct Asked {
    /// The pairs set so far.
    pub pairs: Vec<Pair>,
    /// The lens, where it is known.
    #[serde(default)]
    pub lens: Option<Lens>,
}

/// What was found.
#[derive(Debug, Clone, Serialize)]
pub struct Answer {
    /// The pose with everything that is known about it.
    pub fit: PoseFit,
    /// Which numbers of the lens were tried, the smallest set first.
    pub tried: Vec<TriedFree>,
    /// Where the camera stands.
    pub camera_centre_m: [f64; 3],
    /// Each pair: where the line of sight of its marked pixel passes nearest to its place, in metres.
    pub sighted_m: Vec<Option<[f64; 3]>>,
    /// Each pair: where its place falls in the photograph.
    pub foretold_px: Vec<Option<[f64; 2]>>,
    /// What the photograph takes in.
    pub frame: Frame,
}

/// What a photograph takes in, for drawing it before the surface.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Frame {
    /// Where the camera stands.
    pub centre_m: [f64; 3],
    /// Direction of the middle of the picture, on the axes of the surface, of unit depth.
    pub middle: [f64; 3],
    /// Directions along the border of the picture, clockwise from its first corner; every
    /// [`BORDER_STEPS`]th is a corner.
    pub border: Vec<[f64; 3]>,
    /// The box around the picture on the normalised plane: its first corner.
    pub min: [f64; 2],
    /// Its last corner.
    pub max: [f64; 2],
    /// Beyond this r² on the normalised plane nothing is seen; `None` for everything.
    pub fold_r2: Option<f64>,
}

/// Directions along each side of the picture.
pub const BORDER_STEPS: usize = 8;

impl Frame {
    /// Of a lens at its place.
    ///
    /// # Errors
    /// The lens sees nothing at its border.
    pub fn of(lens: &Lens, pose: &Pose) -> Result<Self, TripodError> {
        let (w, h) = (lens.width_px as f64, lens.height_px as f64);
        let corners = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let projector = Projector::new(*lens);
        let seen = |pixel: [f64; 2]| {
            let seen = projector.normalised_of(pixel);
            seen.ok_or_else(|| "the lens sees nothing at the border of the picture".to_owned())
        };
        let mut border = Vec::new();
        let (mut min, mut max) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for side in 0..4 {
            let (from, to) = (corners[side], corners[(side + 1) % 4]);
            for step in 0..BORDER_STEPS {
                let t = step as f64 / BORDER_STEPS as f64;
                let at = seen([0, 1].map(|k| from[k] + t * (to[k] - from[k])))?;
                for k in 0..2 {
                    (min[k], max[k]) = (min[k].min(at[k]), max[k].max(at[k]));
                }
                border.push(pose.ray(at));
            }
        }
        let fold_r2 = lens.distortion.fold_r2();
        Ok(Self {
            centre_m: pose.centre_m(),
            middle: pose.ray(seen([w / 2.0, h / 2.0])?),
            border,
            min,
            max,
            fold_r2: fold_r2.is_finite().then_some(fold_r2),
        })
    }
}

/// What a file tells.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Told {
    /// Pairs of points.
    Pairs(Vec<Pair>),
    /// A lens alone.
    Lens(Lens),
    /// The photograph with its pose.
    Posed(Box<PosedPhoto>),
}

impl Tripod {
    /// The pose of the photograph.
    ///
    /// # Errors
    /// No photograph was chosen, or the pairs fix no pose.
    pub fn solve(&self, asked: &Asked) -> Result<Answer, TripodError> {
        let about = &self.held()?.about;
        let question = Question {
            size_px: [about.width_px, about.height_px],
            lens: asked.lens,
            free: None,
            marked_px: None,
        };
        let (fit, tried) = question.answer(&asked.pairs)?;
        let of_pair = |pair: &Pair| sighted(&fit, pair);
        let foretold = |pair: &Pair| fit.lens.project(fit.pose.camera_of(pair.surface_m));
        Ok(Answer {
            camera_centre_m: fit.pose.centre_m(),
            sighted_m: asked.pairs.iter().map(of_pair).collect(),
            foretold_px: asked.pairs.iter().map(foretold).collect(),
            frame: Frame::of(&fit.lens, &fit.pose)?,
            fit,
            tried,
        })
    }

    /// Reads a file of points (CSV), of poses or of a lens (JSON) for the photograph of this name.
    ///
    /// # Errors
    /// It is none of these, or not for this photograph.
    pub fn read(&self, text: &str, file: &str, photo: &str) -> Result<Told, TripodError> {
        let about = &self.held()?.about;
        let size_px = [about.width_px, about.height_px];
        if !text
            .trim_start_matches('\u{feff}')
            .trim_start()
            .starts_with('{')
        {
            return Ok(Told::Pairs(read_pairs(text, file)?));
        }
        if text.contains("\"photos\"") {
            let poses = Poses::read(text, file)?;
            if let Some(posed) = poses.of_photo(photo) {
                // Of its lens the size is looked at too.
                read_lens(text, file, photo, size_px)?;
                return Ok(Told::Posed(Box::new(posed.clone())));
            }
        }
        Ok(Told::Lens(read_lens(text, file, photo, size_px)?))
    }

    /// The table of points as the command reads it.
    #[must_use]
    pub fn points_text(pairs: &[Pair]) -> String {
        write_pairs(pairs)
    }

    /// The file of poses as the command writes it.
    #[must_use]
    pub fn poses_text(surface: Vec<InputRecord>, posed: PosedPhoto) -> String {
        Poses::new(surface, vec![posed]).text()
    }
}

/// The point of the line of sight that lies nearest to the pair's place.
fn sighted(fit: &PoseFit, pair: &Pair) -> Option<[f64; 3]> {
    let ray = fit.pose.ray(fit.lens.normalised_of(pair.pixel)?);
    let centre = fit.pose.centre_m();
    let to = [0, 1, 2].map(|k| pair.surface_m[k] - centre[k]);
    let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let along = dot(to, ray) / dot(ray, ray);
    (along > 0.0).then(|| [0, 1, 2].map(|k| centre[k] + along * ray[k]))
}
