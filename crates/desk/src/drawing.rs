//! Drawing on the region maps: each operation is one step, a stroke that goes on is one.

use ganosis_audit::decoded::decode;
use ganosis_dossier::Dossier;
use ganosis_dossier::document::{Layer, LayerKind};
use ganosis_editing::journal::rects;
use ganosis_editing::regions::{
    BandImage, Changes, ColourImage, Extent, Over, Projection, Selection, StrokePoint,
    TexelGeometry,
};
use ganosis_surface::Surface;
use glam::{Vec2, Vec3};
use image::DynamicImage;
use serde::Deserialize;
use serde_json::Value;

use crate::{Desk, DeskError, Outcome};

/// One operation, as the page sends it. Numbers are those of regions; 0 erases. Distances in mm.
#[derive(Debug, Clone, Deserialize)]
pub struct Drawing {
    /// Names the step for undo; without it the operation does.
    #[serde(default)]
    pub label: Option<String>,
    /// Ids of the states in view: parts that none of them shows take no paint.
    #[serde(default)]
    pub states: Vec<String>,
    /// What the operation needs besides.
    #[serde(flatten)]
    pub values: serde_json::Map<String, Value>,
}

/// A line drawn with a brush.
#[derive(Debug, Clone, Deserialize)]
struct Stroke {
    points: Vec<Point>,
    radius_mm: f32,
    number: u16,
    over: OverWord,
    /// Goes on with the stroke before.
    #[serde(default)]
    continues: bool,
}

/// A fill from a place.
#[derive(Debug, Clone, Deserialize)]
struct Fill {
    anchor: Place,
    number: u16,
    over: OverWord,
    connected: bool,
    layer: String,
    #[serde(flatten)]
    by: By,
}

#[derive(Debug, Clone, Copy, Deserialize)]
struct Point {
    position: [f32; 3],
    #[serde(default)]
    normal: [f32; 3],
}

#[derive(Debug, Clone, Deserialize)]
struct Place {
    sheet: String,
    uv: [f32; 2],
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(tag = "by", rename_all = "lowercase")]
enum By {
    Colour {
        tolerance_delta_e_2000: f64,
    },
    /// In the unit of the layer.
    Band {
        from: f64,
        to: f64,
    },
}

#[derive(Debug, Clone, Deserialize)]
struct Lasso {
    /// CSS pixels from the upper left corner.
    polygon: Vec<[f64; 2]>,
    projection: Seen,
    number: u16,
    over: OverWord,
}

/// How space comes to the canvas.
#[derive(Debug, Clone, Deserialize)]
struct Seen {
    /// Column-major.
    view_projection: [f64; 16],
    eye: [f64; 3],
    width: f64,
    height: f64,
}

#[derive(Debug, Clone, Copy, Deserialize)]
struct Assign {
    from: u16,
    to: u16,
}

#[derive(Debug, Clone, Deserialize)]
struct Grow {
    number: u16,
    mm: f32,
    over: OverWord,
}

