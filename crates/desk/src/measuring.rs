//! Measuring on the surface, and between readings of colour.

use std::rc::Rc;

use ganosis_colorimetry::{LabD50, delta_e_2000};
use ganosis_surface::Surface;
use ganosis_surface::measure::{
    Mesh, Path, Spot, Walks, angle_at_rad, angle_between_rad, loops, profile,
};
use ganosis_surface::pick::{Hit, Picker};
use glam::{DVec3, Vec3};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::drawing::shows;
use crate::{Desk, DeskError};

/// A place further from the surface than this part of its radius is not on it. Choice of this project:
/// 0.2 mm on 40 cm, well above the rounding of a place that was picked.
const ON_SURFACE: f32 = 1e-3;

/// Most places of a loop. Choice of this project.
const MOST_PLACES: usize = 500;

/// What is to be measured, as the page sends it.
#[derive(Debug, Clone, Deserialize)]
pub struct Measuring {
    kind: Kind,
    places: Vec<Place>,
    /// Ids of the states in view: parts that none of them shows are not there.
    #[serde(default)]
    states: Vec<String>,
    /// A profile's heights run along it; without it along the mean of the two normals.
    #[serde(default)]
    towards: Option<[f64; 3]>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    Distance,
    Angle,
    Normals,
    Loop,
    Profile,
}

#[derive(Debug, Clone, Copy, Deserialize)]
struct Place {
    position: [f32; 3],
    #[serde(default)]
    normal: [f32; 3],
}

/// The surface with the parts that are shown.
#[derive(Debug)]
pub(crate) struct Measured {
    shown: Vec<bool>,
    mesh: Mesh,
    picker: Rc<Picker>,
    radius_m: f32,
}

impl Measured {
    fn new(surface: &Surface, picker: Rc<Picker>, shown: Vec<bool>) -> Self {
        Self {
            mesh: Mesh::new(surface, &|patch| shown[patch]),
            picker,
            radius_m: surface.bounds().map_or(0.0, |b| b.radius_m()),
            shown,
        }
    }

    /// The place on the surface that was picked, on the side that it faces.
    fn find(&self, place: &Place) -> Result<(Hit, Spot), DeskError> {
        let normal = Vec3::from_array(place.normal);
        let visible = |patch: usize| self.shown[patch];
        let position = Vec3::from_array(place.position);
        let near = |faces: &dyn Fn(Vec3) -> bool| {
            let within_m = self.radius_m * ON_SURFACE;
            self.picker
                .nearest_facing(position, within_m, &visible, faces)
        };
        let hit = near(&|n| n != Vec3::ZERO && n.dot(normal) >= 0.0)
            .or_else(|| near(&|n| n != Vec3::ZERO));
        let spot = hit.and_then(|hit| Some((hit, self.mesh.spot(&hit)?)));
        spot.ok_or_else(|| "there is no surface at one of the places; set it again".into())
    }

    fn measure(&self, measuring: &Measuring) -> Result<Value, DeskError> {
        let Measuring { kind, places, .. } = measuring;
        let wanted = match kind {
            Kind::Distance | Kind::Normals | Kind::Profile => 2..=2,
            Kind::Angle => 3..=3,
            Kind::Loop => 3..=MOST_PLACES,
        };
        if !wanted.contains(&places.len()) {
            return Err(format!(
                "{} places were given where {} to {} are needed",
                places.len(),
                wanted.start(),
                wanted.end()
            )
            .into());
        }
        let found: Vec<(Hit, Spot)> = places
            .iter()
            .map(|place| self.find(place))
            .collect::<Result<_, _>>()?;
        let at = |k: usize| self.mesh.position_m(&found[k].1);
        let mut walks = Walks::new(&self.mesh);
        let mut result = match kind {
            Kind::Distance => {
                let way = walks.shortest(&found[0].1, &found[1].1);
                json!({"straight_m": at(0).distance(at(1)), "surface_m": way.as_ref().map(|w| w.length_m),
                       "line": way.as_ref().map(line)})
            }
            Kind::Angle => {
                let angle_rad = angle_at_rad(at(0), at(1), at(2));
                let angle_rad = angle_rad.ok_or("two of the places are the same")?;
                json!({"angle_deg": angle_rad.to_degrees()})
            }
            Kind::Normals => {
                let [a, b] = [0, 1].map(|k| found[k].0.normal.as_dvec3());
                let angle_rad = angle_between_rad(a, b).ok_or("there is no normal at a place")?;
                json!({"angle_deg": angle_rad.to_degrees(), "normals": [a.to_array(), b.to_array()]})
            }
            Kind::Loop => {
                let spots: Vec<Spot> = found.iter().map(|f| f.1).collect();
                let enclosed = loops::enclosed(&mut walks, &spots).ok_or(APART)?;
                json!({"perimeter_m": enclosed.perimeter_m, "area_m2": enclosed.area_m2,
                       "line": points(&enclosed.points_m)})
            }
            Kind::Profile => self.profile(measuring, &found)?,
        };
        result["triangles"] = json!(self.mesh.triangle_count());
        Ok(result)
    }

