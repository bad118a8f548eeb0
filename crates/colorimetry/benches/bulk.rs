//! Colours by the slice, one core, against the crate `palette` and, where it is installed, against
//! colour-science on NumPy. All read `tests/reference/conversions_grid.csv`, in one run.
//!
//! `cargo bench -p ganosis-colorimetry` prints JSON lines `{name, measured, limit, unit}`; times of
//! ours divided by times of the other, so that a limit of 0.333 means three times as fast. Ours in
//! double and in single precision are held against the same precision of `palette`; against NumPy the
//! limit is for the quickest of ours that holds its stated tolerance and for NumPy as it comes (64
//! bits), and the pairs of equal precision are printed without one. The Python with colour-science is named by `GANOSIS_PYTHON`; without it those lines are left out and
//! this is said.
#![allow(clippy::unwrap_used, reason = "a bench may fail by panic")]
#![allow(missing_docs, reason = "a bench has no users")]

use std::collections::HashMap;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use ganosis_colorimetry::{
    LabD50, LabPlanes, LabPlanesMut, delta_e_2000_planes, delta_e_2000_slice, lab_planes_to_srgb8,
    lab_to_srgb8_slice, srgb8_to_lab_planes, srgb8_to_lab_slice,
};
use palette::color_difference::Ciede2000;
use palette::white_point::{D50, D65};
use palette::{IntoColor, Lab, Srgb};

/// How often the grid is repeated, for every side alike: about 220,000 colours, a small image.
const REPEATS: usize = 100;

/// Processor time to spend on each number.
const ENOUGH_S: f64 = 1.0;
const ROUNDS: u32 = 10;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn grid() -> Vec<LabD50> {
    let text =
        std::fs::read_to_string(root().join("tests/reference/conversions_grid.csv")).unwrap();
    let rows = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    rows.map(|line| {
        let mut cells = line.split(',').map(|c| c.parse().unwrap());
        LabD50::from_array(std::array::from_fn(|_| cells.next().unwrap()))
    })
    .collect()
}

/// Seconds that this thread has had the processor, so that a busy machine does not count: the first
/// number of `schedstat` (nanoseconds, true to a tick); elsewhere than on Linux the clock on the wall.
fn processor_s(start: Instant) -> f64 {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split(' ').next()?.parse::<f64>().ok())
        .map_or_else(|| start.elapsed().as_secs_f64(), |ns| ns * 1e-9)
}

/// Nanoseconds a colour: the best of [`ROUNDS`], each the mean of as many runs as fill its share of
/// [`ENOUGH_S`]. Who shares the processor's caches and units can only add to a time.
fn time(count: usize, mut work: impl FnMut()) -> f64 {
    work();
    let wall = Instant::now();
    let mut best = f64::INFINITY;
    for _ in 0..ROUNDS {
        let start = processor_s(wall);
        let mut runs = 0;
        let spent = loop {
            work();
            runs += 1;
            let spent = processor_s(wall) - start;
            if spent >= ENOUGH_S / f64::from(ROUNDS) {
                break spent;
            }
        };
        best = best.min(spent * 1e9 / (f64::from(runs) * count as f64));
    }
    best
}

fn line(name: &str, measured: f64, limit: Option<f64>, unit: &str) {
    let limit = limit.map_or("null".to_owned(), |l| l.to_string());
    println!(
        r#"{{"name": "{name}", "measured": {measured:.4}, "limit": {limit}, "unit": "{unit}"}}"#
    );
}

struct Times {
    delta_e: f64,
    srgb_to_lab: f64,
    lab_to_srgb: f64,
}

fn ours(one: &[LabD50], two: &[LabD50], codes: &[[u8; 3]]) -> Times {
    let count = one.len();
    let mut differences = vec![0.0; count];
    let mut labs = vec![LabD50::default(); count];
    let mut back = vec![[0; 3]; count];
    Times {
        delta_e: time(count, || {
            delta_e_2000_slice(black_box(one), black_box(two), &mut differences);
            black_box(&differences);
        }),
        srgb_to_lab: time(count, || {
            srgb8_to_lab_slice(black_box(codes), &mut labs);
            black_box(&labs);
        }),
        lab_to_srgb: time(count, || {
            lab_to_srgb8_slice(black_box(&labs), &mut back);
            black_box(&back);
        }),
    }
}

