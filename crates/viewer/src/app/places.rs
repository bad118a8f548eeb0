//! Places on the surface: under a pixel, of the pins, and what is known there.

use ganosis_renderer::{Compare, LayerPaint, Side};
use glam::{DVec3, Mat4, Vec3};
use serde_json::{Value, json};

use super::App;
use crate::camera::project;
use crate::content::{Appearance, Content, ImageKind, PLAIN};
use crate::view::View;

/// A place on the surface under a pixel.
#[derive(Clone, Debug)]
pub struct Place {
    /// Index of the patch.
    pub patch: usize,
    /// Sheet of the mesh.
    pub sheet: usize,
    /// In the coordinates of the mesh.
    pub position_m: Vec3,
    /// Outwards.
    pub normal: Vec3,
    /// On the sheet.
    pub uv: [f32; 2],
}

/// Where a pin is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct PinPlace {
    /// Its id.
    pub id: String,
    /// CSS px from the left.
    pub x: f64,
    /// CSS px from the top.
    pub y: f64,
    /// In front of the surface and inside the picture.
    pub shown: bool,
}

/// Where the colour of a state is found at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct StateTexel {
    /// Id of the state.
    pub state: String,
    /// Its layers, the lowest first.
    pub layers: Vec<LayerTexel>,
    /// Where on their textures.
    pub uv: [f32; 2],
    /// Multiplied with the lowest in linear light.
    pub factor: [f32; 4],
    /// The one layer is a material of the mesh.
    pub material: bool,
}

/// A layer of a state at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerTexel {
    /// As it is drawn.
    pub paint: LayerPaint,
    /// Value 0..1 of a band layer, which is known without asking the GPU.
    pub band: Option<f32>,
}

impl App {
    pub(super) fn cast(
        &self,
        origin_m: DVec3,
        direction: DVec3,
        shown: &dyn Fn(usize) -> bool,
    ) -> Option<Place> {
        let surface = self.content.as_ref()?.surface()?;
        let section = self.view.as_ref().and_then(|v| v.section).zip(self.ball);
        let (origin_m, far) = match section {
            Some((cut, ball)) => cut.kept(&self.basis(), ball, origin_m, direction)?,
            None => (origin_m, f64::INFINITY),
        };
        let hit = self
            .picker
            .as_ref()?
            .ray(origin_m.as_vec3(), direction.as_vec3(), shown)
            .filter(|hit| f64::from(hit.distance_m) <= far)?;
        Some(Place {
            patch: hit.patch,
            sheet: surface.patches[hit.patch].sheet,
            position_m: hit.position_m,
            normal: hit.normal,
            uv: hit.uv.to_array(),
        })
    }

    /// Which sides show at a point of the canvas.
    pub(super) fn sides_at(&self, x: f64, y: f64) -> Option<Vec<Appearance>> {
        let (content, view) = (self.content.as_ref()?, self.view.as_ref()?);
        let left = content.appearance(&view.left)?;
        let right = content.appearance(&view.right)?;
        Some(match self.comparison(content, view) {
            Compare::One(Side::Right) => vec![right],
            Compare::One(Side::Left) => vec![left],
            Compare::Blend { .. } | Compare::Difference { .. } => vec![left, right],
            Compare::Loupe { .. } => vec![if self.in_loupe(x, y) { right } else { left }],
            Compare::Panes { .. } => {
                let ids = view.shown();
                let id = ids.get(self.pane_at(x, y).number).unwrap_or(&ids[0]);
                vec![content.appearance(id)?]
            }
            Compare::Swipe { .. } | Compare::Strips { .. } => {
                let lines = self.divider_lines();
                let strip = lines.iter().filter(|d| d.distance(x, y) >= 0.0).count();
                vec![content.appearance(view.shown().get(strip)?)?]
            }
            Compare::Mix { .. } => vec![left, right, content.appearance(&view.third)?],
        })
    }

    /// The place on the surface under a point of the canvas, of what is shown there.
    pub fn place_at(&mut self, x: f64, y: f64) -> Option<Place> {
        self.ensure_picker();
        let sides = self.sides_at(x, y)?;
        let (content, view) = (self.content.as_ref()?, self.view.as_ref()?);
        let basis = content.basis();
        let surface = content.surface()?;
        let place = self.place_in_pane(x, y);
        let direction = view.camera.ray(&basis, self.aspect(), place[0], place[1]);
        let shown = |patch: usize| {
            sides
                .iter()
                .any(|s| content.shows(*s, &surface.patches[patch]))
        };
        self.cast(view.camera.eye_m(&basis), direction, &shown)
    }

    pub(super) fn place_pins(&mut self, clip_from_scene: &Mat4) {
        self.ensure_picker();
        let (Some(content), Some(view)) = (&self.content, &self.view) else {
            return;
        };
        let (eye, origin) = (view.camera.eye_m(&content.basis()), self.origin_m());
        let sides = view.shown();
        let pane = self.pane_size();
        let radius = self.ball.map_or(1.0, |b| b.radius_m);
        let mut places = Vec::new();
        for pin in &content.document.pins {
            let anchor = pin.anchor.as_ref();
            let Some(point) = anchor.and_then(|a| a.position_m).map(DVec3::from_array) else {
                continue;
            };
            let wanted =
                pin.states.is_empty() || pin.states.iter().any(|s| sides.contains(&s.as_str()));
            let Some([x, y]) = project(clip_from_scene, (point - origin).as_vec3()) else {
                continue;
            };
            let inside = (0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y);
            let shown = wanted && inside && self.is_seen(content, view, point, eye, radius);
            places.push(PinPlace {
                id: pin.id.clone(),
                x: x * pane[0],
                y: y * pane[1],
                shown,
            });
        }
        self.pins = places;
    }

