//! Charts of each sheet by the library, as UVs of the surface.

use ganosis_imaging::drape::Mesh;
use ganosis_surface::{Patch, Surface};
use glam::Vec2;
use uvunwrap::{Density, MeshInput, Options, OutputMesh, Packing};

/// Meshes of more triangles have their charts packed in rows: by their shapes, which is denser, it takes
/// minutes (40,000 triangles of a carving: half a minute); a choice of ours.
const LARGE: usize = 50_000;

/// What came of one sheet.
pub(super) struct Cut {
    pub(super) sheet: usize,
    pub(super) charts: u32,
    /// Share of the square sheet that charts cover.
    pub(super) covered: f64,
}

/// Triangles and vertices of a surface get UVs of their own; vertices on the edges of charts are doubled.
pub(super) fn unwrap(surface: &mut Surface, side_px: u32, gap_px: u32) -> Result<Vec<Cut>, String> {
    let mut cuts = Vec::new();
    for sheet in 0..surface.sheets.len() {
        let mut own: Vec<&mut Patch> = surface.patches.iter_mut().collect();
        own.retain(|patch| patch.sheet == sheet && patch.triangle_count() > 0);
        if !own.is_empty() {
            cuts.push(unwrap_sheet(&mut own, sheet, side_px, gap_px)?);
        }
    }
    if cuts.is_empty() {
        return Err("it has no triangles".to_owned());
    }
    Ok(cuts)
}

fn unwrap_sheet(
    patches: &mut [&mut Patch],
    sheet: usize,
    side_px: u32,
    gap_px: u32,
) -> Result<Cut, String> {
    let positions: Vec<Vec<[f32; 3]>> = patches
        .iter()
        .map(|patch| patch.positions.iter().map(|p| p.to_array()).collect())
        .collect();
    let inputs: Vec<MeshInput> = patches
        .iter()
        .zip(&positions)
        .map(|(patch, positions)| MeshInput::new(positions, &patch.indices))
        .collect();
    let triangles: usize = patches.iter().map(|patch| patch.triangle_count()).sum();
    let options = Options {
        packing: if triangles > LARGE {
            Packing::Fast
        } else {
            Packing::Shape
        },
        density: Density::Auto { page_size: side_px },
        padding: gap_px,
        ..Options::default()
    };
    let atlas = uvunwrap::generate(&inputs, &options).map_err(|e| e.to_string())?;
    if atlas.page_count != 1 {
        return Err(format!(
            "its {} charts do not fit onto one sheet of {side_px} px",
            atlas.chart_count
        ));
    }
    // The page is cut off below what is used; the sheet is square.
    let used = atlas.height as f32 / atlas.width as f32;
    for (patch, mesh) in patches.iter_mut().zip(&atlas.meshes) {
        split(patch, mesh, used);
    }
    Ok(Cut {
        sheet,
        charts: atlas.chart_count,
        covered: f64::from(atlas.utilization * used),
    })
}

/// A patch with the vertices of the library, which say whose copies they are.
fn split(patch: &mut Patch, mesh: &OutputMesh, used: f32) {
    let from = |v: &uvunwrap::OutputVertex| v.xref as usize;
    let vertices = &mesh.vertices;
    patch.positions = vertices.iter().map(|v| patch.positions[from(v)]).collect();
    if !patch.normals.is_empty() {
        patch.normals = vertices.iter().map(|v| patch.normals[from(v)]).collect();
    }
    if let Some(colours) = &patch.colours {
        patch.colours = Some(vertices.iter().map(|v| colours[from(v)]).collect());
    }
    // Its triangles turn the other way round: v grows upwards there, downwards on a sheet.
    let uv = |v: &uvunwrap::OutputVertex| Vec2::new(v.uv[0], (1.0 - v.uv[1]) * used);
    patch.uvs = vertices.iter().map(uv).collect();
    patch.uvs_1 = None;
    patch.variant_sheets.clear();
    patch.indices.clone_from(&mesh.indices);
}

/// Areas of texels against the mean, of the first and the last hundredth of the surface by that.
pub(super) fn spread_of_texels(mesh: &Mesh) -> (f64, f64) {
    let mean_m2 = mesh.mean_texel_m().powi(2);
    let mut each: Vec<(f64, f64)> = mesh
        .faces
        .iter()
        .filter(|face| face.cross_px() != 0.0)
        .map(|face| (face.texel_m2() / mean_m2, face.cross_m2().length()))
        .collect();
    each.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = each.iter().map(|e| e.1).sum();
    let at = |share: f64| {
        let mut left = share * all;
        let found = each.iter().find(|e| {
            left -= e.1;
            left <= 0.0
        });
        found.or(each.last()).map_or(1.0, |e| e.0)
    };
    (at(0.01), at(0.99))
}
