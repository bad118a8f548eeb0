//! A real set: four photographs of an asteroid with poses and a mesh that others made
//! (`GANOSIS_SAMPLES`/cameras/vesta, read in place).
#![allow(clippy::unwrap_used, reason = "a test may fail by panic")]

mod scene;

use std::collections::HashMap;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use ganosis_imaging::calibration::InputRecord;
use ganosis_imaging::drape::margin::Margin;
use ganosis_imaging::drape::room::InMemory;
use ganosis_imaging::drape::sight::Sight;
use ganosis_imaging::drape::{Channel, Drape, Mesh, Mix, Picture, Settings, Tiles, coverage};
use ganosis_imaging::lens::Lens;
use ganosis_imaging::pose::{Pose, PosedPhoto};
use ganosis_imaging::{Encoding, Photo};
use ganosis_surface::Patch;
use glam::{DQuat, Vec2, Vec3};
use scene::{Photographs, mesh, surface, views};

const SIDE_PX: u32 = 1024;

/// A pixel lighter than this is lit, of 255: the sky is 0 but for noise.
const LIT: u16 = 20 * 257;

fn folder() -> Option<PathBuf> {
    let samples = std::env::var_os("GANOSIS_SAMPLES")?;
    Some(PathBuf::from(samples).join("cameras/vesta"))
}

/// Positions and triangles of a binary little-endian PLY with x y z and lists of three.
fn ply(bytes: &[u8]) -> (Vec<Vec3>, Vec<u32>) {
    let head = b"end_header\n";
    let at = bytes.windows(head.len()).position(|w| w == head).unwrap();
    let text = std::str::from_utf8(&bytes[..at]).unwrap();
    let count = |what: &str| -> usize {
        let line = text.lines().find_map(|l| l.strip_prefix(what)).unwrap();
        line.trim().parse().unwrap()
    };
    let mut rest = &bytes[at + head.len()..];
    let mut take = |n: usize| {
        let (taken, left) = rest.split_at(n);
        rest = left;
        taken
    };
    let mut word = |_: usize| -> [u8; 4] { take(4).try_into().unwrap() };
    let positions = (0..count("element vertex "))
        .map(|_| Vec3::from_array([0, 1, 2].map(|k| f32::from_le_bytes(word(k)))))
        .collect();
    let mut indices = Vec::new();
    for _ in 0..count("element face ") {
        assert_eq!(take(1), [3]);
        for _ in 0..3 {
            indices.push(u32::from_le_bytes(take(4).try_into().unwrap()));
        }
    }
    (positions, indices)
}

/// UVs by longitude and latitude; each triangle has corners of its own.
fn unwrapped(positions: &[Vec3], indices: &[u32]) -> Patch {
    let mut patch = Patch::default();
    for triangle in indices.chunks_exact(3) {
        let corners = [0, 1, 2].map(|k| positions[triangle[k] as usize]);
        let u = corners.map(|c| c.y.atan2(c.x) / std::f32::consts::TAU + 0.5);
        for (k, c) in corners.into_iter().enumerate() {
            // Across the seam it goes on beyond 1.
            let behind = u.iter().any(|other| other - u[k] > 0.5);
            let v = 0.5 - (c.z / c.length()).asin() / std::f32::consts::PI;
            patch
                .uvs
                .push(Vec2::new(u[k] + f32::from(u8::from(behind)), v));
            patch.positions.push(c);
            patch.normals.push(c.normalize());
            patch.indices.push(patch.indices.len() as u32);
        }
    }
    patch
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|f| f.parse().ok())
        .collect()
}

/// Photographs with their poses, and for each the seen points: pixel, and number of the point.
type Listed = (PosedPhoto, Vec<([f64; 2], i64)>);

fn photographs(text: &Path) -> Vec<Listed> {
    let read = |name: &str| std::fs::read_to_string(text.join(name)).unwrap();
    let cameras = read("cameras.txt");
    let camera = cameras.lines().find(|l| !l.starts_with('#')).unwrap();
    let n: Vec<f64> = numbers(camera);
    let lens = Lens {
        focal_px: [n[3], n[4]],
        centre_px: [n[5], n[6]],
        ..Lens::simple(n[1] as usize, n[2] as usize, 1.0)
    };
    let images = read("images.txt");
    let lines: Vec<&str> = images.lines().filter(|l| !l.starts_with('#')).collect();
    let pairs = lines.chunks_exact(2);
    pairs
        .map(|two| {
            let n = numbers(two[0]);
            let rotation = DQuat::from_xyzw(n[2], n[3], n[4], n[1]).normalize();
            let m = glam::DMat3::from_quat(rotation);
            let posed = PosedPhoto {
                photo: InputRecord {
                    file: two[0].split_whitespace().next_back().unwrap().to_owned(),
                    sha256: String::new(),
                },
                lens,
                pose: Pose {
                    rotation: [0, 1, 2].map(|r| m.row(r).to_array()),
                    translation_m: [n[5], n[6], n[7]],
                },
                fit: None,
            };
            let seen = numbers(two[1]);
            let seen = seen.chunks_exact(3).map(|p| ([p[0], p[1]], p[2] as i64));
            (posed, seen.collect())
        })
        .collect()
}

fn picture(path: &Path) -> Photo {
    let bytes = std::fs::read(path).unwrap();
    let name = path.display().to_string();
    Photo::read_band(Cursor::new(bytes), &name, Some(Encoding::Linear)).unwrap()
}

fn points(text: &Path) -> HashMap<i64, [f64; 3]> {
    let text = std::fs::read_to_string(text.join("points3D.txt")).unwrap();
    let lines = text.lines().filter(|l| !l.starts_with('#'));
    lines
        .map(|l| {
            let n = numbers(l);
            (n[0] as i64, [n[1], n[2], n[3]])
        })
        .collect()
}