#[derive(Debug, Clone, Copy, Deserialize)]
struct Shrink {
    number: u16,
    mm: f32,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
enum OverWord {
    Word(Word),
    Numbers(Vec<u16>),
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Word {
    Free,
    All,
}

impl From<OverWord> for Over {
    fn from(over: OverWord) -> Self {
        match over {
            OverWord::Word(Word::Free) => Self::Free,
            OverWord::Word(Word::All) => Self::All,
            OverWord::Numbers(numbers) => Self::Numbers(numbers),
        }
    }
}

const METRES_PER_MM: f32 = 1e-3;

fn read<T: for<'a> Deserialize<'a>>(operation: &str, drawing: &Drawing) -> Result<T, DeskError> {
    serde_json::from_value(Value::Object(drawing.values.clone()))
        .map_err(|error| format!("{operation}: {error}").into())
}

/// Whether any of the states shows a patch; all of it where no state is told.
pub(crate) fn shows(
    document: &Dossier,
    surface: &Surface,
    states: &[String],
    patch: usize,
) -> bool {
    let Some(patch) = surface.patches.get(patch) else {
        return false;
    };
    let mut parts = document
        .surface
        .parts
        .iter()
        .filter(|part| patch.node_path.contains(&part.node))
        .peekable();
    if states.is_empty() || parts.peek().is_none() {
        return true;
    }
    let shown: Vec<&str> = states
        .iter()
        .filter_map(|id| document.state(id))
        .flat_map(|state| &state.parts)
        .map(String::as_str)
        .collect();
    parts.any(|part| shown.contains(&part.id.as_str()))
}

impl Desk {
    /// Does one operation on the region maps: `stroke`, `lasso`, `fill`, `grow`,
    /// `shrink` or `assign`.
    ///
    /// # Errors
    /// If the values do not fit the operation, or the surface or a map cannot be read.
    pub fn draw(&mut self, operation: &str, drawing: &Drawing) -> Result<Outcome, DeskError> {
        self.make_geometry()?;
        let mut continues = false;
        let changes = match operation {
            "stroke" => {
                let stroke: Stroke = read(operation, drawing)?;
                continues = stroke.continues;
                self.stroke(&stroke, &drawing.states)?
            }
            "lasso" => self.lasso(&read(operation, drawing)?, &drawing.states)?,
            "fill" => self.fill(&read(operation, drawing)?, &drawing.states)?,
            "grow" => {
                let Grow { number, mm, over } = read(operation, drawing)?;
                let over = over.into();
                self.paint(number, &over, &mut |geometry, desk, _| {
                    let maps = desk.ground.as_ref().map(|g| &g.maps);
                    let maps = maps.ok_or("the region maps are not here")?;
                    Ok(geometry.grown(maps, number, mm * METRES_PER_MM, &over))
                })?
            }
            "shrink" => {
                let Shrink { number, mm } = read(operation, drawing)?;
                self.paint(0, &Over::Numbers(vec![number]), &mut |geometry, desk, _| {
                    let maps = desk.ground.as_ref().map(|g| &g.maps);
                    let maps = maps.ok_or("the region maps are not here")?;
                    Ok(geometry.shrunk(maps, number, mm * METRES_PER_MM))
                })?
            }
            "assign" => {
                let Assign { from, to } = read(operation, drawing)?;
                self.ground()?.maps.assign(from, to)
            }
            other => return Err(format!("there is no operation \"{other}\"").into()),
        };
        let rects = rects([&changes]);
        let label = drawing.label.as_deref().unwrap_or(operation);
        self.journal.draw(changes, label, continues);
        Ok(self.outcome(false, &rects))
    }

    pub(crate) fn make_geometry(&mut self) -> Result<(), DeskError> {
        self.ground()?;
        if self.geometry.is_none()
            && let (Some(Ok(surface)), Some(ground)) = (&self.surface, &self.ground)
        {
            let sizes: Vec<_> = ground.origins.iter().map(|origin| origin.size).collect();
            self.geometry = Some(TexelGeometry::new(surface, &sizes)?);
        }
        Ok(())
    }

    /// Paints what `select` finds; it is given the surface too.
    fn paint(
        &mut self,
        number: u16,
        over: &Over,
        select: &mut dyn FnMut(&TexelGeometry, &Self, &Surface) -> Result<Selection, DeskError>,
    ) -> Result<Changes, DeskError> {
        let (Some(geometry), Some(Ok(surface))) = (&self.geometry, &self.surface) else {
            return Err("the surface is not here".into());
        };
        let selection = select(geometry, self, surface)?;
        Ok(self.ground()?.maps.paint(&selection, number, over))
    }

    fn stroke(&mut self, stroke: &Stroke, states: &[String]) -> Result<Changes, DeskError> {
        let points: Vec<StrokePoint> = stroke
            .points
            .iter()
            .map(|point| StrokePoint {
                position_m: Vec3::from_array(point.position),
                normal: Vec3::from_array(point.normal).normalize_or_zero(),
            })
            .collect();
        let radius_m = stroke.radius_mm * METRES_PER_MM;
        let over = stroke.over.clone().into();
        self.paint(stroke.number, &over, &mut |geometry, desk, surface| {
            let document = desk.journal.document();
            let visible = |patch: usize| shows(document, surface, states, patch);
            Ok(geometry.stroke(&points, radius_m, &visible))
        })
    }

    fn lasso(&mut self, lasso: &Lasso, states: &[String]) -> Result<Changes, DeskError> {
        let seen = &lasso.projection;
        let projection = Projection {
            view_projection: seen.view_projection,
            eye_m: seen.eye,
            width_px: seen.width,
            height_px: seen.height,
        };
        let over = lasso.over.clone().into();
        self.paint(lasso.number, &over, &mut |geometry, desk, surface| {
            let document = desk.journal.document();
            let visible = |patch: usize| shows(document, surface, states, patch);
            Ok(geometry.lasso(&lasso.polygon, &projection, &visible))
        })
    }

