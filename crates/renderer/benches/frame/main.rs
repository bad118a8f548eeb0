//! Time of a frame of every comparison on a real device, without a window, against a frame of one state.
//!
//! `cargo bench -p ganosis-renderer --bench frame -- [--json FILE] [TRIANGLES WIDTHxHEIGHT]…`. Without
//! sizes it takes those below. Device and machine are named in the answer, and how much of the device draws.
//! Every size is drawn with all its triangles, and with those that the viewer would draw of a packed surface.
//! The program needs no files.

mod drawing;
mod waves;

use std::time::Instant;

use ganosis_renderer::{
    Compare, Frame, Gpu, LayerContent, LayerPaint, PatchPaint, Renderer, Side, SidePaint,
    TextureId, TileId, WHOLE,
};
use ganosis_tiles::Pyramid;
use glam::Vec3;
use serde_json::{Value, json};

type Outcome<T> = Result<T, Box<dyn std::error::Error>>;

/// Triangles, and pixels of the picture.
type Size = (usize, [u32; 2]);

/// A usual object on a usual screen, and a large scan on a large one.
const SIZES: [Size; 2] = [(300_000, [1920, 1080]), (10_000_000, [3840, 2160])];
/// Side of the layers (px).
const LAYER_PX: u32 = 8192;
/// Tiles of each of the four states, from the coarsest: together they stay within the pool.
const TILES_EACH: usize = 120;
const STATES: [u8; 4] = [40, 200, 90, 150];
/// What the renderer draws to on a canvas.
const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;
const SAMPLES: u32 = 4;
/// From where it is seen, and how much is seen in the picture's height.
const DISTANCE_M: f32 = 1.9;
const FIELD_RAD: f32 = 0.5;
/// Of a packed surface the viewer draws the coarsest level that lies within so many pixels of it.
const FINE_PX: f32 = 0.5;
/// Measurements of every comparison, taken in turn so that whatever else runs harms all alike.
const ROUNDS: usize = 7;
/// A measurement lasts about so long (s).
const BATCH_S: f64 = 0.3;
/// Frames of one measurement, at least and at most.
const BATCH: [f64; 2] = [1.0, 200.0];

/// The comparisons, and what a frame of each may cost in frames of one state: bounds asked of this viewer,
/// in no standard.
const CASES: [(&str, Compare, Option<f64>); 8] = [
    ("single state", Compare::One(Side::Left), None),
    (
        "swipe",
        Compare::Swipe {
            position: 0.5,
            angle_rad: 0.3,
            within: WHOLE,
        },
        Some(1.15),
    ),
    (
        "difference",
        Compare::Difference {
            threshold: 2.0,
            full_scale: 20.0,
        },
        Some(1.6),
    ),
    ("pair of four", Compare::Panes { grid: [2, 2] }, Some(2.0)),
    ("pair of two", Compare::Panes { grid: [2, 1] }, None),
    ("blend", Compare::Blend { position: 0.4 }, None),
    (
        "loupe",
        Compare::Loupe {
            centre: [0.5, 0.5],
            radius: 0.25,
            softness: 0.1,
        },
        None,
    ),
    (
        "swipe of four",
        Compare::Strips {
            positions: [0.25, 0.5, 0.75],
            angle_rad: 0.3,
        },
        None,
    ),
];

fn paint(left: TextureId, right: TextureId) -> Vec<PatchPaint> {
    let side = |texture| {
        let mut side = SidePaint::default();
        side.layers[0] = Some(LayerPaint {
            texture,
            content: LayerContent::Srgb,
            weight: 1.0,
        });
        side
    };
    vec![PatchPaint {
        sides: [side(left), side(right)],
        labels: None,
        sheet: 0,
        alpha_cutoff: 0.0,
        translucent: false,
    }]
}

