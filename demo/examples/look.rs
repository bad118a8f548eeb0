//! Draws a generated dossier on the CPU, to look at it while working on the carving.
//!
//! `cargo run --release -p ganosis-demo --example look -- DOSSIER LAYER OUT.png AZIMUTH
//! ELEVATION [lit] [bill] [X Y DISTANCE]`; LAYER is a folder such as `layers/as-found`, or `clay`.

use anyhow::{Context, Result};
use glam::{Mat3, Vec2, Vec3};
use std::path::Path;

const WIDTH: usize = 1100;
const SAMPLES: usize = 2;

struct Picture {
    size: usize,
    rgb: Vec<u8>,
}

fn load(path: &Path) -> Result<Picture> {
    let file = std::io::BufReader::new(std::fs::File::open(path)?);
    let mut decoder = png::Decoder::new(file);
    decoder.set_transformations(png::Transformations::STRIP_16);
    let mut reader = decoder.read_info()?;
    let mut bytes = vec![0; reader.output_buffer_size().context("too large")?];
    let info = reader.next_frame(&mut bytes)?;
    let rgb = if info.color_type == png::ColorType::Rgb {
        bytes
    } else {
        bytes.iter().flat_map(|&b| [b; 3]).collect()
    };
    Ok(Picture {
        size: info.width as usize,
        rgb,
    })
}

fn texel(p: &Picture, uv: Vec2) -> Vec3 {
    let q = (uv * p.size as f32 - 0.5).clamp(Vec2::ZERO, Vec2::splat(p.size as f32 - 1.01));
    let (f, t) = (q.floor(), q - q.floor());
    let at = |x: usize, y: usize| {
        let i = (y.min(p.size - 1) * p.size + x.min(p.size - 1)) * 3;
        Vec3::new(p.rgb[i].into(), p.rgb[i + 1].into(), p.rgb[i + 2].into())
    };
    let (x, y) = (f.x as usize, f.y as usize);
    at(x, y)
        .lerp(at(x + 1, y), t.x)
        .lerp(at(x, y + 1).lerp(at(x + 1, y + 1), t.x), t.y)
        / 255.0
}

fn main() -> Result<()> {
    let a: Vec<String> = std::env::args().skip(1).collect();
    let dir = Path::new(&a[0]);
    let (azimuth, elevation): (f32, f32) = (a[3].parse()?, a[4].parse()?);
    let (lit, bill) = (a.iter().any(|s| s == "lit"), a.iter().any(|s| s == "bill"));
    let rest: Vec<f32> = a[5..].iter().filter_map(|s| s.parse().ok()).collect();
    let (target, distance) = if rest.len() == 3 {
        (Vec3::new(rest[0], rest[1], 0.02), rest[2])
    } else {
        (Vec3::new(0.0, 0.0, 0.01), 0.84)
    };
    let (doc, buffers) = {
        let glb = gltf::Gltf::open(dir.join("surface.glb"))?;
        (glb.document, glb.blob.context("no blob")?)
    };
    let turn = Mat3::from_rotation_x(elevation.to_radians())
        * Mat3::from_rotation_y(-azimuth.to_radians());
    let n = WIDTH * SAMPLES;
    let mut depth = vec![f32::MAX; n * n];
    let mut image = vec![Vec3::splat(0.32); n * n];
    let light = Vec3::new(-0.62, 0.55, 0.56).normalize();
    for node in doc.nodes().filter(|x| bill || x.name() != Some("bill")) {
        for primitive in node.mesh().context("no mesh")?.primitives() {
            let sheet = primitive.material().name().unwrap_or_default().to_owned();
            let picture = if a[1] == "clay" {
                None
            } else {
                Some(load(&dir.join(&a[1]).join(format!("{sheet}.png")))?)
            };
            let r = primitive.reader(|_| Some(&buffers));
            let p: Vec<Vec3> = r.read_positions().context("p")?.map(Vec3::from).collect();
            let m: Vec<Vec3> = r.read_normals().context("n")?.map(Vec3::from).collect();
            let uv: Vec<Vec2> = r
                .read_tex_coords(0)
                .context("uv")?
                .into_f32()
                .map(Vec2::from)
                .collect();
            let i: Vec<u32> = r.read_indices().context("i")?.into_u32().collect();
            let screen: Vec<Vec3> = p
                .iter()
                .map(|&x| {
                    let v = turn * (x - target);
                    let w = distance - v.z;
                    // Field of view 32 degrees: half of it has the tangent 0.2867.
                    Vec3::new(
                        (v.x / w / 0.2867 * 0.5 + 0.5) * n as f32,
                        (0.5 - v.y / w / 0.2867 * 0.5) * n as f32,
                        w,
                    )
                })
                .collect();
            for t in i.chunks_exact(3) {
                let [ia, ib, ic] = [t[0] as usize, t[1] as usize, t[2] as usize];
                let s = [screen[ia], screen[ib], screen[ic]];
                let cross = |u: Vec3, v: Vec3| u.x * v.y - u.y * v.x;
                let area = cross(s[1] - s[0], s[2] - s[0]);
                if area >= 0.0 {
                    continue;
                }
                let low = s[0].min(s[1]).min(s[2]).max(Vec3::ZERO);
                let high = s[0].max(s[1]).max(s[2]).min(Vec3::splat(n as f32 - 1.0));
                for y in low.y as usize..=high.y.max(0.0) as usize {
                    for x in low.x as usize..=high.x.max(0.0) as usize {
                        let q = Vec3::new(x as f32 + 0.5, y as f32 + 0.5, 0.0);
                        let w = [
                            cross(s[2] - s[1], q - s[1]) / area,
                            cross(s[0] - s[2], q - s[2]) / area,
                            cross(s[1] - s[0], q - s[0]) / area,
                        ];
                        if w.iter().any(|&w| w < 0.0) {
                            continue;
                        }
                        let z = w[0] * s[0].z + w[1] * s[1].z + w[2] * s[2].z;
                        if z >= depth[y * n + x] {
                            continue;
                        }
                        depth[y * n + x] = z;
                        let base = picture.as_ref().map_or(Vec3::splat(0.75), |pic| {
                            texel(pic, uv[ia] * w[0] + uv[ib] * w[1] + uv[ic] * w[2])
                        });
                        let normal = (m[ia] * w[0] + m[ib] * w[1] + m[ic] * w[2]).normalize();
                        let shade = if lit {
                            0.25 + 0.95 * normal.dot(light).max(0.0)
                        } else {
                            1.0
                        };
                        image[y * n + x] = base.powf(2.2) * shade;
                    }
                }
            }
        }
    }
    let mut out = Vec::with_capacity(WIDTH * WIDTH * 3);
    for y in 0..WIDTH {
        for x in 0..WIDTH {
            let mut c = Vec3::ZERO;
            for dy in 0..SAMPLES {
                for dx in 0..SAMPLES {
                    c += image[(y * SAMPLES + dy) * n + x * SAMPLES + dx];
                }
            }
            c = (c / (SAMPLES * SAMPLES) as f32)
                .powf(1.0 / 2.2)
                .clamp(Vec3::ZERO, Vec3::ONE)
                * 255.0;
            out.extend(c.to_array().map(|v| v as u8));
        }
    }
    let mut e = png::Encoder::new(
        std::io::BufWriter::new(std::fs::File::create(&a[2])?),
        WIDTH as u32,
        WIDTH as u32,
    );
    e.set_color(png::ColorType::Rgb);
    e.write_header()?.write_image_data(&out)?;
    Ok(())
}
