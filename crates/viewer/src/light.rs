//! Light on the object, and the plane that it is cut open by, as parts of a view.

use ganosis_renderer::{self as renderer, Section};
use glam::DVec3;
use serde_json::{Map, Value};

use crate::camera::{Ball, Basis, lamp_direction};
use crate::view::{ViewError, object, set_choice, set_number};

/// A number of a view: its name, where it is, and its bounds.
type Field<'a> = (&'static str, &'a mut f64, f64, f64);

/// Sine of the largest angular radius of a lamp. A choice of ours: a window two steps away.
const SOFTEST: f64 = 0.9;
/// A choice of ours: four times what shows a surface in its own colour, for light that grazes it.
const STRONGEST: f64 = 4.0;
/// Most that relief is exaggerated. A choice of ours: beyond, noise of the mesh is all that is seen.
const MOST_RELIEF: f64 = 5.0;
/// Share of light from everywhere beside the lamps: a choice of ours, a dim room.
const AMBIENT: f32 = 0.18;
/// Height of the middle of the sky, before the object: a choice of ours.
const SKY_ELEVATION_DEG: f64 = 60.0;
/// Share of light that ground without snow gives back (B. Y. H. Liu and R. C. Jordan, Solar Energy 7(2), 1963).
const GROUND: f32 = 0.2;

/// What kind of light there is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Mode {
    /// None: colour is as measured.
    #[default]
    AsMeasured,
    /// Lamps.
    Raking,
    /// An overcast sky.
    Daylight,
}

impl Mode {
    const ALL: [(Self, &'static str); 3] = [
        (Self::AsMeasured, "as-measured"),
        (Self::Raking, "raking"),
        (Self::Daylight, "daylight"),
    ];
}

/// Where a lamp stands, as seen from the middle of the object.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lamp {
    /// From the front to its right (degrees).
    pub azimuth_deg: f64,
    /// Above the horizon (degrees).
    pub elevation_deg: f64,
    /// 0: so far that its light is parallel.
    pub distance_m: f64,
    /// Sine of its angular radius.
    pub softness: f64,
    /// 1 shows what faces it in its own colour; 0 is off.
    pub strength: f64,
}

impl Lamp {
    fn fields(&mut self) -> [Field<'_>; 5] {
        [
            ("azimuth_deg", &mut self.azimuth_deg, -360.0, 360.0),
            ("elevation_deg", &mut self.elevation_deg, -90.0, 90.0),
            ("distance_m", &mut self.distance_m, 0.0, f64::MAX),
            ("softness", &mut self.softness, 0.0, SOFTEST),
            ("strength", &mut self.strength, 0.0, STRONGEST),
        ]
    }

    fn shone(&self, basis: &Basis) -> renderer::Lamp {
        renderer::Lamp {
            direction: lamp_direction(basis, self.azimuth_deg, self.elevation_deg),
            distance_m: self.distance_m as f32,
            softness: self.softness as f32,
            strength: self.strength as f32 * (1.0 - AMBIENT),
        }
    }
}

/// Light on the object.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// Without any, colour is as measured.
    pub mode: Mode,
    /// Two lamps.
    pub lamps: [Lamp; 2],
    /// How many times as strong relief is shown.
    pub relief: f64,
    /// How much counts what the object itself hides of the surroundings, 0..1.
    pub occlusion: f64,
}

impl Default for Light {
    fn default() -> Self {
        let first = Lamp {
            azimuth_deg: -65.0,
            elevation_deg: 20.0,
            distance_m: 0.0,
            softness: 0.0,
            strength: 1.0,
        };
        let second = Lamp {
            azimuth_deg: 65.0,
            strength: 0.0,
            ..first
        };
        Self {
            mode: Mode::AsMeasured,
            lamps: [first, second],
            relief: 1.0,
            occlusion: 0.0,
        }
    }
}

