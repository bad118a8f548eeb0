//! Pictures of the object for the report, drawn without a window.

mod places;
mod stage;

use std::cell::RefCell;

use ganosis_audit::report::Picture;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::StateKind;
use ganosis_dossier::store::Store;
use ganosis_viewer::content::Appearance;
use glam::DVec3;
use places::{Places, Spot};
use stage::Stage;

/// Longer side of the picture of a state, px: two beside each other on A4 have
/// about 215 px to the inch.
const STATE_PX: f64 = 720.0;

/// Side of the picture of a region, px.
const REGION_PX: u32 = 420;

/// Share of a picture of a region that is left around it, on each side.
const AROUND: f64 = 0.3;

/// Most pictures of regions and parts. A choice of ours: each takes a second
/// where there is no graphics card, and 100 kB of the page.
const MOST_REGIONS: usize = 200;

/// Width of the line between two states in one picture, px, and its grey: seen
/// on light and on dark, and neutral. Choices of ours.
const LINE_PX: i64 = 3;
const LINE_GREY: [u8; 3] = [119; 3];

/// Draws pictures, or says why it cannot.
pub(super) struct Figures<'a> {
    document: &'a Dossier,
    ready: Result<Ready<'a>, String>,
}

struct Ready<'a> {
    stage: RefCell<Stage<'a>>,
    places: Places,
    left: RefCell<usize>,
}

impl<'a> Figures<'a> {
    /// Starts the graphics device and reads the surface.
    pub(super) fn new(document: &'a Dossier, store: &'a dyn Store) -> Self {
        let ready = Stage::new(store).map(|mut stage| {
            let places = Places::find(&mut stage);
            Ready {
                stage: RefCell::new(stage),
                places,
                left: RefCell::new(MOST_REGIONS),
            }
        });
        Self { document, ready }
    }

    /// From the front, from the left, from the right and from above, all at one scale.
    pub(super) fn of_state(&self, id: &str) -> Vec<Picture> {
        let Ok(ready) = &self.ready else {
            return Vec::new();
        };
        let Some(state) = self.document.states.iter().position(|state| state.id == id) else {
            return Vec::new();
        };
        let mut stage = ready.stage.borrow_mut();
        let views = stage.standard_views();
        let longest_m = views
            .iter()
            .flat_map(|(_, view)| view.half_m)
            .fold(0.0, f64::max);
        let px_per_m = STATE_PX / (2.0 * longest_m).max(f64::MIN_POSITIVE);
        let drawn = views.into_iter().filter_map(|(name, view)| {
            let size = view
                .half_m
                .map(|half| (2.0 * half * px_per_m).ceil().max(1.0) as u32);
            let png = stage.draw(Appearance::State(state), &view, size, 0)?;
            Some(picture(png, size, 1e3 / px_per_m, name, String::new()))
        });
        drawn.collect()
    }

    /// One picture that stands for the dossier elsewhere, from the front: as found on the left of an
    /// upright line, as the evidence supports on the right; one state alone where there is no other.
    pub(super) fn likeness(&self, [width, height]: [u32; 2]) -> Option<Vec<u8>> {
        let ready = self.ready.as_ref().ok()?;
        let states = &self.document.states;
        let of_kind = |kind| states.iter().position(|state| state.kind == kind);
        let left = of_kind(StateKind::AsFound);
        let right = of_kind(StateKind::EvidenceBased).or_else(|| of_kind(StateKind::Hypothetical));
        let (left, right) = match (left, right) {
            (Some(left), Some(right)) => (left, right),
            (Some(one), None) | (None, Some(one)) => (one, one),
            (None, None) => (states.len().checked_sub(1)?, states.len() - 1),
        };
        let mut stage = ready.stage.borrow_mut();
        let (_, mut view) = stage.standard_views().into_iter().next()?;
        // As large as it fits.
        let aspect = f64::from(width) / f64::from(height);
        let half_height = view.half_m[1].max(view.half_m[0] / aspect);
        view.half_m = [half_height * aspect, half_height];
        let mut draw = |state| {
            let png = stage.draw(Appearance::State(state), &view, [width, height], 0)?;
            Some(image::load_from_memory(&png).ok()?.into_rgb8())
        };
        let mut picture = draw(left)?;
        if left != right {
            let other = draw(right)?;
            for (x, y, pixel) in picture.enumerate_pixels_mut() {
                let from_middle = i64::from(x) - i64::from(width / 2);
                if from_middle >= LINE_PX {
                    *pixel = *other.get_pixel(x, y);
                } else if from_middle >= 0 {
                    *pixel = image::Rgb(LINE_GREY);
                }
            }
        }
        let mut png = std::io::Cursor::new(Vec::new());
        picture.write_to(&mut png, image::ImageFormat::Png).ok()?;
        Some(png.into_inner())
    }

