//! `ganosis unwrap`: places on a sheet for a mesh that has none, or whose places overlap.

mod charts;
mod glb;

use std::path::PathBuf;
use std::process::ExitCode;

use ganosis_dossier::write::write_atomically;
use ganosis_imaging::drape::{Mesh, SheetSize};
use ganosis_surface::Surface;

use super::chart_files::{self as files, trouble};
use super::pose_inputs;
use super::printing::printed;
use crate::trouble::Trouble;

/// Give a mesh UVs, so that layers can lie on it
///
/// For a mesh without UVs, or with UVs that overlap: each material's surface
/// is cut into charts, which are laid flat and packed onto one square sheet,
/// with room between them. Points, triangles and their order, normals, names
/// of nodes and materials stay as they are; poses solved on the mesh hold for
/// the new file. Textures are left out: they lie on the old UVs.
///
/// The charts are made by a machine: many, cut where nobody would cut. Layers
/// come out right all the same; to paint on the sheets by hand, unwrap by
/// hand.
///
/// Exit code: 0 done, 2 not done.
#[derive(clap::Args)]
pub(crate) struct Arguments {
    /// The mesh: a .glb or .gltf file
    surface: PathBuf,
    /// The mesh with UVs to write
    #[arg(short, long, value_name = "OUT.glb")]
    output: PathBuf,
    /// Texels along each side of the sheets that are to be used
    #[arg(long, value_name = "PX", default_value_t = 4096, value_parser = clap::value_parser!(u32).range(64..=32768))]
    size: u32,
    /// Texels that are left free around each chart
    #[arg(long, value_name = "PX", default_value_t = 4, value_parser = clap::value_parser!(u32).range(0..=16))]
    gap: u32,
    /// Write over a file that is there
    #[arg(long)]
    force: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let outputs = [arguments.output.clone()];
    let refuse = || files::refuse_overwriting(&outputs, &[&arguments.surface], arguments.force);
    refuse()?;
    let (mut surface, _) = pose_inputs::surface(&arguments.surface)?;
    let cut = charts::unwrap(&mut surface, arguments.size, arguments.gap).map_err(|reason| {
        Trouble::error(
            format!("the surface cannot be unwrapped: {reason}"),
            arguments.surface.display(),
            "Give a larger --size or a smaller --gap, join loose triangles and take away those that \
             are double.",
        )
    })?;
    let mesh = Mesh::new(&surface, sizes(&surface, arguments.size), &|_| true).map_err(trouble)?;
    let bytes = glb::of(&surface).map_err(|reason| {
        Trouble::error(
            reason,
            arguments.surface.display(),
            "Make the mesh smaller.",
        )
    })?;
    refuse()?;
    write_atomically(&arguments.output, &bytes)?;
    printed(tell(arguments, &surface, &cut, &mesh))?;
    Ok(ExitCode::SUCCESS)
}

fn sizes(surface: &Surface, side_px: u32) -> Vec<SheetSize> {
    let each = surface.sheets.iter().map(|sheet| SheetSize {
        name: sheet.name.clone(),
        width_px: side_px,
        height_px: side_px,
    });
    each.collect()
}

fn tell(
    arguments: &Arguments,
    surface: &Surface,
    cut: &[charts::Cut],
    mesh: &Mesh,
) -> std::io::Result<()> {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    writeln!(out, "{}", arguments.output.display())?;
    for one in cut {
        writeln!(
            out,
            "  {:<20} {} charts cover {:.0} % of the sheet",
            surface.sheets[one.sheet].name,
            one.charts,
            100.0 * one.covered
        )?;
    }
    let (small, large) = charts::spread_of_texels(mesh);
    writeln!(
        out,
        "  a texel covers {:.3} mm of the surface on average at {} px; 98 % of the surface has texels of \
         {small:.2} to {large:.2} times that area",
        mesh.mean_texel_m() * 1e3,
        arguments.size,
    )?;
    let found = &mesh.findings;
    if found.without_area + found.without_place > 0 {
        writeln!(
            out,
            "  {} triangles have no area and no place on a sheet",
            found.without_area + found.without_place
        )?;
    }
    if surface.sheets.iter().any(|sheet| sheet.texture.is_some()) {
        writeln!(out, "  the textures were left out: they lie on the old UVs")?;
    }
    Ok(())
}