/// Light of the sheet from some photographs, NaN where they do not see it.
fn draped(mesh: &Mesh, posed: &[PosedPhoto], photos: &[Photo]) -> Vec<f32> {
    let views = views(posed);
    let tiles = Tiles::new(mesh, 0.0);
    let room = InMemory::default();
    let drape = Drape {
        mesh,
        tiles: &tiles,
        views: &views,
        settings: Settings {
            channels: 1,
            border_texels: 0.0,
            memory_bytes: 1 << 30,
            mix: Mix::default(),
        },
        room: &room,
    };
    let pictures = photos
        .iter()
        .map(|p| Picture::new(p.clone(), Channel::One(0)));
    let report = drape.run(&Photographs::new(pictures.collect())).unwrap();
    println!("{report:?}");
    let mut sheet = vec![f32::NAN; (SIDE_PX * SIDE_PX) as usize];
    for (number, tile) in tiles.tiles.iter().enumerate() {
        let result = drape.tile(number).unwrap();
        for (i, light) in result.light.iter().enumerate() {
            if result.coverage[i] == coverage::SEEN {
                let (x, y) = (
                    tile.x0 + i as u32 % tile.width,
                    tile.y0 + i as u32 / tile.width,
                );
                sheet[(y * SIDE_PX + x) as usize] = *light;
            }
        }
    }
    sheet
}

fn save(name: &str, sheet: &[f32]) {
    let codes = sheet
        .iter()
        .map(|v| (v.max(0.0).sqrt() * 255.0) as u8)
        .collect();
    let image = image::GrayImage::from_raw(SIDE_PX, SIDE_PX, codes).unwrap();
    image
        .save(Path::new(env!("CARGO_TARGET_TMPDIR")).join(name))
        .unwrap();
}

fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let n = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / n;
    let (ma, mb) = (mean(|p| p.0), mean(|p| p.1));
    let sum = |of: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>();
    let both = sum(&|p| (p.0 - ma) * (p.1 - mb));
    both / (sum(&|p| (p.0 - ma).powi(2)) * sum(&|p| (p.1 - mb).powi(2))).sqrt()
}

#[test]
fn photographs_of_vesta_lie_on_the_surface_and_over_one_another() {
    let Some(folder) = folder() else {
        println!("skipped: GANOSIS_SAMPLES is not set");
        return;
    };
    let (positions, indices) = ply(&std::fs::read(folder.join("vesta_5002.ply")).unwrap());
    let mesh = mesh(&surface(vec![unwrapped(&positions, &indices)]), SIDE_PX);
    println!("{:?}", mesh.findings);
    let listed = photographs(&folder.join("text"));
    let points = points(&folder.join("text"));
    let photos: Vec<Photo> = listed
        .iter()
        .map(|(p, _)| picture(&folder.join("images").join(&p.photo.file)))
        .collect();
    for ((posed, seen), photo) in listed.iter().zip(&photos) {
        let projector = posed.projector();
        let mut squares = 0.0;
        for (pixel, point) in seen {
            let ([x, y], _) = projector.pixel_of(points[point]).unwrap();
            squares += (x - pixel[0]).powi(2) + (y - pixel[1]).powi(2);
        }
        let rms = (squares / seen.len() as f64).sqrt();
        let view = views(std::slice::from_ref(posed)).remove(0);
        let sight = Sight::new(&mesh.faces, &view);
        let margin = Margin::new(&view, &sight, &mesh.faces);
        let (mut lit, mut on) = (0, 0);
        for y in 0..photo.height_px {
            for x in 0..photo.width_px {
                if photo.samples[3 * (y * photo.width_px + x)] > LIT {
                    let at = view.lens.normalised_of([x as f64 + 0.5, y as f64 + 0.5]);
                    lit += 1;
                    on += usize::from(at.and_then(|n| sight.first(n)).is_some());
                }
            }
        }
        let share = on as f64 / lit as f64;
        println!(
            "{}: {} points, {rms:.2e} px r.m.s.; {lit} lit pixels, {:.3} % on the surface, backs {:.3}",
            posed.photo.file,
            seen.len(),
            100.0 * share,
            margin.back_share
        );
        assert!(rms < 1e-3, "{rms}");
        assert!(share > 0.995, "{share}");
        assert!(margin.back_share < 0.01);
    }
    let posed: Vec<PosedPhoto> = listed.into_iter().map(|l| l.0).collect();
    let single: Vec<Vec<f32>> = posed
        .iter()
        .zip(&photos)
        .map(|(p, photo)| draped(&mesh, std::slice::from_ref(p), std::slice::from_ref(photo)))
        .collect();
    // Where two photographs see the same places they show the same rocks; a texel to the side they do so
    // less: the overlap is right to about a texel.
    for (a, b) in [(0, 1), (1, 2), (2, 3)] {
        let shifted = |dx: usize| {
            let pairs: Vec<(f64, f64)> = (0..single[a].len() - dx)
                .map(|i| (f64::from(single[a][i]), f64::from(single[b][i + dx])))
                .filter(|(p, q)| *p > 0.05 && *q > 0.05)
                .collect();
            assert!(pairs.len() > 20_000, "{}", pairs.len());
            correlation(&pairs)
        };
        let (there, aside) = (shifted(0), shifted(6));
        println!("photographs {a} and {b}: correlation {there:.4}, six texels aside {aside:.4}");
        assert!(there > 0.9 && there > aside + 0.03, "{there} {aside}");
    }
    save("vesta-0.png", &single[0]);
    save("vesta.png", &draped(&mesh, &posed, &photos));
}
