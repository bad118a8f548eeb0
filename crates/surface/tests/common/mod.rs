//! Where the sample files are, and small surfaces made for tests.
#![allow(dead_code, reason = "each test file uses a part of it")]

use std::path::{Path, PathBuf};

use ganosis_surface::{Counts, Patch, Sheet, Surface, SurfaceError, gltf_in};
use glam::{Vec2, Vec3};

/// The copied samples (`tests/samples`, `tests/bad` of the workspace).
pub(crate) fn copied(folder: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests")
        .join(folder)
}

/// The folder of samples that are read in place, if it is there.
pub(crate) fn in_place() -> Option<PathBuf> {
    std::env::var_os("GANOSIS_SAMPLES").map(PathBuf::from)
}

/// Reads a file with its buffers from its own folder.
pub(crate) fn open(path: &Path) -> Result<(Surface, Counts), SurfaceError> {
    let bytes = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let folder = path.parent().expect("a file has a folder").to_owned();
    gltf_in::read_counted(&bytes, &move |name| std::fs::read(folder.join(name)).ok())
}

/// All .glb and .gltf below a folder, sorted.
pub(crate) fn models(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(&next).unwrap_or_else(|e| panic!("{}: {e}", next.display()))
        {
            let path = entry.expect("a readable folder").path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "glb" || e == "gltf") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// A surface of one sheet over a grid in (s, t), each 0..1, with UV = (s, t).
pub(crate) fn grid(steps: u32, place: impl Fn(f32, f32) -> Vec3) -> Surface {
    let mut patch = Patch::default();
    for j in 0..=steps {
        for i in 0..=steps {
            let (s, t) = (i as f32 / steps as f32, j as f32 / steps as f32);
            patch.positions.push(place(s, t));
            patch.uvs.push(Vec2::new(s, t));
            patch.normals.push(Vec3::ZERO);
        }
    }
    for j in 0..steps {
        for i in 0..steps {
            let a = j * (steps + 1) + i;
            let c = a + steps + 1;
            patch.indices.extend([a, a + 1, c + 1, a, c + 1, c]);
        }
    }
    let sheet = Sheet::plain("crown");
    Surface {
        sheets: vec![sheet],
        patches: vec![patch],
        ..Surface::default()
    }
}

/// Point of a unit sphere at longitude s and colatitude t.
pub(crate) fn sphere(s: f32, t: f32) -> Vec3 {
    let (longitude, colatitude) = (s * std::f32::consts::TAU, t * std::f32::consts::PI);
    Vec3::new(
        colatitude.sin() * longitude.cos(),
        colatitude.cos(),
        colatitude.sin() * longitude.sin(),
    )
}

/// Numbers 0..1 that are the same in every run (xorshift, Marsaglia 2003).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// The next number.
    pub(crate) fn roll(&mut self) -> f32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 40) as f32 / (1_u32 << 24) as f32
    }

    /// A vector with components -1..1.
    pub(crate) fn vector(&mut self) -> Vec3 {
        Vec3::new(self.roll(), self.roll(), self.roll()) * 2.0 - 1.0
    }
}
