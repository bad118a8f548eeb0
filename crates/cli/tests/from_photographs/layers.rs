//! Draped layers against the layers that were photographed.

use std::collections::HashSet;

use ganosis_colorimetry::{Encoded, LabD50, Linear, Srgb, delta_e_2000};
use ganosis_imaging::drape::texels::Place;
use ganosis_imaging::drape::{Mesh, SheetSize, Tiles};
use ganosis_imaging::pose::{PosedPhoto, Poses};
use ganosis_surface::pick::Picker;
use ganosis_surface::{Surface, gltf_in};
use glam::DVec3;
use image::DynamicImage;

use crate::{LARGER, MADE, Made, TEXTURE_PX};

fn surface(made: &Made) -> Surface {
    let bytes = std::fs::read(made.dossier().join("surface.glb")).unwrap();
    gltf_in::read(&bytes, &|_| None).unwrap()
}

/// The image of a layer for one sheet, as the dossier names it.
fn image(made: &Made, layer: &str, sheet: &str) -> DynamicImage {
    let text = std::fs::read_to_string(made.dossier().join("dossier.json")).unwrap();
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let layers = document["layers"].as_array().unwrap();
    let layer = layers.iter().find(|l| l["id"] == layer);
    let images = layer.unwrap()["images"].as_array().unwrap();
    let of_sheet = images.iter().find(|i| i["sheet"] == sheet).unwrap();
    let file = made.dossier().join(of_sheet["file"].as_str().unwrap());
    image::open(file).unwrap()
}

/// A field of a layer's record.
fn field(made: &Made, layer: &str, name: &str) -> serde_json::Value {
    let text = std::fs::read_to_string(made.dossier().join("dossier.json")).unwrap();
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let layers = document["layers"].as_array().unwrap();
    let layer = layers.iter().find(|l| l["id"] == layer);
    layer.unwrap()[name].clone()
}

/// Codes in the image of coverage, as README.md and the layer say: what was seen, and what was seen only beside a
/// step of depth.
const SEEN: u8 = 255;
const EDGE: u8 = 192;

/// A texel that some photograph sees at under 60°: its sheet and place on it, and on the surface.
struct Seen {
    sheet: usize,
    x: u32,
    y: u32,
    place_m: DVec3,
    normal: DVec3,
    /// Over the surface for a step of one texel to the right, and of one down.
    steps_m: [DVec3; 2],
    /// Whether the pixel of one of these photographs, and what is about it, shows this surface alone: beside
    /// what lies before or behind it a pixel is a mixture of both.
    is_whole: bool,
    /// Whether the coverage says that none does.
    is_marked: bool,
}

/// How far about a place the image of a point spreads, in pixels: the simulated cameras read pixels by rays up
/// to a quarter of one from the middle, blurred by half as much again, and reading between pixels adds one.
const SPREAD_PX: f64 = 1.2;

/// A step of depth of more than this, for each step aside, is another surface: at 60° the same one falls off by
/// 1.7.
const STEEPEST: f64 = 4.0;

/// Whether rays about a place meet the same surface, as far aside as what a texel is read from: itself, and
/// where it is smaller than that the spread of a point.
fn is_whole(
    at: DVec3,
    texel_m: f64,
    posed: &PosedPhoto,
    picker: &Picker,
    there: &dyn Fn(usize) -> bool,
) -> bool {
    let camera = DVec3::from(posed.pose.centre_m());
    let distance_m = (at - camera).length();
    let pixel_m = distance_m / posed.lens.focal_px[0];
    let reach_m = (SPREAD_PX * pixel_m).max(0.5 * texel_m);
    let [right, down, _] = posed.pose.rotation.map(DVec3::from);
    (0..8).all(|k| {
        let (sin, cos) = (f64::from(k) * std::f64::consts::FRAC_PI_4).sin_cos();
        let beside = at + (right * cos + down * sin) * reach_m;
        let hit = picker.ray(camera.as_vec3(), (beside - camera).as_vec3(), there);
        hit.is_some_and(|h| (f64::from(h.distance_m) - distance_m).abs() < STEEPEST * reach_m)
    })
}

