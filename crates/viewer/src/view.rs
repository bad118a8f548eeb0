//! The state of the view and its form as a plain object.

use std::collections::BTreeMap;

use ganosis_colorimetry::ToneMap;
use glam::DVec3;
use serde_json::{Map, Value, json};

use crate::camera::OrbitCamera;
use crate::lamp::LampChoice;
use crate::light::{Cut, Light};
use crate::overlay::Theme;

/// How two appearances are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// The left one alone.
    One,
    /// A divider between them.
    Swipe,
    /// Mixed in linear light.
    Blend,
    /// CIEDE2000 between them, through the band map.
    Difference,
    /// The right one in a round glass over the left one.
    Loupe,
    /// Now the one, now the other.
    Blink,
    /// Beside one another, under one camera.
    Pair,
}

impl Comparison {
    const ALL: [(Self, &'static str); 7] = [
        (Self::One, "one"),
        (Self::Swipe, "swipe"),
        (Self::Blend, "blend"),
        (Self::Difference, "difference"),
        (Self::Loupe, "loupe"),
        (Self::Blink, "blink"),
        (Self::Pair, "pair"),
    ];

    fn name(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(c, _)| *c == self)
            .map_or("one", |(_, name)| name)
    }
}

/// How differences are shown (CIEDE2000).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferenceScale {
    /// Smaller ones are not shown.
    pub threshold: f64,
    /// At the upper end of the band map.
    pub full_scale: f64,
    /// Whether the page may fit that to the two states: nobody has chosen it.
    pub fitted: bool,
}

/// The glass of a loupe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loupe {
    /// Its middle, 0..1 of the canvas from the left.
    pub x: f64,
    /// And from the top.
    pub y: f64,
    /// In shares of the canvas's shorter side.
    pub radius: f64,
    /// Share of the radius over which the two are mixed, 0..1.
    pub softness: f64,
}

impl Loupe {
    /// Smallest and largest radius: a choice of ours, from a coin to half of the picture.
    const RADII: (f64, f64) = (0.05, 0.5);

    /// Within its bounds.
    pub fn make_sound(&mut self) {
        self.x = self.x.clamp(0.0, 1.0);
        self.y = self.y.clamp(0.0, 1.0);
        self.radius = self.radius.clamp(Self::RADII.0, Self::RADII.1);
        self.softness = self.softness.clamp(0.0, 1.0);
    }
}

/// Most changes a second when two states take turns: WCAG 2.2, 2.3.1 allows three flashes.
pub const MOST_CHANGES_PER_SECOND: f64 = 3.0;
/// Fewest: one change in four seconds. A choice of ours.
const FEWEST_CHANGES_PER_SECOND: f64 = 0.25;

/// How a layer is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerLook {
    /// 0..1.
    pub opacity: f64,
    /// Of a band: from and to where in its range 0..1; the other way round inverts it.
    pub ends: [f64; 2],
    /// Of a band: its colours.
    pub map: ToneMap,
    /// Of a band: equal parts between lines of one value, 0 for none.
    pub lines: u8,
}

impl Default for LayerLook {
    fn default() -> Self {
        Self {
            opacity: 1.0,
            ends: [0.0, 1.0],
            map: ToneMap::default(),
            lines: 0,
        }
    }
}

/// Most parts between lines of one value: more would be a grey. A choice of ours.
const MOST_LINES: f64 = 64.0;

