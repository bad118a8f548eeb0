//! Sheets: the charts of boss and bill, packed, as vertices with texture coordinates.

use super::charts::{Chart, cut, plane};
use super::mesh::Mesh;
use super::packing::{GRID, Outline, pack};
use glam::{Vec2, Vec3};
use rayon::prelude::*;
use std::collections::HashMap;

/// A corner of a triangle on a sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Corner {
    /// Mesh: 0 boss, 1 bill.
    pub(crate) mesh: u8,
    /// Vertex of that mesh.
    pub(crate) vertex: u32,
    /// Texture coordinate, glTF convention.
    pub(crate) uv: Vec2,
}

/// One texture page.
#[derive(Debug)]
pub(crate) struct Sheet {
    /// Id, also the name of the glTF material.
    pub(crate) id: &'static str,
    /// Corners.
    pub(crate) corners: Vec<Corner>,
    /// Triangles as indices of corners, the boss first.
    pub(crate) triangles: Vec<[u32; 3]>,
    /// How many triangles are the boss's.
    pub(crate) of_boss: usize,
    /// Charts on the sheet.
    pub(crate) charts: usize,
    /// Grid cells per centimetre.
    pub(crate) cells_per_cm: f32,
}

/// The sheet that a chart goes to by the direction it faces: the front to `crown`.
const FRONT: f32 = 0.6;

/// Unwraps the boss and the bill into two sheets.
pub(crate) fn unwrap(meshes: &[&Mesh; 2]) -> Vec<Sheet> {
    let axes: [&[Vec3]; 2] = [&[Vec3::Z, Vec3::NEG_Z], &[Vec3::Z]];
    let cuts: Vec<Vec<Chart>> = (0..2)
        .into_par_iter()
        .map(|i| cut(meshes[i], axes[i]))
        .collect();
    let mut groups: [Vec<(u8, &Chart)>; 2] = [Vec::new(), Vec::new()];
    for (mesh, charts) in cuts.iter().enumerate() {
        for chart in charts {
            let front = mesh == 1 || chart.axis.z > FRONT;
            groups[usize::from(!front)].push((mesh as u8, chart));
        }
    }
    let [crown, flank] = groups;
    [("crown", crown), ("flank", flank)]
        .into_par_iter()
        .map(|(id, charts)| sheet(id, meshes, &charts))
        .collect()
}

fn outline(mesh: &Mesh, chart: &Chart) -> (Outline, Vec2) {
    let (u, v) = plane(chart.axis);
    let mut low = Vec2::MAX;
    let mut high = Vec2::MIN;
    let mut triangles: Vec<[Vec2; 3]> = Vec::with_capacity(chart.faces.len());
    for &f in &chart.faces {
        let t = mesh.triangles[f as usize].map(|i| {
            let p = mesh.positions[i as usize];
            Vec2::new(p.dot(u), p.dot(v))
        });
        for p in t {
            low = low.min(p);
            high = high.max(p);
        }
        triangles.push(t);
    }
    for t in &mut triangles {
        *t = t.map(|p| p - low);
    }
    (
        Outline {
            triangles,
            size: high - low,
        },
        low,
    )
}

fn sheet(id: &'static str, meshes: &[&Mesh; 2], charts: &[(u8, &Chart)]) -> Sheet {
    let laid: Vec<(Outline, Vec2)> = charts
        .iter()
        .map(|&(m, c)| outline(meshes[m as usize], c))
        .collect();
    let (outlines, lows): (Vec<_>, Vec<_>) = laid.into_iter().unzip();
    let packing = pack(&outlines);
    let mut sheet = Sheet {
        id,
        corners: Vec::new(),
        triangles: Vec::new(),
        of_boss: 0,
        charts: charts.len(),
        cells_per_cm: packing.cells_per_cm,
    };
    for (k, &(m, chart)) in charts.iter().enumerate() {
        let mesh = meshes[m as usize];
        let (u, v) = plane(chart.axis);
        let mut known: HashMap<u32, u32> = HashMap::new();
        for &f in &chart.faces {
            let t = mesh.triangles[f as usize].map(|i| {
                *known.entry(i).or_insert_with(|| {
                    let p = mesh.positions[i as usize];
                    let flat = Vec2::new(p.dot(u), p.dot(v)) - lows[k];
                    let cell = packing.corners[k] + flat * packing.cells_per_cm;
                    let uv = Vec2::new(cell.x, GRID as f32 - cell.y) / GRID as f32;
                    sheet.corners.push(Corner {
                        mesh: m,
                        vertex: i,
                        uv,
                    });
                    sheet.corners.len() as u32 - 1
                })
            });
            sheet.triangles.push(t);
        }
        if m == 0 {
            sheet.of_boss = sheet.triangles.len();
        }
    }
    sheet
}