/// All of them, by rays of our own to the true cameras whose photographs have names that begin so.
fn seen_under_60(made: &Made, surface: &Surface, begin: &str, id: &str) -> Vec<Seen> {
    let path = made.photographs().join("truth/poses.json");
    let truth = Poses::read(&std::fs::read_to_string(path).unwrap(), "truth").unwrap();
    let of_these = |one: &&PosedPhoto| one.photo.file.starts_with(begin);
    let cameras: Vec<&PosedPhoto> = truth.photos.iter().filter(of_these).collect();
    let there = |patch: usize| surface.patches[patch].node_path.iter().all(|n| n != "bill");
    let picker = Picker::new(surface);
    let sizes = surface.sheets.iter().map(|sheet| SheetSize {
        name: sheet.name.clone(),
        width_px: TEXTURE_PX as u32,
        height_px: TEXTURE_PX as u32,
    });
    let mesh = Mesh::new(surface, sizes.collect(), &there).unwrap();
    let tiles = Tiles::new(&mesh, 0.0);
    let known: Vec<_> = surface
        .sheets
        .iter()
        .map(|sheet| image(made, &format!("{id}-coverage"), &sheet.name).into_luma8())
        .collect();
    let mut out = Vec::new();
    for (number, tile) in tiles.tiles.iter().enumerate() {
        for (i, texel) in tiles.places(&mesh, number).iter().enumerate() {
            if texel.face == Place::NONE || !texel.is_chart() {
                continue;
            }
            let (x, y) = tile.texel(i);
            let code = known[tile.sheet as usize].get_pixel(x, y).0[0];
            if code != SEEN && code != EDGE {
                continue;
            }
            let face = &mesh.faces[texel.face as usize];
            let at = face.point(texel.weights()).as_dvec3();
            let normal = face.cross_m2().normalize();
            let sees = |posed: &&&PosedPhoto| {
                let camera = DVec3::from(posed.pose.centre_m());
                let to = at - camera;
                let hit = picker.ray(camera.as_vec3(), to.as_vec3(), &there);
                let free =
                    hit.is_some_and(|h| (f64::from(h.distance_m) - to.length()).abs() < 1e-4);
                free && -normal.dot(to.normalize()) > 0.5
            };
            let seeing: Vec<_> = cameras.iter().filter(sees).collect();
            if !seeing.is_empty() {
                let mut seeing = seeing.iter();
                let steps_m = face.texel_steps_m();
                let texel_m = steps_m[0].length().max(steps_m[1].length());
                let is_whole = seeing.any(|posed| is_whole(at, texel_m, posed, &picker, &there));
                out.push(Seen {
                    sheet: tile.sheet as usize,
                    x,
                    y,
                    place_m: at,
                    normal,
                    steps_m,
                    is_whole,
                    is_marked: code == EDGE,
                });
            }
        }
    }
    println!("{} texels of {id}", out.len());
    assert!(out.len() > 15_000, "{}", out.len());
    out
}

/// What a camera can see of a layer that differs from texel to texel: between texels the simulated
/// cameras interpolate linearly, and the mean of that over the square of a texel has these weights.
const TEXEL_MEAN: [f64; 3] = [0.125, 0.75, 0.125];

fn texel_mean(image: &image::RgbImage, x: u32, y: u32) -> LabD50 {
    let last = image.width() - 1;
    let mut sum = [0.0; 3];
    for (dy, wy) in TEXEL_MEAN.iter().enumerate() {
        for (dx, wx) in TEXEL_MEAN.iter().enumerate() {
            let column = (x + dx as u32).saturating_sub(1).min(last);
            let row = (y + dy as u32).saturating_sub(1).min(last);
            let code = image.get_pixel(column, row).0;
            let light = Encoded::<Srgb>::from_u8(code).decode().to_array();
            sum = [0, 1, 2].map(|c| sum[c] + wx * wy * light[c]);
        }
    }
    LabD50::from(Linear::<Srgb>::new(sum[0], sum[1], sum[2]))
}

/// The light of a layer at a place of a sheet, as the simulated cameras read it: linear between texels.
fn light_at(image: &image::RgbImage, u: f32, v: f32) -> [f64; 3] {
    let side = f64::from(image.width());
    let [x, y] = [u, v].map(|t| (f64::from(t) * side - 0.5).clamp(0.0, side - 1.0));
    let (x0, y0) = (x as u32, y as u32);
    let mut sum = [0.0; 3];
    for (dx, wx) in [(0, 1.0 - x.fract()), (1, x.fract())] {
        for (dy, wy) in [(0, 1.0 - y.fract()), (1, y.fract())] {
            let last = image.width() - 1;
            let code = image.get_pixel((x0 + dx).min(last), (y0 + dy).min(last)).0;
            let light = Encoded::<Srgb>::from_u8(code).decode().to_array();
            sum = [0, 1, 2].map(|c| sum[c] + wx * wy * light[c]);
        }
    }
    sum
}

/// Places along each side of a texel for the mean over it.
const ACROSS: i32 = 5;