/// Everything that decides what is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// State or band layer on the left.
    pub left: String,
    /// State or band layer on the right.
    pub right: String,
    /// The third of three or four.
    pub third: String,
    /// The fourth of four.
    pub fourth: String,
    /// How they are compared.
    pub compare: Comparison,
    /// How many are compared at once, 2 to 4: strips, panes, or (3 at most) parts of a mixture.
    pub count: u32,
    /// Place of the divider, or share of the right one; 0..1.
    pub position: f64,
    /// Places of the second and third divider, each at or after the one before.
    pub further: [f64; 2],
    /// Shares of left, right and third in a mixture of three; they add up to 1.
    pub shares: [f64; 3],
    /// Of the divider's normal from the x axis, clockwise.
    pub angle_deg: f64,
    /// Where the glass is.
    pub loupe: Loupe,
    /// How often two states take turns.
    pub changes_per_second: f64,
    /// From where.
    pub camera: OrbitCamera,
    /// In which light.
    pub light: Light,
    /// The plane that the object is cut open by.
    pub section: Option<Cut>,
    /// How differences are shown.
    pub difference: DifferenceScale,
    /// Colours as under this lamp; none shows them as measured.
    pub lamp: Option<LampChoice>,
    /// Patterns over the paint.
    pub overlay: Option<Theme>,
    /// How layers are shown, by their ids; those not named as they are.
    pub layers: BTreeMap<String, LayerLook>,
    /// A band laid over everything, by its opacity.
    pub over: Option<String>,
    /// Lightness L* of the surround, 0..100.
    pub surround_l: f64,
    /// Open pin.
    pub pin: Option<String>,
    /// Outlined region.
    pub region: Option<String>,
    /// Language of the texts, BCP 47.
    pub language: String,
}

/// A field of a view object that makes no sense; the view stays as it was.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("view: `{field}` is {found}; {wanted}")]
pub struct ViewError {
    /// Which field.
    pub field: String,
    /// What stood there.
    pub found: String,
    /// What can stand there.
    pub wanted: String,
}

/// What ids a view may name.
pub trait Known {
    /// A state or band layer.
    fn appearance(&self, id: &str) -> bool;
    /// A pin.
    fn pin(&self, id: &str) -> bool;
    /// A region.
    fn region(&self, id: &str) -> bool;
    /// A layer, and whether it is a band.
    fn layer(&self, id: &str) -> Option<bool>;
    /// Ids of all states and band layers, for messages.
    fn appearances(&self) -> Vec<String>;
}

impl View {
    /// Places of the dividers, as many as there are.
    #[must_use]
    pub fn dividers(&self) -> Vec<f64> {
        let all = [self.position, self.further[0], self.further[1]];
        match self.compare {
            Comparison::Swipe => all[..self.count as usize - 1].to_vec(),
            _ => Vec::new(),
        }
    }

    /// Puts a divider somewhere; those in its way are pushed along.
    pub fn put_divider(&mut self, number: usize, position: f64) {
        let mut all = [self.position, self.further[0], self.further[1]];
        if let Some(divider) = all.get_mut(number) {
            *divider = position;
        }
        [self.position, self.further[0], self.further[1]] = all;
        self.put_dividers_in_order(number);
    }

    /// The divider `kept` stays; none before it lies beyond it, none after it before it. Those that
    /// are not in use stay where they are.
    fn put_dividers_in_order(&mut self, kept: usize) {
        let mut all = [self.position, self.further[0], self.further[1]].map(|p| p.clamp(0.0, 1.0));
        for number in (0..kept.min(2)).rev() {
            all[number] = all[number].min(all[number + 1]);
        }
        for number in kept + 1..self.count as usize - 1 {
            all[number] = all[number].max(all[number - 1]);
        }
        [self.position, self.further[0], self.further[1]] = all;
    }

    /// Ids of what is compared, in the order of strips and panes.
    #[must_use]
    pub fn shown(&self) -> Vec<&str> {
        let ids = &self.ids()[..self.shown_count()];
        ids.iter().map(|id| id.as_str()).collect()
    }

    fn ids(&self) -> [&String; 4] {
        [&self.left, &self.right, &self.third, &self.fourth]
    }

    /// How many are compared.
    #[must_use]
    pub fn shown_count(&self) -> usize {
        let count = match self.compare {
            Comparison::One => 1,
            Comparison::Swipe | Comparison::Pair => self.count,
            Comparison::Blend => self.count.min(3),
            _ => 2,
        };
        count as usize
    }

    /// Whether another view covers the surface otherwise, and whether what holds for whole regions is
    /// otherwise there.
    #[must_use]
    pub fn differs_in(&self, other: &Self) -> (bool, bool) {
        let sides =
            self.ids() != other.ids() || (self.shown_count() > 2) != (other.shown_count() > 2);
        let looks = self.layers != other.layers || self.over != other.over;
        let regions = self.lamp != other.lamp
            || self.overlay != other.overlay
            || self.light.mode != other.light.mode;
        (sides || looks, sides || regions)
    }