/// A layer in tiles: its base, and its coarser tiles.
fn tiled(renderer: &mut Renderer, shade: u8) -> Outcome<TextureId> {
    let pyramid = Pyramid::new([LAYER_PX; 2]);
    let [width, height] = pyramid.size_of(pyramid.base_level());
    let base = renderer.add_colour(width, height, &vec![shade; (width * height * 4) as usize])?;
    renderer.set_tiled(base, pyramid.size);
    for number in (0..pyramid.tiles()).rev().take(TILES_EACH) {
        let Some(place) = pyramid.place(number) else {
            continue;
        };
        let size = pyramid.stored_size(place);
        let texels: Vec<u8> = (0..size[0] * size[1])
            .flat_map(|i| [shade ^ (i % 31) as u8, shade, number as u8, 255])
            .collect();
        let id = TileId {
            image: base,
            number,
        };
        renderer.put_tile(id, size, &texels)?;
    }
    Ok(base)
}

/// Draws so many frames and waits for the last; seconds a frame.
fn frames(
    renderer: &mut Renderer,
    frame: &Frame,
    view: &wgpu::TextureView,
    size: [u32; 2],
    count: u32,
) -> Outcome<f64> {
    let wait = wgpu::PollType::wait_indefinitely;
    renderer.gpu().device.poll(wait())?;
    let started = Instant::now();
    for _ in 0..count {
        renderer.draw(frame, view, size[0], size[1]);
    }
    renderer.gpu().device.poll(wait())?;
    Ok(started.elapsed().as_secs_f64() / f64::from(count))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Seconds a frame of every case, and its ratio to the first.
fn measured(renderer: &mut Renderer, cells: usize, size: [u32; 2]) -> Outcome<Vec<[f64; 2]>> {
    renderer.set_geometry(&waves::waves(cells), Vec3::ZERO, &[]);
    let mut states = Vec::new();
    for shade in STATES {
        states.push(tiled(renderer, shade)?);
    }
    renderer.set_paints(0, paint(states[0], states[1]))?;
    renderer.set_paints(1, paint(states[2], states[3]))?;
    let texture = renderer
        .gpu()
        .device
        .create_texture(&wgpu::TextureDescriptor {
            label: None,
            size: wgpu::Extent3d {
                width: size[0],
                height: size[1],
                depth_or_array_layers: 1,
            },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: FORMAT,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
            view_formats: &[],
        });
    let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
    let eye = Vec3::new(0.0, 0.0, DISTANCE_M);
    let frame = |compare| {
        // Panes have the camera of one of them.
        let columns = match compare {
            Compare::Panes { grid } => grid[0] as f32 / grid[1] as f32,
            _ => 1.0,
        };
        let aspect = size[0] as f32 / size[1] as f32 / columns;
        Frame {
            clip_from_scene: glam::camera::rh::proj::directx::perspective(
                FIELD_RAD, aspect, 0.1, 10.0,
            ) * glam::camera::rh::view::look_at_mat4(eye, Vec3::ZERO, Vec3::Y),
            eye_in_scene_m: eye,
            device_pixel_ratio: 1.0,
            compare,
            light: None,
            section: None,
            backs_hidden: false,
            selected_region: 0,
            surround_l: 50.0,
            under_lamp: false,
            overlay: 0.0,
            wide_gamut: false,
            divider_line: true,
            cut: None,
        }
    };
    let drawn = CASES.map(|(_, compare, _)| frame(compare));
    // Once for pipelines and targets, once to see how long it takes.
    frames(renderer, &drawn[0], &view, size, 1)?;
    let once = frames(renderer, &drawn[0], &view, size, 2)?;
    let count = (BATCH_S / once).clamp(BATCH[0], BATCH[1]) as u32;
    for ((name, ..), one) in CASES.iter().zip(&drawn) {
        let first = frames(renderer, one, &view, size, 2)?;
        eprintln!(
            "  {name}: pipelines made, a frame took {:.0} ms",
            first * 1e3
        );
    }
    let mut times = vec![Vec::new(); CASES.len()];
    for round in 0..ROUNDS {
        eprintln!("  round {} of {ROUNDS}", round + 1);
        for step in 0..CASES.len() {
            let case = if round % 2 == 0 {
                step
            } else {
                CASES.len() - 1 - step
            };
            times[case].push(frames(renderer, &drawn[case], &view, size, count)?);
        }
    }
    Ok(times
        .iter()
        .map(|own| {
            let ratios = own.iter().zip(&times[0]).map(|(a, b)| a / b).collect();
            [median(own.clone()), median(ratios)]
        })
        .collect())
}

/// The processor as the system names it.
fn processor() -> String {
    let about = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let name = about.lines().find_map(|line| {
        let (key, value) = line.split_once(':')?;
        (key.trim() == "model name").then(|| value.trim().to_owned())
    });
    name.unwrap_or_else(|| format!("{} {}", std::env::consts::OS, std::env::consts::ARCH))
}

/// `--json FILE`, and pairs of triangles and size.
fn wishes() -> Outcome<(Option<String>, Vec<Size>)> {
    let mut given = std::env::args().skip(1).filter(|a| a != "--bench");
    let (mut file, mut sizes) = (None, Vec::new());
    while let Some(word) = given.next() {
        let next = given
            .next()
            .ok_or(format!("{word}: something is missing after it"))?;
        if word == "--json" {
            file = Some(next);
            continue;
        }
        let (width, height) = next
            .split_once('x')
            .ok_or(format!("{next}: a size is written as 1920x1080"))?;
        sizes.push((word.parse()?, [width.parse()?, height.parse()?]));
    }
    if sizes.is_empty() {
        sizes = SIZES.to_vec();
    }
    Ok((file, sizes))
}

fn main() -> Outcome<()> {
    let (file, sizes) = wishes()?;
    let gpu = pollster::block_on(Gpu::headless())?;
    let (backend, adapter) = (gpu.info.name.clone(), gpu.info.adapter.clone());
    let machine = processor();
    println!(
        "{backend} on {adapter}; {machine}; {SAMPLES} samples a pixel, layers of {LAYER_PX} px in tiles"
    );
    let share = drawing::pixels_to_compute();
    match &share {
        Ok(times) => println!(
            "the same arithmetic takes {times:.1} times as long in pixels as in compute shaders"
        ),
        Err(error) => println!("how much of the device draws is not known: {error}"),
    }
    let mut renderer = Renderer::new(gpu, FORMAT, SAMPLES);
    let mut rows: Vec<Value> = Vec::new();
    for (triangles, size) in sizes {
        let cells = waves::cells(triangles);
        let pixel_m = 2.0 * DISTANCE_M * (0.5 * FIELD_RAD).tan() / size[1] as f32;
        let coarse = waves::coarse_cells(cells, FINE_PX * pixel_m);
        let both = [cells, coarse];
        for cells in &both[..if coarse == cells { 1 } else { 2 }] {
            let drawn = 2 * cells * cells;
            println!(
                "\n{drawn} triangles of {triangles}, {} × {} px",
                size[0], size[1]
            );
            for ((name, _, limit), [seconds, ratio]) in
                CASES.iter().zip(measured(&mut renderer, *cells, size)?)
            {
                let bound = limit.map(|l| format!("≤ {l:.2}")).unwrap_or_default();
                let over = if limit.is_some_and(|l| ratio > l) {
                    "OVER"
                } else {
                    ""
                };
                println!(
                    "{name:16} {:9.3} ms  {ratio:5.2} of a single state  {bound:6} {over}",
                    seconds * 1e3
                );
                rows.push(json!({
                    "comparison": name, "triangles": triangles, "triangles_drawn": drawn,
                    "width_px": size[0], "height_px": size[1],
                    "frame_ms": seconds * 1e3, "ratio_to_single": ratio, "limit": limit,
                }));
            }
        }
    }
    if let Some(file) = file {
        let all = json!({
            "backend": backend, "adapter": adapter, "machine": machine, "samples": SAMPLES,
            "pixels_to_compute": share.ok(), "layer_px": LAYER_PX, "rounds": ROUNDS, "frames": rows,
        });
        std::fs::write(&file, format!("{all:#}\n")).map_err(|e| format!("{file}: {e}"))?;
    }
    Ok(())
}