/// The true colour of the square of surface that a texel is, whichever charts that lies on; found by rays onto
/// the surface. `None` where part of the square lies elsewhere: beyond an edge of the object, or in a hollow
/// behind it.
fn square_on_surface(
    one: &Seen,
    images: &[image::RgbImage],
    surface: &Surface,
    picker: &Picker,
) -> Option<LabD50> {
    let there = |patch: usize| surface.patches[patch].node_path.iter().all(|n| n != "bill");
    let [right, down] = one.steps_m;
    let texel_m = right.length().max(down.length());
    let mut sum = [0.0; 3];
    for i in 0..ACROSS * ACROSS {
        let off = |k: i32| (f64::from(k) + 0.5) / f64::from(ACROSS) - 0.5;
        let at = one.place_m + right * off(i % ACROSS) + down * off(i / ACROSS);
        let from = at + one.normal * texel_m;
        let hit = picker.ray(from.as_vec3(), -one.normal.as_vec3(), &there)?;
        // As steep as 45° against the texel's own plane, and not further.
        if (f64::from(hit.distance_m) - texel_m).abs() > texel_m {
            return None;
        }
        let image = &images[surface.patches[hit.patch].sheet];
        let light = light_at(image, hit.uv.x, hit.uv.y);
        sum = [0, 1, 2].map(|c| sum[c] + light[c]);
    }
    let [r, g, b] = sum.map(|s| s / f64::from(ACROSS * ACROSS));
    Some(LabD50::from(Linear::<Srgb>::new(r, g, b)))
}

fn mean_and_p95(mut values: Vec<f64>) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (mean, values[values.len() * 95 / 100])
}

/// Texels within charts against their neighbourhood on the sheet; and all of them, those at the edges of charts
/// too, against the square of surface about their place: at 2.8 mm a texel half of all lie at an edge, where the
/// sheet beside them holds what is not on the surface beside them. Some are seen only by pixels that show another
/// surface too, through a gap or along a rim: no photograph tells their colour, and the coverage marks them. Rays
/// of our own say that it marks few others.
fn check_colour(made: &Made) {
    let surface = surface(made);
    let images = |id: &str| -> Vec<image::RgbImage> {
        let sheets = surface.sheets.iter();
        sheets
            .map(|s| image(made, id, &s.name).into_rgb8())
            .collect()
    };
    let (wanted, got) = (images("as-found-colour"), images("photographed"));
    let seen = seen_under_60(made, &surface, "c", "photographed");
    let places: HashSet<(usize, u32, u32)> = seen.iter().map(|s| (s.sheet, s.x, s.y)).collect();
    // At the edge of a chart the neighbours on the sheet are not those on the surface.
    let is_within = |one: &&Seen| {
        let mut around = (0..9).map(|k| (one.sheet, one.x + k % 3, one.y + k / 3));
        around.all(|(sheet, x, y)| places.contains(&(sheet, x.wrapping_sub(1), y.wrapping_sub(1))))
    };
    let draped = |one: &Seen| {
        let code = got[one.sheet].get_pixel(one.x, one.y).0;
        LabD50::from(Encoded::<Srgb>::from_u8(code).decode())
    };
    let on_sheet =
        |one: &Seen| delta_e_2000(texel_mean(&wanted[one.sheet], one.x, one.y), draped(one));
    let told = |what: &str, values: Vec<f64>| {
        let n = values.len();
        let (mean, p95) = mean_and_p95(values);
        println!("{n} texels {what}: ΔE00 mean {mean:.3}, 95th percentile {p95:.3}");
        (n, mean, p95)
    };
    told("against the sheet", seen.iter().map(on_sheet).collect());
    let (n, mean, p95) = told(
        "within charts",
        seen.iter().filter(is_within).map(on_sheet).collect(),
    );
    assert!(n > 5_000, "{n}");
    assert!(mean < 1.0 && p95 < 2.5, "{mean} {p95}");
    let picker = Picker::new(&surface);
    let off: Vec<(&Seen, f64)> = seen
        .iter()
        .filter_map(|one| {
            let truth = square_on_surface(one, &wanted, &surface, &picker)?;
            Some((one, delta_e_2000(truth, draped(one))))
        })
        .collect();
    let of = |what: &str, is: &dyn Fn(&Seen) -> bool| {
        let some = off.iter().filter(|(one, _)| is(one));
        told(what, some.map(|(_, off)| *off).collect())
    };
    let (all, ..) = of("on the surface, all", &|_| true);
    let (marked, marked_mean, _) = of("marked", &|one| one.is_marked);
    let (needless, ..) = of("marked, with a pixel to itself", &|one| {
        one.is_marked && one.is_whole
    });
    let (_, mean, p95) = of("on the surface, not marked", &|one| !one.is_marked);
    assert!(mean < 1.0 && p95 < 2.5, "{mean} {p95}");
    // A pixel is half a texel here, or a third, and hollows are everywhere.
    assert!(marked * 100 < all * 9, "{marked} of {all}");
    // Those at the edge of what is reached: rays go in eight directions only.
    assert!(needless * 5 < marked, "{needless} of {marked}");
    assert!(marked_mean > 3.0 * mean, "{marked_mean} {mean}");
}