/// Ours in single precision.
fn ours_single(one: &[LabD50], two: &[LabD50], codes: &[[u8; 3]]) -> Times {
    let count = one.len();
    let planes = |labs: &[LabD50]| -> [Vec<f32>; 3] {
        [0, 1, 2].map(|k| labs.iter().map(|c| c.to_array()[k] as f32).collect())
    };
    fn see(of: &[Vec<f32>; 3]) -> LabPlanes<'_> {
        let [l, a, b] = of;
        LabPlanes { l, a, b }
    }
    let (one, two) = (planes(one), planes(two));
    let mut differences = vec![0.0; count];
    let mut labs = [0, 1, 2].map(|_| vec![0.0; count]);
    let mut back = vec![[0; 3]; count];
    Times {
        delta_e: time(count, || {
            delta_e_2000_planes(black_box(see(&one)), black_box(see(&two)), &mut differences);
            black_box(&differences);
        }),
        srgb_to_lab: time(count, || {
            let [l, a, b] = &mut labs;
            srgb8_to_lab_planes(black_box(codes), LabPlanesMut { l, a, b });
            black_box(&labs);
        }),
        lab_to_srgb: time(count, || {
            lab_planes_to_srgb8(black_box(see(&labs)), &mut back);
            black_box(&back);
        }),
    }
}

/// `palette` in `f64`, as ours. It holds each white apart and does not adapt: its Lab is of D65, one
/// matrix less than ours.
fn palettes(one: &[LabD50], two: &[LabD50], codes: &[[u8; 3]]) -> Times {
    let count = one.len();
    let lab = |c: &LabD50| Lab::<D50, f64>::new(c.l, c.a, c.b);
    let a: Vec<_> = one.iter().map(lab).collect();
    let b: Vec<_> = two.iter().map(lab).collect();
    let mut differences = vec![0.0; count];
    let mut labs = vec![Lab::<D65, f64>::new(0.0, 0.0, 0.0); count];
    let mut back = vec![[0u8; 3]; count];
    let delta_e = time(count, || {
        for ((out, a), b) in differences.iter_mut().zip(black_box(&a)).zip(black_box(&b)) {
            *out = a.difference(*b);
        }
        black_box(&differences);
    });
    check_same_values(one, two, &differences);
    Times {
        delta_e,
        srgb_to_lab: time(count, || {
            for (out, code) in labs.iter_mut().zip(black_box(codes)) {
                let rgb: Srgb<f64> = Srgb::<u8>::from(*code).into_format();
                *out = rgb.into_color();
            }
            black_box(&labs);
        }),
        lab_to_srgb: time(count, || {
            for (out, lab) in back.iter_mut().zip(black_box(&labs)) {
                let rgb: Srgb<f64> = (*lab).into_color();
                *out = rgb.into_format::<u8>().into();
            }
            black_box(&back);
        }),
    }
}

/// `palette` in `f32`.
fn palettes_single(one: &[LabD50], two: &[LabD50], codes: &[[u8; 3]]) -> Times {
    let count = one.len();
    let lab = |c: &LabD50| Lab::<D50, f32>::new(c.l as f32, c.a as f32, c.b as f32);
    let a: Vec<_> = one.iter().map(lab).collect();
    let b: Vec<_> = two.iter().map(lab).collect();
    let mut differences = vec![0.0; count];
    let mut labs = vec![Lab::<D65, f32>::new(0.0, 0.0, 0.0); count];
    let mut back = vec![[0u8; 3]; count];
    Times {
        delta_e: time(count, || {
            for ((out, a), b) in differences.iter_mut().zip(black_box(&a)).zip(black_box(&b)) {
                *out = a.difference(*b);
            }
            black_box(&differences);
        }),
        srgb_to_lab: time(count, || {
            for (out, code) in labs.iter_mut().zip(black_box(codes)) {
                let rgb: Srgb<f32> = Srgb::<u8>::from(*code).into_format();
                *out = rgb.into_color();
            }
            black_box(&labs);
        }),
        lab_to_srgb: time(count, || {
            for (out, lab) in back.iter_mut().zip(black_box(&labs)) {
                let rgb: Srgb<f32> = (*lab).into_color();
                *out = rgb.into_format::<u8>().into();
            }
            black_box(&back);
        }),
    }
}