    fn fill(&mut self, fill: &Fill, states: &[String]) -> Result<Changes, DeskError> {
        let layer = self.document().layer(&fill.layer);
        let layer = layer.ok_or_else(|| format!("there is no layer \"{}\"", fill.layer))?;
        let images = self.images_of(layer)?;
        let layer = layer.clone();
        let extent = if fill.connected {
            Extent::Connected
        } else {
            Extent::Everywhere
        };
        let over = fill.over.clone().into();
        self.paint(fill.number, &over, &mut |geometry, desk, surface| {
            let document = desk.journal.document();
            let visible = |patch: usize| shows(document, surface, states, patch);
            let maps = desk.ground.iter().flat_map(|ground| &ground.maps.maps);
            let map = maps.into_iter().position(|m| m.sheet == fill.anchor.sheet);
            let seed = map.and_then(|map| geometry.texel_at(map, Vec2::from_array(fill.anchor.uv)));
            let Some(seed) = seed else {
                return Err("there is no surface at this place; begin at another".into());
            };
            match fill.by {
                By::Colour {
                    tolerance_delta_e_2000: tolerance,
                } => {
                    let images = colours(&images, &layer)?;
                    let images: Vec<_> = images
                        .iter()
                        .map(|image| image.as_ref().map(Rgba::lent))
                        .collect();
                    Ok(geometry.fill_by_colour(&images, seed, tolerance, extent, &visible))
                }
                By::Band { from, to } => {
                    let bands = bands(&images, &layer)?;
                    let bands: Vec<_> = bands
                        .iter()
                        .map(|band| band.as_ref().map(Grey::lent))
                        .collect();
                    let [low, high] = layer.range.unwrap_or([0.0, 1.0]);
                    let share = |value: f64| (value - low) / (high - low);
                    let range = [share(from).min(share(to)), share(from).max(share(to))];
                    Ok(geometry.fill_by_band(&bands, seed, range, extent, &visible))
                }
            }
        })
    }

    /// The images of a layer, one a map.
    fn images_of(&self, layer: &Layer) -> Result<Vec<Option<DynamicImage>>, DeskError> {
        let maps = self.ground.iter().flat_map(|ground| &ground.maps.maps);
        maps.map(|map| {
            let Some(image) = layer.images.iter().find(|image| image.sheet == map.sheet) else {
                return Ok(None);
            };
            let decoded = (self.files)(&image.file).and_then(|bytes| decode(&bytes));
            decoded
                .map(Some)
                .map_err(|problem| format!("{}: {problem}", image.file).into())
        })
        .collect()
    }
}

struct Rgba {
    size: [u32; 2],
    rgba: Vec<u8>,
    display_p3: bool,
}

impl Rgba {
    fn lent(&self) -> ColourImage<'_> {
        ColourImage {
            width_px: self.size[0],
            height_px: self.size[1],
            rgba: &self.rgba,
            display_p3: self.display_p3,
        }
    }
}

struct Grey {
    size: [u32; 2],
    values: Vec<u16>,
    full_scale: u16,
}

impl Grey {
    fn lent(&self) -> BandImage<'_> {
        BandImage {
            width_px: self.size[0],
            height_px: self.size[1],
            values: &self.values,
            full_scale: self.full_scale,
        }
    }
}

fn colours(images: &[Option<DynamicImage>], layer: &Layer) -> Result<Vec<Option<Rgba>>, DeskError> {
    if layer.kind != LayerKind::Colour {
        return Err(format!("the layer \"{}\" has no colour", layer.id).into());
    }
    let space = layer.colour_space.as_ref();
    let display_p3 = space.is_some_and(|space| space.as_str() == "display-p3");
    let rgba = |image: &DynamicImage| Rgba {
        size: [image.width(), image.height()],
        rgba: image.to_rgba8().into_raw(),
        display_p3,
    };
    Ok(images
        .iter()
        .map(|image| image.as_ref().map(rgba))
        .collect())
}

fn bands(images: &[Option<DynamicImage>], layer: &Layer) -> Result<Vec<Option<Grey>>, DeskError> {
    let grey = |image: &DynamicImage| {
        let size = [image.width(), image.height()];
        let (values, full_scale) = match image {
            DynamicImage::ImageLuma8(image) => {
                let values = image.as_raw().iter().copied().map(u16::from);
                (values.collect(), u16::from(u8::MAX))
            }
            DynamicImage::ImageLuma16(image) => (image.as_raw().clone(), u16::MAX),
            _ => {
                return Err(format!(
                    "the layer \"{}\" is not one value a texel",
                    layer.id
                ));
            }
        };
        Ok(Grey {
            size,
            values,
            full_scale,
        })
    };
    let bands = images
        .iter()
        .map(|image| image.as_ref().map(grey).transpose());
    Ok(bands.collect::<Result<_, String>>()?)
}
