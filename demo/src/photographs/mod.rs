//! Photographs of the boss by simulated cameras, with the truth beside them: what the way from
//! photographs to layers starts from, and is tested against.
//!
//! Two cameras with different lenses and sensitivities: one for colour, one for grey bands. Uneven
//! light, noise, a highlight, the shadow of a stand; a chart, a white board, the lens cap; an infrared
//! set with another focus and a nudged tripod. Simplified: the colour camera's channels are mixtures of
//! linear sRGB, so that there is no metamerism, and the lamp goes with the camera.

mod camera;
mod chain;
mod chart;
mod model;
mod points;
mod scene;
mod shot;

use crate::files;
use crate::noise::Random;
use anyhow::{Result, ensure};
use camera::{Lens, Station};
use glam::{DVec2, DVec3};
use points::Marked;
use scene::{Light, Scene};
use serde_json::json;
use shot::{Before, Flaw, Shot};
use std::fmt::Write;
use std::path::Path;

/// Pixels across a photograph.
pub const DEFAULT_WIDTH_PX: usize = 2400;

/// What to photograph.
#[derive(Debug, Clone)]
pub struct Options {
    /// Seeds noise, points and errors of marking.
    pub seed: u64,
    /// Pixels across a photograph of the colour camera: 300 to 12000, a multiple of 150.
    pub width_px: usize,
    /// Texels along the side of a sheet of the layers to be made.
    pub texture_px: usize,
}

/// Names of the photographs.
struct Plan {
    colour: usize,
    grey: usize,
}

impl Plan {
    fn colour(&self) -> Vec<String> {
        (1..=self.colour).map(|k| format!("c{k}")).collect()
    }

    fn grey(&self) -> impl Iterator<Item = String> {
        (1..=self.grey).map(|k| format!("g{k}"))
    }
}

/// A photograph and its truth.
struct Taken<'a> {
    name: String,
    lens: Lens,
    station: Station,
    scene: &'a Scene,
}

/// The infrared image is larger by this: the lens was focused anew.
const FOCUS_SHIFT: f64 = 1.003;
/// And less sharp, in pixels to each side.
const INFRARED_BLUR_PX: f64 = 0.8;
/// Where the restorer's stand cast its shadow, and half its width, in metres.
const SHADOW: Flaw = Flaw::Shadow(-0.07, 0.007);
/// Photographs of colour with a highlight and with the shadow, from 0.
const WITH_HIGHLIGHT: usize = 1;
const WITH_SHADOW: usize = 4;

fn lenses(width_px: usize) -> (Lens, Lens) {
    let colour = width_px as f64;
    let grey = (4 * width_px / 5) as f64;
    (
        Lens {
            width_px,
            height_px: 2 * width_px / 3,
            focal_px: 1.9 * colour,
            centre_px: DVec2::new(0.504 * colour, 0.331 * colour),
            radial: [-0.11, 0.09, -0.02],
            decentring: [6e-4, -9e-4],
        },
        Lens {
            width_px: 4 * width_px / 5,
            height_px: 16 * width_px / 25,
            focal_px: 1.75 * grey,
            centre_px: DVec2::new(0.497 * grey, 0.403 * grey),
            radial: [0.06, -0.03, 0.0],
            decentring: [-4e-4, 3e-4],
        },
    )
}

/// Cameras around the axis of the boss, the last one straight before it.
fn stations(scene: &Scene, count: usize, aside_m: f64, phase: f64) -> Vec<Station> {
    let middle = scene.bounds.centre_m().as_dvec3();
    let around = count - 1;
    let each = (0..count).map(|k| {
        let turn = phase + std::f64::consts::TAU * k as f64 / around as f64;
        let aside = if k == around { 0.0 } else { aside_m };
        let (x, y) = (aside * libm::cos(turn), aside * libm::sin(turn));
        let far = if k == around { 1.12 } else { 0.95 };
        Station::looking(
            middle + DVec3::new(x, y, far),
            middle,
            0.08 * (k % 3) as f64,
        )
    });
    each.collect()
}