    /// A region, outlined, seen along its mean normal.
    pub(super) fn of_region(&self, id: &str) -> Option<Picture> {
        let region = self
            .document
            .regions
            .iter()
            .find(|region| region.id == id)?;
        let ready = self.ready.as_ref().ok()?;
        let spot = ready.places.region(region.number)?;
        self.of_spot(ready, spot, region.number, "The region is outlined")
    }

    /// A part, seen along its mean normal.
    pub(super) fn of_part(&self, id: &str) -> Option<Picture> {
        let ready = self.ready.as_ref().ok()?;
        let spot = ready.places.part(id)?;
        self.of_spot(ready, spot, 0, "The part")
    }

    fn of_spot(&self, ready: &Ready, spot: &Spot, number: u32, what: &str) -> Option<Picture> {
        let mut left = ready.left.borrow_mut();
        *left = left.checked_sub(1)?;
        let mut stage = ready.stage.borrow_mut();
        let state = self.state_for(&stage, spot)?;
        let view = stage.view_of(spot, AROUND);
        let mm_per_px = 2e3 * view.half_m[0] / f64::from(REGION_PX);
        let size = [REGION_PX; 2];
        let png = stage.draw(Appearance::State(state), &view, size, number)?;
        let title = self.document.states[state]
            .title
            .get(language(self.document));
        let caption = format!("{what}; shown in the state \"{title}\".");
        let words = stage.words_for(view.towards_eye);
        Some(picture(png, size, mm_per_px, words, caption))
    }

    /// As found, if the place can be seen there, else the first state that shows it.
    fn state_for(&self, stage: &Stage, spot: &Spot) -> Option<usize> {
        let states = &self.document.states;
        let mut order: Vec<usize> = (0..states.len()).collect();
        order.sort_by_key(|&i| states[i].kind != StateKind::AsFound);
        order
            .into_iter()
            .find(|&state| stage.shows(Appearance::State(state), spot.patch))
    }

    /// What is not in the report, and why.
    pub(super) fn missing(&self) -> Vec<String> {
        match &self.ready {
            Ok(ready) => ready.stage.borrow().problems().to_vec(),
            Err(reason) => vec![format!(
                "the report has no pictures of the object: {reason}"
            )],
        }
    }

    /// How the pictures were made, or why there are none.
    pub(super) fn about(&self) -> Vec<String> {
        let ready = match &self.ready {
            Ok(ready) => ready,
            Err(reason) => return vec![format!("Pictures of the object were left out: {reason}.")],
        };
        let stage = ready.stage.borrow();
        let mut lines = vec![format!(
            "Pictures are drawn in parallel projection without light, so that a scale holds all over a picture and a colour \
             is that of the layer (sRGB); what no image covers is shown as grey relief. Left and right are those of \
             somebody who faces the front. Drawn by {}.",
            stage.device()
        )];
        if *ready.left.borrow() == 0 {
            lines.push(format!(
                "Only the first {MOST_REGIONS} regions and parts have a picture."
            ));
        }
        lines.extend(stage.problems().iter().cloned());
        lines
    }
}

fn language(document: &Dossier) -> &str {
    document.languages.first().map_or("en", String::as_str)
}

fn picture(
    png: Vec<u8>,
    [width_px, height_px]: [u32; 2],
    mm_per_px: f64,
    view: &str,
    caption: String,
) -> Picture {
    Picture {
        png,
        width_px,
        height_px,
        mm_per_px: Some(mm_per_px),
        view: view.to_owned(),
        caption,
    }
}

/// Extent of points along two directions, about their middle: middle and halves.
fn extent(points: impl Iterator<Item = DVec3>, across: DVec3, up: DVec3) -> ([f64; 2], [f64; 2]) {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for point in points {
        for (axis, direction) in [across, up].into_iter().enumerate() {
            let at = point.dot(direction);
            low[axis] = low[axis].min(at);
            high[axis] = high[axis].max(at);
        }
    }
    let each = |of: fn(f64, f64) -> f64| [of(low[0], high[0]), of(low[1], high[1])];
    (each(|a, b| (a + b) / 2.0), each(|a, b| (b - a) / 2.0))
}