    /// True when nothing stands between a point of the surface and the eye.
    pub(super) fn is_seen(
        &self,
        content: &Content,
        view: &View,
        point: DVec3,
        eye: DVec3,
        radius_m: f64,
    ) -> bool {
        let Some(surface) = content.surface() else {
            return false;
        };
        let sides: Vec<Appearance> = view
            .shown()
            .into_iter()
            .filter_map(|id| content.appearance(id))
            .collect();
        let shown = |patch: usize| {
            sides
                .iter()
                .any(|s| content.shows(*s, &surface.patches[patch]))
        };
        let towards = (point - eye).normalize_or(DVec3::NEG_Z);
        if let (Some(cut), Some(ball)) = (view.section, self.ball)
            && cut.kept(&self.basis(), ball, point, DVec3::ZERO).is_none()
        {
            return false;
        }
        // A pin may lie a little off the mesh: within 1 % of the object's radius it counts as on it.
        let slack = radius_m * 0.01;
        self.cast(eye, towards, &shown).is_none_or(|hit| {
            hit.position_m.as_dvec3().distance(eye) + slack >= point.distance(eye)
        })
    }

    /// Where the pins are, as of the last frame.
    #[must_use]
    pub fn pins(&self) -> &[PinPlace] {
        &self.pins
    }

    /// What is known at a place without asking the GPU; colours come from texels.
    #[must_use]
    pub fn describe(&self, place: &Place) -> Value {
        let Some(content) = &self.content else {
            return Value::Null;
        };
        let sheet = content.sheet_id(place.sheet);
        let number = content.region_number(place.sheet, place.uv);
        let region = content
            .document
            .region_numbered(u32::from(number))
            .map(|r| r.id.clone());
        let patch = content.surface().map(|s| &s.patches[place.patch]);
        let parts: Vec<&str> = patch
            .map(|p| content.parts_of(p).collect())
            .unwrap_or_default();
        let claims: Vec<&str> = content
            .document
            .claims
            .iter()
            .filter(|c| {
                c.regions.iter().any(|r| Some(r) == region.as_ref())
                    || c.parts.iter().any(|p| parts.contains(&p.as_str()))
            })
            .map(|c| c.id.as_str())
            .collect();
        json!({
            "anchor": {
                "sheet": sheet, "uv": place.uv,
                "position_m": place.position_m.to_array(), "normal": place.normal.to_array(),
            },
            "sheet": sheet, "uv": place.uv, "region": region, "parts": parts, "claims": claims,
            "bands": self.band_values(content, place),
            "coarse": self.is_coarse(content, place),
        })
    }

    /// True where an image in tiles is not here as fine as it is.
    fn is_coarse(&self, content: &Content, place: &Place) -> bool {
        let Some(renderer) = &self.renderer else {
            return false;
        };
        let images = content.images.iter().enumerate();
        let missing = |(i, image)| content.missing_tile(i, image, place.sheet, place.uv, renderer);
        images.filter_map(missing).next().is_some()
    }

    pub(super) fn band_values(&self, content: &Content, place: &Place) -> Vec<Value> {
        let value = |index: usize| {
            let image = content.image_of(Some(index), place.sheet, ImageKind::Band)?;
            let (code, full_scale) = content.value_at(image, place.uv)?;
            let layer = &content.document.layers[index];
            let [low, high] = layer.range.unwrap_or([0.0, 1.0]);
            let share = f64::from(code) / f64::from(full_scale);
            Some(
                json!({"layer": layer.id, "value": low + share * (high - low), "unit": layer.unit}),
            )
        };
        (0..content.document.layers.len())
            .filter_map(value)
            .collect()
    }

    /// Where the colours of all states at a place are found. States with an image still on its way
    /// are left out.
    #[must_use]
    pub fn texels_at(&self, place: &Place) -> Vec<StateTexel> {
        let Some(content) = &self.content else {
            return Vec::new();
        };
        (0..content.document.states.len())
            .filter_map(|state| state_texel(content, state, place))
            .collect()
    }
}

fn state_texel(content: &Content, state: usize, place: &Place) -> Option<StateTexel> {
    let surface = content.surface()?;
    let patch = &surface.patches[place.patch];
    let appearance = Appearance::State(state);
    if !content.shows(appearance, patch) {
        return None;
    }
    let side = content.side_paint(appearance, patch, surface, &PLAIN);
    let images = content.images_over(state, patch);
    if side.stack().count() < images.len() {
        return None;
    }
    let [u, v] = side
        .uv
        .0
        .map(|r| r[0] * place.uv[0] + r[1] * place.uv[1] + r[2]);
    let layers = side.stack().zip(images).map(|(paint, image)| {
        let band = |(code, full_scale): (u16, u16)| f32::from(code) / f32::from(full_scale);
        LayerTexel {
            paint: *paint,
            band: content.value_at(image, [u, v]).map(band),
        }
    });
    Some(StateTexel {
        state: content.document.states[state].id.clone(),
        layers: layers.collect(),
        uv: [u, v],
        factor: side.factor,
        material: side.material,
    })
}