/// Photographs the boss of a dossier made by [`crate::generate`] and writes everything to a folder:
/// photographs, marked points, lenses, a photogrammetric model, the chart's table, recipes, the
/// commands from these to layers (`chain.txt`), and the truth (`truth/`).
///
/// # Errors
/// Options out of range, a dossier that was not made by this program, files that cannot be written.
pub fn take(dossier: &Path, folder: &Path, options: &Options, say: &dyn Fn(&str)) -> Result<()> {
    let Options { seed, width_px, .. } = *options;
    ensure!(
        (300..=12000).contains(&width_px) && width_px.is_multiple_of(150),
        "--photograph-px {width_px}: photographs have 300 to 12000 pixels across, a multiple of 150"
    );
    let scene = Scene::read(dossier)?;
    let (colour, grey) = lenses(width_px);
    let plan = Plan { colour: 8, grey: 4 };
    let sites = points::sites(&scene, seed);
    ensure!(
        sites.len() > 40,
        "only {} places can be marked",
        sites.len()
    );
    let highlight = Flaw::Highlight(sites[sites.len() / 3].place_m, 0.006);
    let mut taken = Vec::new();
    let mut write = |name: String, shot: Shot| -> Result<()> {
        say(&format!("photograph {name}"));
        shot.write(&folder.join(format!("photographs/{name}.png")), seed)?;
        if matches!(shot.before, Before::Boss(..)) {
            taken.push(Taken {
                lens: shot.lens,
                station: shot.station,
                scene: &scene,
                name,
            });
        }
        Ok(())
    };
    let straight = Station::looking(DVec3::Z, DVec3::ZERO, 0.0);
    let plain = |lens: Lens, before| Shot {
        name: "",
        lens,
        station: straight,
        before,
        flaws: &[],
        blur_px: 0.0,
    };
    for (name, lens, before) in [
        ("c-chart", colour, Before::Chart),
        ("c-flat", colour, Before::Board),
        ("c-dark", colour, Before::Cap),
        ("g-flat", grey, Before::Board),
        ("g-dark", grey, Before::Cap),
    ] {
        let shot = plain(lens, before);
        write(name.to_owned(), Shot { name, ..shot })?;
    }
    let around = stations(&scene, plan.colour, 0.62, 0.3);
    for (k, (name, station)) in plan.colour().into_iter().zip(around).enumerate() {
        let flaws: &[Flaw] = match k {
            WITH_HIGHLIGHT => &[highlight],
            WITH_SHADOW => &[SHADOW],
            _ => &[],
        };
        let shot = Shot {
            name: &name.clone(),
            station,
            flaws,
            ..plain(colour, Before::Boss(&scene, Light::Colour))
        };
        write(name, shot)?;
    }
    for (k, (name, station)) in plan
        .grey()
        .zip(stations(&scene, plan.grey, 0.5, 1.1))
        .enumerate()
    {
        let infrared = Lens {
            focal_px: grey.focal_px * FOCUS_SHIFT,
            ..grey
        };
        // Somebody touched the tripod between the bands, by an angle that moves the picture by one
        // to three pixels.
        let touch = (1.0 + k as f64) / grey.focal_px;
        let bands = [
            ("vis", Light::Visible, grey, station, 0.0),
            (
                "uvl",
                Light::Luminescence,
                grey,
                station.nudged(0.4 * touch, 0.3 * touch),
                0.0,
            ),
            (
                "irr",
                Light::Infrared,
                infrared,
                station.nudged(-0.6 * touch, 0.8 * touch),
                INFRARED_BLUR_PX,
            ),
        ];
        for (band, light, lens, station, blur_px) in bands {
            let name = format!("{name}-{band}");
            let shot = Shot {
                name: &name.clone(),
                station,
                blur_px,
                ..plain(lens, Before::Boss(&scene, light))
            };
            write(name, shot)?;
        }
    }
    say("marking points");
    let wrong = mark(folder, &taken, &sites, seed)?;
    truth(folder, &taken, &wrong, &highlight)?;
    let of_model: Vec<&Taken> = taken.iter().filter(|t| t.name.starts_with('c')).collect();
    model::write(&folder.join("model"), &of_model, &sites, seed)?;
    for (name, lens) in [("c", colour), ("g", grey)] {
        let text = serde_json::to_string_pretty(&lens.json())?;
        files::write(&folder.join(format!("lenses/{name}.json")), text.as_bytes())?;
    }
    for made in chain::FOLDERS {
        files::make(&folder.join(made))?;
    }
    let texts = [
        ("chart.csv", chart::reference()),
        (
            "flat.toml",
            chain::flat_recipe(&plan, [grey.width_px, grey.height_px]),
        ),
        ("irfc.toml", chain::irfc_recipe()),
        ("chain.txt", chain::commands(&plan, options.texture_px)),
        ("README.md", README.to_owned()),
    ];
    for (name, text) in texts {
        files::write(&folder.join(name), text.as_bytes())?;
    }
    Ok(())
}