fn told(fields: &mut [Field<'_>]) -> Map<String, Value> {
    fields
        .iter()
        .map(|(name, value, ..)| ((*name).to_owned(), Value::from(**value)))
        .collect()
}

fn take(inner: &Map<String, Value>, of: &str, fields: &mut [Field<'_>]) -> Result<(), ViewError> {
    for (name, value, low, high) in fields {
        set_number(inner, of, name, value)?;
        **value = value.clamp(*low, *high);
    }
    Ok(())
}

impl Light {
    fn fields(&mut self) -> [Field<'_>; 2] {
        [
            ("relief", &mut self.relief, 0.0, MOST_RELIEF),
            ("occlusion", &mut self.occlusion, 0.0, 1.0),
        ]
    }

    /// As in a view: the first lamp's place beside the mode, the second one as `second`.
    #[must_use]
    pub fn to_value(mut self) -> Value {
        let mut all = told(&mut self.lamps[0].fields());
        all.extend(told(&mut self.fields()));
        let name = Mode::ALL.iter().find(|(mode, _)| *mode == self.mode);
        all.insert("mode".to_owned(), name.map_or("", |(_, name)| name).into());
        let second = told(&mut self.lamps[1].fields());
        all.insert("second".to_owned(), second.into());
        all.into()
    }

    /// Takes what a view says of it.
    pub(crate) fn set(&mut self, fields: &Map<String, Value>) -> Result<(), ViewError> {
        let Some(inner) = object(fields, "light")? else {
            return Ok(());
        };
        set_choice(inner, "light.mode", "mode", &Mode::ALL, &mut self.mode)?;
        take(inner, "light", &mut self.lamps[0].fields())?;
        take(inner, "light", &mut self.fields())?;
        if let Some(second) = object(inner, "second")? {
            take(second, "light.second", &mut self.lamps[1].fields())?;
        }
        Ok(())
    }

    /// For the renderer; none where colour is as measured.
    #[must_use]
    pub fn shone(&self, basis: &Basis) -> Option<renderer::Light> {
        let sky = match self.mode {
            Mode::AsMeasured => return None,
            Mode::Raking => 0.0,
            Mode::Daylight => 1.0,
        };
        let lamps = self.lamps.map(|lamp| {
            let shone = lamp.shone(basis);
            renderer::Lamp {
                strength: shone.strength * (1.0 - sky),
                ..shone
            }
        });
        Some(renderer::Light {
            lamps,
            ambient: AMBIENT * (1.0 - sky),
            sky,
            sky_direction: lamp_direction(basis, 0.0, SKY_ELEVATION_DEG),
            ground: GROUND,
            relief: self.relief as f32,
            occlusion: self.occlusion as f32,
        })
    }
}

/// The plane that the object is cut open by: what lies towards its normal is taken away.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cut {
    /// Of its normal, from the front to the right (degrees).
    pub azimuth_deg: f64,
    /// Of its normal, above the horizon (degrees).
    pub elevation_deg: f64,
    /// From the middle of the object, in radii of the ball around it, -1..1.
    pub position: f64,
}

impl Cut {
    fn fields(&mut self) -> [Field<'_>; 3] {
        [
            ("azimuth_deg", &mut self.azimuth_deg, -360.0, 360.0),
            ("elevation_deg", &mut self.elevation_deg, -90.0, 90.0),
            ("position", &mut self.position, -1.0, 1.0),
        ]
    }

    /// As in a view.
    #[must_use]
    pub fn to_value(mut self) -> Value {
        told(&mut self.fields()).into()
    }

    /// Takes what a view says of it.
    pub(crate) fn set(into: &mut Option<Self>, view: &Map<String, Value>) -> Result<(), ViewError> {
        if view.get("section").is_some_and(Value::is_null) {
            *into = None;
        }
        if let Some(inner) = object(view, "section")? {
            let cut = into.get_or_insert_default();
            take(inner, "section", &mut cut.fields())?;
        }
        Ok(())
    }

    /// For the renderer, whose scene has its origin in the middle of the ball.
    #[must_use]
    pub fn plane(&self, basis: &Basis, ball: Ball) -> Section {
        Section {
            normal: lamp_direction(basis, self.azimuth_deg, self.elevation_deg),
            offset_m: (self.position * ball.radius_m) as f32,
        }
    }

    /// What of a ray is left: from where and how far it goes (m); none where all of it is cut away.
    #[must_use]
    pub fn kept(
        &self,
        basis: &Basis,
        ball: Ball,
        from_m: DVec3,
        direction: DVec3,
    ) -> Option<(DVec3, f64)> {
        let plane = self.plane(basis, ball);
        let normal = plane.normal.as_dvec3();
        let before = normal.dot(from_m - ball.centre_m) - f64::from(plane.offset_m);
        let speed = normal.dot(direction);
        let crossing = -before / speed;
        if before > 0.0 {
            (speed < 0.0).then(|| (from_m + direction * crossing, f64::INFINITY))
        } else if speed > 0.0 {
            Some((from_m, crossing))
        } else {
            Some((from_m, f64::INFINITY))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ray_is_kept_on_the_side_that_is_left() {
        let basis = Basis::new(DVec3::Y, DVec3::Z);
        let ball = Ball {
            centre_m: DVec3::new(0.0, 0.0, 10.0),
            radius_m: 2.0,
        };
        // Before z = 11 all is taken away.
        let cut = Cut {
            position: 0.5,
            ..Cut::default()
        };
        let kept = |z: f64, towards: DVec3| cut.kept(&basis, ball, DVec3::Z * z, towards);
        let (from, far) = kept(20.0, DVec3::NEG_Z).expect("goes on behind the plane");
        assert!((from.z - 11.0).abs() < 1e-6 && far.is_infinite());
        assert_eq!(kept(20.0, DVec3::Z), None);
        assert_eq!(kept(20.0, DVec3::X), None);
        let (from, far) = kept(5.0, DVec3::Z).expect("begins behind the plane");
        assert!(from.z == 5.0 && (far - 6.0).abs() < 1e-6);
        assert_eq!(kept(5.0, DVec3::X), Some((DVec3::Z * 5.0, f64::INFINITY)));
    }

    #[test]
    fn unlit_is_no_light() {
        let basis = Basis::new(DVec3::Y, DVec3::Z);
        assert_eq!(Light::default().shone(&basis), None);
    }
}