    /// The view as a plain object.
    #[must_use]
    pub fn to_value(&self) -> Value {
        let c = &self.camera;
        json!({
            "left": self.left, "right": self.right, "third": self.third, "fourth": self.fourth,
            "compare": self.compare.name(), "count": self.count, "position": self.position,
            "further": self.further, "shares": self.shares, "angle_deg": self.angle_deg,
            "loupe": {
                "x": self.loupe.x, "y": self.loupe.y, "radius": self.loupe.radius,
                "softness": self.loupe.softness,
            },
            "changes_per_second": self.changes_per_second,
            "camera": {
                "target_m": c.target_m.to_array(), "azimuth_deg": c.azimuth_deg,
                "elevation_deg": c.elevation_deg, "distance_m": c.distance_m, "fov_deg": c.fov_deg,
            },
            "light": self.light.to_value(),
            "section": self.section.map(Cut::to_value),
            "difference": {
                "threshold": self.difference.threshold, "full_scale": self.difference.full_scale,
                "fitted": self.difference.fitted,
            },
            "lamp": self.lamp.as_ref().map(|l| json!({"id": l.id, "adapted": l.adapted})),
            "overlay": self.overlay.map(Theme::name),
            "layers": self.layers.iter().map(|(id, look)| (id.clone(), json!({
                "opacity": look.opacity, "ends": look.ends, "map": look.map.name(), "lines": look.lines,
            }))).collect::<Map<String, Value>>(),
            "over": self.over,
            "surround_l": self.surround_l, "pin": self.pin, "region": self.region, "language": self.language,
        })
    }

    /// Lets go of what a changed dossier no longer has.
    pub fn keep_to(&mut self, known: &dyn Known) {
        let first = known.appearances().into_iter().next().unwrap_or_default();
        for side in [
            &mut self.left,
            &mut self.right,
            &mut self.third,
            &mut self.fourth,
        ] {
            if !known.appearance(side) {
                side.clone_from(&first);
            }
        }
        self.pin = self.pin.take().filter(|id| known.pin(id));
        self.region = self.region.take().filter(|id| known.region(id));
        self.layers.retain(|id, _| known.layer(id).is_some());
        self.over = self.over.take().filter(|id| known.layer(id) == Some(true));
    }

    /// The view with the fields of `change` in place of its own; what is absent stays.
    ///
    /// # Errors
    /// The first field that makes no sense. Fields of other names are passed over: a view saved by a
    /// later version still opens.
    pub fn changed(&self, change: &Value, known: &dyn Known) -> Result<Self, ViewError> {
        let Value::Object(fields) = change else {
            return Err(error("", change, "a view is an object"));
        };
        let mut view = self.clone();
        for (side, id) in [
            ("left", &mut view.left),
            ("right", &mut view.right),
            ("third", &mut view.third),
            ("fourth", &mut view.fourth),
        ] {
            if let Some(value) = fields.get(side) {
                *id = appearance(side, value, known)?;
            }
        }
        let compare = &mut view.compare;
        set_choice(fields, "compare", "compare", &Comparison::ALL, compare)?;
        if let Some(value) = fields.get("count") {
            view.count = match value.as_f64() {
                Some(2.0) => 2,
                Some(3.0) => 3,
                Some(4.0) => 4,
                _ => return Err(error("count", value, "it can be 2, 3 or 4")),
            };
        }
        set_number(fields, "", "position", &mut view.position)?;
        set_numbers(fields, "", "further", &mut view.further)?;
        view.put_dividers_in_order(0);
        if let Some(value) = fields.get("shares") {
            set_numbers(fields, "", "shares", &mut view.shares)?;
            // Once only: what adds up to 1 but for rounding would change each time.
            view.shares = whole(view.shares).ok_or_else(|| {
                let wanted = "they are three numbers, none below 0, one above it";
                error("shares", value, wanted)
            })?;
        }
        set_number(fields, "", "angle_deg", &mut view.angle_deg)?;
        view.angle_deg = (view.angle_deg + 180.0).rem_euclid(360.0) - 180.0;
        set_number(fields, "", "surround_l", &mut view.surround_l)?;
        view.surround_l = view.surround_l.clamp(0.0, 100.0);
        set_loupe(fields, &mut view.loupe)?;
        let rate = &mut view.changes_per_second;
        set_number(fields, "", "changes_per_second", rate)?;
        *rate = rate.clamp(FEWEST_CHANGES_PER_SECOND, MOST_CHANGES_PER_SECOND);
        set_camera(fields, &mut view.camera)?;
        view.light.set(fields)?;
        Cut::set(&mut view.section, fields)?;
        set_difference(fields, &mut view.difference)?;
        set_lamp(fields, &mut view.lamp)?;
        set_overlay(fields, &mut view.overlay)?;
        set_layers(fields, &mut view.layers, known)?;
        let band = |id: &str| known.layer(id) == Some(true);
        set_optional_id(fields, "over", &mut view.over, &band)?;
        set_optional_id(fields, "pin", &mut view.pin, &|id| known.pin(id))?;
        set_optional_id(fields, "region", &mut view.region, &|id| known.region(id))?;
        if let Some(value) = fields.get("language") {
            view.language = value
                .as_str()
                .filter(|tag| !tag.is_empty())
                .ok_or_else(|| error("language", value, "it is a BCP 47 tag such as en"))?
                .to_owned();
        }
        Ok(view)
    }
}