#[test]
fn draped_colour_is_the_layer_that_was_photographed() {
    check_colour(&MADE);
}

#[test]
fn draped_colour_of_larger_photographs_is_no_worse() {
    check_colour(&LARGER);
}

/// Luminescence is relative, so that only its proportion can be compared: Pearson's r over all texels seen. Of
/// reflectance by the white board the level is known too: means over the same texels differ by 2 % at most, twice
/// what mixing at the edges of charts was seen to change.
#[test]
fn draped_bands_go_with_the_layers_that_were_photographed() {
    let surface = surface(&MADE);
    for band in ["uvl", "irr"] {
        let id = format!("photographed-{band}");
        let images = |id: &str| -> Vec<image::ImageBuffer<image::Luma<u16>, Vec<u16>>> {
            let sheets = surface.sheets.iter();
            sheets
                .map(|s| image(&MADE, id, &s.name).into_luma16())
                .collect()
        };
        let (wanted, got) = (images(band), images(&id));
        let value = |image: &image::ImageBuffer<image::Luma<u16>, Vec<u16>>, one: &Seen| {
            f64::from(image.get_pixel(one.x, one.y).0[0])
        };
        let pairs: Vec<(f64, f64)> = seen_under_60(&MADE, &surface, "g", &id)
            .iter()
            .map(|one| (value(&wanted[one.sheet], one), value(&got[one.sheet], one)))
            .collect();
        let n = pairs.len() as f64;
        let mean = pairs
            .iter()
            .fold((0.0, 0.0), |m, p| (m.0 + p.0 / n, m.1 + p.1 / n));
        let mut sums = [0.0; 3];
        for (a, b) in &pairs {
            let (a, b) = (a - mean.0, b - mean.1);
            sums = [sums[0] + a * a, sums[1] + b * b, sums[2] + a * b];
        }
        let r = sums[2] / (sums[0] * sums[1]).sqrt();
        println!("{band}: {} texels, r = {r:.4}", pairs.len());
        assert!(r > 0.94, "{band}: {r}");
        if band == "irr" {
            // The layer that was photographed is reflectance too, 1 a perfect white.
            let percent = |mean: f64, id: &str| {
                let [unit, range] = ["unit", "range"].map(|name| field(&MADE, id, name));
                assert_eq!(unit, "%", "{id}");
                let [low, high]: [f64; 2] = serde_json::from_value(range).unwrap();
                low + mean / 65535.0 * (high - low)
            };
            let level = percent(mean.1, &id) / (100.0 * mean.0 / 65535.0);
            println!("{band}: level {level:.4}");
            assert!((level - 1.0).abs() < 0.02, "{band}: {level}");
        } else {
            assert_eq!(field(&MADE, &id, "unit"), "relative");
        }
    }
}

#[test]
fn the_dossier_has_the_layers_and_passes_its_check() {
    let text = crate::ran(&MADE.dossier(), &["check", "."]);
    assert!(!text.contains("error"), "{text}");
    let text = std::fs::read_to_string(MADE.dossier().join("dossier.json")).unwrap();
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let of_id = |list: &str, id: &str| -> serde_json::Value {
        let mut all = document[list].as_array().unwrap().iter();
        all.find(|one| one["id"] == id).unwrap().clone()
    };
    for (state, layer) in [
        ("as-photographed", "photographed"),
        ("false-colour-photographed", "photographed-irfc"),
    ] {
        let state = of_id("states", state);
        assert_eq!(state["layers"], serde_json::json!([layer]));
        assert_eq!(state["kind"], "as-found");
    }
    let titled = [
        "photographed",
        "photographed-uvl",
        "photographed-irr",
        "photographed-irfc",
    ];
    for layer in titled.map(|id| of_id("layers", id)) {
        let languages: Vec<&String> = layer["title"].as_object().unwrap().keys().collect();
        assert_eq!(languages, ["ar", "de", "en", "es"], "{layer}");
    }
    for sheet in &surface(&MADE).sheets {
        let irfc = image(&MADE, "photographed-irfc", &sheet.name).into_rgba8();
        assert!(irfc.pixels().any(|p| p.0[3] == 255));
    }
}