/// Same values, or the comparison says nothing. Pairs of opposite hues have two right answers.
fn check_same_values(one: &[LabD50], two: &[LabD50], theirs: &[f64]) {
    let mut ours = vec![0.0; one.len()];
    delta_e_2000_slice(one, two, &mut ours);
    let differ = (ours.iter().zip(theirs))
        .filter(|(a, b)| (*a - *b).abs() > 1e-6 * b.max(1.0))
        .count();
    assert!(
        differ * 50 < ours.len(),
        "{differ} of {} differ",
        ours.len()
    );
    line(
        "ΔE00: share of pairs where palette says otherwise",
        differ as f64 / ours.len() as f64,
        None,
        "of 1",
    );
}

/// Nanoseconds a colour of colour-science.
fn colour_science(bits: &str) -> Option<Times> {
    let python = std::env::var_os("GANOSIS_PYTHON")?;
    let output = Command::new(python)
        .arg(root().join("tests/bench/colour_science.py"))
        .arg(root().join("tests/reference/conversions_grid.csv"))
        .arg(REPEATS.to_string())
        .arg(bits)
        // One core, as ours.
        .env("OMP_NUM_THREADS", "1")
        .env("OPENBLAS_NUM_THREADS", "1")
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    let times: HashMap<&str, f64> = (text.lines())
        .filter_map(|line| {
            let (name, value) = line.split_once(' ')?;
            Some((name, value.parse().ok()?))
        })
        .collect();
    Some(Times {
        delta_e: *times.get("delta_e_2000")?,
        srgb_to_lab: *times.get("srgb_to_lab")?,
        lab_to_srgb: *times.get("lab_to_srgb")?,
    })
}

/// What stands behind the names of what is done in single precision.
const SINGLE: &str = ", single precision";

fn main() {
    let small = grid();
    let mut one = Vec::new();
    for _ in 0..REPEATS {
        one.extend_from_slice(&small);
    }
    let two: Vec<LabD50> = (one.iter().rev())
        .map(|c| LabD50::new(c.l, c.a * 0.7, c.b * 0.9))
        .collect();
    let mut codes = vec![[0; 3]; one.len()];
    lab_to_srgb8_slice(&one, &mut codes);

    let third = Some(1.0 / 3.0);
    let ours = ours(&one, &two, &codes);
    let single = ours_single(&one, &two, &codes);
    let theirs = palettes(&one, &two, &codes);
    let theirs_single = palettes_single(&one, &two, &codes);
    for (times, precision) in [(&ours, ""), (&single, SINGLE)] {
        line(
            &format!("ΔE00{precision}"),
            times.delta_e,
            None,
            "ns a pair",
        );
        line(
            &format!("sRGB to CIELAB{precision}"),
            times.srgb_to_lab,
            None,
            "ns a colour",
        );
        line(
            &format!("CIELAB to sRGB{precision}"),
            times.lab_to_srgb,
            None,
            "ns a colour",
        );
    }
    compare(&ours, "", &theirs, "palette", third);
    compare(&single, SINGLE, &theirs_single, "palette", third);
    for bits in ["64", "32"] {
        let Some(numpy) = colour_science(bits) else {
            eprintln!("colour-science is not compared: GANOSIS_PYTHON names no Python that has it");
            return;
        };
        let other = format!("colour-science on NumPy, {bits} bits");
        let limit = (bits == "64").then_some(1.0 / 30.0);
        if bits == "64" {
            compare(&ours, "", &numpy, &other, None);
        }
        compare(&single, SINGLE, &numpy, &other, limit);
    }
}

/// Ours over another's, with the limit for each.
fn compare(ours: &Times, precision: &str, theirs: &Times, other: &str, limit: Option<f64>) {
    for (name, ours, theirs) in [
        ("ΔE00", ours.delta_e, theirs.delta_e),
        ("sRGB to CIELAB", ours.srgb_to_lab, theirs.srgb_to_lab),
        ("CIELAB to sRGB", ours.lab_to_srgb, theirs.lab_to_srgb),
    ] {
        let name = format!("{name}{precision}");
        line(
            &format!("{name}: ours / {other}"),
            ours / theirs,
            limit,
            "ratio",
        );
    }
}