fn error(field: &str, found: &Value, wanted: &str) -> ViewError {
    ViewError {
        field: field.to_owned(),
        found: found.to_string(),
        wanted: wanted.to_owned(),
    }
}

fn appearance(field: &str, value: &Value, known: &dyn Known) -> Result<String, ViewError> {
    match value.as_str() {
        Some(id) if known.appearance(id) => Ok(id.to_owned()),
        _ => {
            let ids = known.appearances().join(", ");
            Err(error(
                field,
                value,
                &format!("this dossier has the states and band layers {ids}"),
            ))
        }
    }
}

pub(crate) fn set_number(
    fields: &Map<String, Value>,
    of: &str,
    name: &str,
    into: &mut f64,
) -> Result<(), ViewError> {
    if let Some(value) = fields.get(name) {
        *into = value
            .as_f64()
            .filter(|v| v.is_finite())
            .ok_or_else(|| error(&full_name(of, name), value, "it is a number"))?;
    }
    Ok(())
}

/// One of several words.
pub(crate) fn set_choice<T: Copy>(
    fields: &Map<String, Value>,
    full: &str,
    name: &str,
    all: &[(T, &str)],
    into: &mut T,
) -> Result<(), ViewError> {
    if let Some(value) = fields.get(name) {
        let known = all.iter().find(|(_, word)| Some(*word) == value.as_str());
        *into = known.map(|(choice, _)| *choice).ok_or_else(|| {
            let words: Vec<&str> = all.iter().map(|(_, word)| *word).collect();
            error(full, value, &format!("it can be {}", words.join(", ")))
        })?;
    }
    Ok(())
}

fn full_name(of: &str, name: &str) -> String {
    if of.is_empty() {
        name.to_owned()
    } else {
        format!("{of}.{name}")
    }
}

fn set_numbers<const N: usize>(
    fields: &Map<String, Value>,
    of: &str,
    name: &str,
    into: &mut [f64; N],
) -> Result<(), ViewError> {
    let Some(value) = fields.get(name) else {
        return Ok(());
    };
    let numbers: Option<Vec<f64>> = value
        .as_array()
        .and_then(|list| list.iter().map(Value::as_f64).collect());
    *into = numbers
        .and_then(|list| list.try_into().ok())
        .ok_or_else(|| error(&full_name(of, name), value, &format!("it is {N} numbers")))?;
    Ok(())
}

/// Shares scaled to add up to 1; none where that cannot be.
fn whole(shares: [f64; 3]) -> Option<[f64; 3]> {
    let sum: f64 = shares.iter().sum();
    let sound = shares.iter().all(|s| *s >= 0.0) && sum > 0.0 && sum.is_finite();
    sound.then(|| shares.map(|s| s / sum))
}

fn set_optional_id(
    fields: &Map<String, Value>,
    name: &str,
    into: &mut Option<String>,
    known: &dyn Fn(&str) -> bool,
) -> Result<(), ViewError> {
    match fields.get(name) {
        None => {}
        Some(Value::Null) => *into = None,
        Some(Value::String(id)) if known(id) => *into = Some(id.clone()),
        Some(other) => {
            return Err(error(
                name,
                other,
                &format!("this dossier has no such {name}"),
            ));
        }
    }
    Ok(())
}