/// Points of the photographs that poses are solved of. Gives the names of the wrong ones.
fn mark(
    folder: &Path,
    taken: &[Taken],
    sites: &[points::Site],
    seed: u64,
) -> Result<Vec<(String, String)>> {
    let mut wrong = Vec::new();
    let solved = |name: &str| name.starts_with('c') || name.ends_with("vis");
    for (k, one) in taken.iter().filter(|t| solved(&t.name)).enumerate() {
        let mut random = Random::new(seed, &format!("points {}", one.name));
        // In every third photograph somebody clicked on the wrong leaf.
        let astray = (k % 3 == 1).then_some(5);
        let marked = points::marked(
            one.scene,
            &one.lens,
            &one.station,
            sites,
            astray,
            &mut random,
        );
        let is_wrong = |m: &&Marked| m.is_wrong;
        wrong.extend(
            marked
                .iter()
                .filter(is_wrong)
                .map(|m| (one.name.clone(), m.name.clone())),
        );
        let mut text = String::from("name,x_px,y_px,x_m,y_m,z_m\n");
        for Marked {
            name,
            pixel,
            place_m: p,
            ..
        } in &marked
        {
            // Writing to a string cannot fail.
            let _ = writeln!(
                text,
                "{name},{:.2},{:.2},{:.6},{:.6},{:.6}",
                pixel.x, pixel.y, p.x, p.y, p.z
            );
        }
        files::write(
            &folder.join(format!("points/{}.csv", one.name)),
            text.as_bytes(),
        )?;
    }
    Ok(wrong)
}

fn truth(
    folder: &Path,
    taken: &[Taken],
    wrong: &[(String, String)],
    highlight: &Flaw,
) -> Result<()> {
    let photos = taken.iter().map(|one| {
        json!({
            "photo": {"file": format!("{}.png", one.name), "sha256": ""},
            "lens": one.lens.json(),
            "pose": one.station.json(),
        })
    });
    let poses = json!({"format": "ganosis-poses/1", "photos": photos.collect::<Vec<_>>()});
    let text = serde_json::to_string_pretty(&poses)?;
    files::write(&folder.join("truth/poses.json"), text.as_bytes())?;
    let pairs = wrong
        .iter()
        .map(|(photo, point)| json!({"photo": photo, "point": point}));
    let at = match highlight {
        Flaw::Highlight(at, radius) => json!({"place_m": at.to_array(), "radius_m": radius}),
        Flaw::Shadow(..) => json!(null),
    };
    let planted = json!({
        "notice": "Invented. What was put into the photographs and points on purpose.",
        "wrong_pairs": pairs.collect::<Vec<_>>(),
        "highlight": at,
        "photograph_with_highlight": format!("c{}", WITH_HIGHLIGHT + 1),
        "photograph_with_shadow": format!("c{}", WITH_SHADOW + 1),
        "focus_shift": FOCUS_SHIFT,
    });
    let text = serde_json::to_string_pretty(&planted)?;
    files::write(&folder.join("truth/planted.json"), text.as_bytes())
}

const README: &str = "# Photographs of the Sallowmere boss

Invented data. Two simulated cameras photographed the boss as found: c1 to c8 in colour, g1 to g4 in
grey bands (vis; uvl and irr after the tripod was touched, irr with another focus). Codes are linear,
16 bits. The white board reflects 90 % in every band and is the standard of reflectance: the draped bands
of reflected light are in percent of a perfect white, which is 1 in colour; luminescence stays relative.

| what | where |
| --- | --- |
| photographs; chart, white board and lens cap of each camera | `photographs/` |
| points marked by hand, a few of them wrong | `points/` |
| lenses, as calibrated | `lenses/` |
| poses of c1 to c8 as photogrammetry leaves them, and points known on the surface | `model/` |
| colours of the chart | `chart.csv` |
| recipes | `flat.toml`, `irfc.toml` |
| what the commands make on the way | `made/` |
| the commands from here to layers, in order; DOSSIER stands for the dossier's folder | `chain.txt` |
| true lenses and poses; what is wrong on purpose | `truth/` |

Poses from the model instead of points: `ganosis pose --model model --known model/known.csv`.

Real ultraviolet lamps harm eyes and skin, and their dose counts towards the object's: shield, limit,
record. Local codes and the conservator responsible decide.
";