    fn profile(&self, measuring: &Measuring, found: &[(Hit, Spot)]) -> Result<Value, DeskError> {
        let mean = || (found[0].0.normal + found[1].0.normal).as_dvec3();
        let up = measuring.towards.map_or_else(mean, DVec3::from_array);
        let cut = profile::cut(&self.mesh, &found[0].1, &found[1].1, up)
            .ok_or("the two places lie one behind the other, so no cut through both is the right one; turn the object or move a place")?;
        let heights = cut.samples_m.iter().map(|p| p.y);
        let (low, high) = heights.fold((0.0_f64, 0.0_f64), |(l, h), y| (l.min(y), h.max(y)));
        let steps = cut.samples_m.windows(2);
        let along_m: f64 = steps.map(|pair| pair[0].distance(pair[1])).sum();
        let samples: Vec<[f64; 2]> = cut.samples_m.iter().map(|p| p.to_array()).collect();
        let straight_m = self
            .mesh
            .position_m(&found[0].1)
            .distance(self.mesh.position_m(&found[1].1));
        Ok(
            json!({"samples_m": samples, "line": points(&cut.points_m), "whole": cut.whole,
                  "straight_m": straight_m, "surface_m": along_m, "lowest_m": low, "highest_m": high}),
        )
    }
}

const APART: &str = "the places are on parts of the surface that do not touch";

fn line(way: &Path) -> Value {
    points(&way.points_m)
}

fn points(points_m: &[DVec3]) -> Value {
    points_m.iter().map(|p| json!(p.to_array())).collect()
}

/// CIEDE2000 of pairs of CIELAB (D50) colours, six numbers a pair; what is left over is left out.
#[cfg_attr(
    not(target_arch = "wasm32"),
    expect(dead_code, reason = "only the handle calls it")
)]
pub(crate) fn differences(pairs: &[f64]) -> Vec<f64> {
    let lab = |c: &[f64]| LabD50::from_array([c[0], c[1], c[2]]);
    pairs
        .chunks_exact(6)
        .map(|pair| delta_e_2000(lab(&pair[..3]), lab(&pair[3..])))
        .collect()
}

impl Desk {
    /// Measures on the surface: a `distance` (straight and over the surface), an `angle` of three places,
    /// between two `normals`, what a `loop` encloses, or a `profile`. Lengths in metres, angles in degrees.
    ///
    /// # Errors
    /// If the places are too few, off the surface, or on parts that do not touch where they must.
    pub fn measure(&mut self, measuring: &Measuring) -> Result<Value, DeskError> {
        let picker = self.picker()?;
        let (document, Some(Ok(surface))) = (self.journal.document(), &self.surface) else {
            return Err("the surface is not here".into());
        };
        let patches = 0..surface.patches.len();
        let shown: Vec<bool> = patches
            .map(|patch| shows(document, surface, &measuring.states, patch))
            .collect();
        let known = self.measured.take().filter(|known| known.shown == shown);
        let measured = known.unwrap_or_else(|| Measured::new(surface, picker, shown));
        self.measured.insert(measured).measure(measuring)
    }
}