pub(crate) fn object<'a>(
    fields: &'a Map<String, Value>,
    name: &str,
) -> Result<Option<&'a Map<String, Value>>, ViewError> {
    match fields.get(name) {
        None | Some(Value::Null) => Ok(None),
        Some(Value::Object(inner)) => Ok(Some(inner)),
        Some(other) => Err(error(name, other, "it is an object")),
    }
}

fn set_camera(fields: &Map<String, Value>, camera: &mut OrbitCamera) -> Result<(), ViewError> {
    let Some(inner) = object(fields, "camera")? else {
        return Ok(());
    };
    if let Some(value) = inner.get("target_m") {
        let numbers: Vec<f64> = value
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_f64)
            .collect();
        let &[x, y, z] = numbers.as_slice() else {
            return Err(error(
                "camera.target_m",
                value,
                "it is three numbers in metres",
            ));
        };
        camera.target_m = DVec3::new(x, y, z);
    }
    set_number(inner, "camera", "azimuth_deg", &mut camera.azimuth_deg)?;
    set_number(inner, "camera", "elevation_deg", &mut camera.elevation_deg)?;
    set_number(inner, "camera", "distance_m", &mut camera.distance_m)?;
    set_number(inner, "camera", "fov_deg", &mut camera.fov_deg)?;
    camera.make_sound();
    Ok(())
}

fn set_loupe(fields: &Map<String, Value>, loupe: &mut Loupe) -> Result<(), ViewError> {
    let Some(inner) = object(fields, "loupe")? else {
        return Ok(());
    };
    set_number(inner, "loupe", "x", &mut loupe.x)?;
    set_number(inner, "loupe", "y", &mut loupe.y)?;
    set_number(inner, "loupe", "radius", &mut loupe.radius)?;
    set_number(inner, "loupe", "softness", &mut loupe.softness)?;
    loupe.make_sound();
    Ok(())
}

fn set_difference(
    fields: &Map<String, Value>,
    scale: &mut DifferenceScale,
) -> Result<(), ViewError> {
    let Some(inner) = object(fields, "difference")? else {
        return Ok(());
    };
    set_number(inner, "difference", "threshold", &mut scale.threshold)?;
    set_number(inner, "difference", "full_scale", &mut scale.full_scale)?;
    // Who names a scale has chosen it.
    scale.fitted &= !inner.contains_key("full_scale");
    if let Some(value) = inner.get("fitted") {
        scale.fitted = value
            .as_bool()
            .ok_or_else(|| error("difference.fitted", value, "it is true or false"))?;
    }
    scale.threshold = scale.threshold.clamp(0.0, LARGEST_DIFFERENCE);
    scale.full_scale = scale.full_scale.clamp(SMALLEST_SCALE, LARGEST_DIFFERENCE);
    Ok(())
}

/// All looks at once: a layer that is not named is shown as it is.
fn set_layers(
    fields: &Map<String, Value>,
    layers: &mut BTreeMap<String, LayerLook>,
    known: &dyn Known,
) -> Result<(), ViewError> {
    let Some(all) = object(fields, "layers")? else {
        return Ok(());
    };
    let mut looks = BTreeMap::new();
    for (id, value) in all {
        let name = format!("layers.{id}");
        let Some(inner) = value.as_object().filter(|_| known.layer(id).is_some()) else {
            return Err(error(
                &name,
                value,
                "each is an object, named by a layer of this dossier",
            ));
        };
        let mut look = LayerLook::default();
        set_number(inner, &name, "opacity", &mut look.opacity)?;
        look.opacity = look.opacity.clamp(0.0, 1.0);
        set_numbers(inner, &name, "ends", &mut look.ends)?;
        look.ends = look.ends.map(|end| end.clamp(0.0, 1.0));
        let maps = ToneMap::ALL.map(|map| (map, map.name()));
        set_choice(inner, &format!("{name}.map"), "map", &maps, &mut look.map)?;
        let mut lines = f64::from(look.lines);
        set_number(inner, &name, "lines", &mut lines)?;
        look.lines = lines.clamp(0.0, MOST_LINES) as u8;
        if look != LayerLook::default() {
            looks.insert(id.clone(), look);
        }
    }
    *layers = looks;
    Ok(())
}

/// Black to white is 100 (CIE 142:2001); coloured pairs reach a little more.
const LARGEST_DIFFERENCE: f64 = 120.0;
/// A choice of ours: a tenth of what is just seen.
const SMALLEST_SCALE: f64 = 0.1;

fn set_lamp(fields: &Map<String, Value>, lamp: &mut Option<LampChoice>) -> Result<(), ViewError> {
    match fields.get("lamp") {
        None => return Ok(()),
        Some(Value::Null) => *lamp = None,
        Some(Value::Object(inner)) => {
            let id = inner.get("id").unwrap_or(&Value::Null);
            let choice = LampChoice {
                id: id.as_str().unwrap_or_default().to_owned(),
                adapted: inner
                    .get("adapted")
                    .and_then(Value::as_bool)
                    .unwrap_or(true),
            };
            if let Err(unknown) = choice.id.parse::<ganosis_colorimetry::illuminant::Lamp>() {
                return Err(error("lamp.id", id, &unknown.to_string()));
            }
            *lamp = Some(choice);
        }
        Some(other) => return Err(error("lamp", other, "it is null or {id, adapted}")),
    }
    Ok(())
}

fn set_overlay(fields: &Map<String, Value>, overlay: &mut Option<Theme>) -> Result<(), ViewError> {
    match fields.get("overlay") {
        None => {}
        Some(Value::Null) => *overlay = None,
        Some(value) => match value.as_str().and_then(Theme::named) {
            Some(theme) => *overlay = Some(theme),
            None => {
                let wanted = "it can be null, certainty, technique, age or review";
                return Err(error("overlay", value, wanted));
            }
        },
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::camera::Ball;

    struct Ids;
    impl Known for Ids {
        fn appearance(&self, id: &str) -> bool {
            ["a", "b"].contains(&id)
        }
        fn pin(&self, id: &str) -> bool {
            id == "p"
        }
        fn region(&self, id: &str) -> bool {
            id == "r"
        }
        fn layer(&self, id: &str) -> Option<bool> {
            ["band", "paint"].contains(&id).then_some(id == "band")
        }
        fn appearances(&self) -> Vec<String> {
            vec!["a".into(), "b".into()]
        }
    }

    fn view() -> View {
        View {
            left: "a".into(),
            right: "b".into(),
            third: "a".into(),
            fourth: "b".into(),
            compare: Comparison::Swipe,
            count: 2,
            position: 0.5,
            further: [0.5, 0.75],
            shares: [0.25, 0.25, 0.5],
            angle_deg: 0.0,
            loupe: Loupe {
                x: 0.5,
                y: 0.5,
                radius: 0.2,
                softness: 0.0,
            },
            changes_per_second: 1.0,
            camera: OrbitCamera::fitted(
                Ball {
                    centre_m: DVec3::ZERO,
                    radius_m: 1.0,
                },
                1.0,
            ),
            light: Light::default(),
            section: None,
            difference: DifferenceScale {
                threshold: 0.0,
                full_scale: 10.0,
                fitted: true,
            },
            lamp: None,
            overlay: None,
            layers: BTreeMap::new(),
            over: None,
            surround_l: 50.0,
            pin: None,
            region: None,
            language: "en".into(),
        }
    }

    #[test]
    fn a_view_comes_back_from_its_own_object() {
        let there = View {
            pin: Some("p".into()),
            region: Some("r".into()),
            compare: Comparison::Difference,
            lamp: Some(LampChoice {
                id: "LED-B3".into(),
                adapted: false,
            }),
            overlay: Some(Theme::Review),
            layers: BTreeMap::from([(
                "band".into(),
                LayerLook {
                    opacity: 0.5,
                    ends: [0.75, 0.25],
                    map: ToneMap::Diverging,
                    lines: 8,
                },
            )]),
            over: Some("band".into()),
            third: "b".into(),
            loupe: Loupe {
                x: 0.25,
                softness: 0.5,
                ..view().loupe
            },
            changes_per_second: 2.0,
            light: Light {
                mode: crate::light::Mode::Daylight,
                relief: 3.0,
                ..Light::default()
            },
            section: Some(Cut {
                position: -0.25,
                ..Cut::default()
            }),
            count: 4,
            further: [0.75, 0.75],
            shares: [0.5, 0.25, 0.25],
            ..view()
        };
        assert_eq!(view().changed(&there.to_value(), &Ids), Ok(there));
    }

    #[test]
    fn no_view_changes_more_than_three_times_a_second() {
        let fast = view().changed(&json!({"changes_per_second": 60}), &Ids);
        assert_eq!(fast.map(|v| v.changes_per_second), Ok(3.0));
    }

    #[test]
    fn absent_fields_stay_and_null_closes_the_pin() {
        let open = View {
            pin: Some("p".into()),
            ..view()
        };
        assert_eq!(open.changed(&json!({}), &Ids), Ok(open.clone()));
        assert_eq!(
            open.changed(&json!({"pin": null}), &Ids).map(|v| v.pin),
            Ok(None)
        );
    }

    #[test]
    fn nonsense_names_its_field_and_changes_nothing() {
        for (change, field) in [
            (json!({"left": "x"}), "left"),
            (json!({"compare": "x"}), "compare"),
            (json!({"position": "x"}), "position"),
            (json!({"fourth": "x"}), "fourth"),
            (json!({"count": 5}), "count"),
            (json!({"further": [0.5]}), "further"),
            (json!({"shares": [0, 0, 0]}), "shares"),
            (json!({"shares": [2, -1, 0]}), "shares"),
            (json!({"loupe": {"radius": "x"}}), "loupe.radius"),
            (json!({"camera": {"target_m": [0, 1]}}), "camera.target_m"),
            (json!({"camera": {"distance_m": null}}), "camera.distance_m"),
            (json!({"light": {"mode": "x"}}), "light.mode"),
            (
                json!({"light": {"second": {"softness": "x"}}}),
                "light.second.softness",
            ),
            (json!({"section": {"position": null}}), "section.position"),
            (json!({"region": "x"}), "region"),
            (json!({"lamp": {"id": "moon"}}), "lamp.id"),
            (json!({"layers": {"x": {}}}), "layers.x"),
            (json!({"layers": {"band": {"map": "x"}}}), "layers.band.map"),
            (
                json!({"layers": {"band": {"ends": [1]}}}),
                "layers.band.ends",
            ),
            (json!({"over": "paint"}), "over"),
            (json!({"overlay": "colour"}), "overlay"),
            (
                json!({"difference": {"threshold": "x"}}),
                "difference.threshold",
            ),
        ] {
            let error = view().changed(&change, &Ids).expect_err("refused");
            assert_eq!(error.field, field);
        }
    }

    #[test]
    fn a_divider_pushes_those_in_its_way() {
        let mut view = View {
            position: 0.2,
            further: [0.5, 0.7],
            count: 4,
            ..view()
        };
        view.put_divider(0, 0.6);
        assert_eq!(view.dividers(), [0.6, 0.6, 0.7]);
        view.put_divider(2, 0.1);
        assert_eq!(view.dividers(), [0.1, 0.1, 0.1]);
        view.put_divider(1, 2.0);
        assert_eq!(view.dividers(), [0.1, 1.0, 1.0]);
    }

    #[test]
    fn shares_are_parts_of_a_whole() {
        let mixed = view().changed(&json!({"shares": [2, 1, 1]}), &Ids);
        assert_eq!(mixed.map(|v| v.shares), Ok([0.5, 0.25, 0.25]));
    }

    #[test]
    fn as_many_are_shown_as_the_comparison_can_hold() {
        let shown = |compare, count| {
            View {
                compare,
                count,
                ..view()
            }
            .shown()
            .len()
        };
        assert_eq!(shown(Comparison::One, 4), 1);
        assert_eq!(shown(Comparison::Swipe, 3), 3);
        assert_eq!(shown(Comparison::Blend, 4), 3);
        assert_eq!(shown(Comparison::Pair, 4), 4);
        assert_eq!(shown(Comparison::Loupe, 4), 2);
    }
}
