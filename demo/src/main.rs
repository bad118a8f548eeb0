//! `ganosis-demo`: makes the dossier of the Sallowmere boss.

use anyhow::Result;
use clap::Parser;
use ganosis_demo::{DEFAULT_SEED, DEFAULT_TEXTURE, DEFAULT_TRIANGLES, Options, photographs};
use std::path::PathBuf;
use std::time::Instant;

/// Makes the dossier of an invented object, the Sallowmere boss, from a seed.
#[derive(Debug, Parser)]
#[command(version)]
struct Arguments {
    /// Folder to write the dossier to; made if it is not there.
    #[arg(long)]
    out: PathBuf,
    /// The same seed gives the same files, byte for byte.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    seed: u64,
    /// Texels along the side of each sheet, up to 16384.
    #[arg(long, default_value_t = DEFAULT_TEXTURE)]
    texture: usize,
    /// Triangles of the boss, at least.
    #[arg(long, default_value_t = DEFAULT_TRIANGLES)]
    triangles: usize,
    /// Also write what was really painted where to this file (keep it outside the dossier).
    #[arg(long)]
    truth: Option<PathBuf>,
    /// Also photograph the boss by simulated cameras, and write the photographs with points, lenses,
    /// truth and the commands that make layers of them to this folder.
    #[arg(long)]
    photographs: Option<PathBuf>,
    /// Pixels across a photograph of the colour camera.
    #[arg(long, default_value_t = photographs::DEFAULT_WIDTH_PX)]
    photograph_px: usize,
}

fn main() -> Result<()> {
    let a = Arguments::parse();
    let options = Options {
        seed: a.seed,
        texture: a.texture,
        triangles: a.triangles,
    };
    let start = Instant::now();
    let say = |line: &str| eprintln!("{:6.1} s  {line}", start.elapsed().as_secs_f32());
    ganosis_demo::generate(&a.out, &options, &say)?;
    if let Some(folder) = &a.photographs {
        let options = photographs::Options {
            seed: a.seed,
            width_px: a.photograph_px,
            texture_px: a.texture,
        };
        photographs::take(&a.out, folder, &options, &say)?;
    }
    if let Some(path) = a.truth {
        std::fs::write(path, ganosis_demo::truth(&options)?)?;
    }
    eprintln!(
        "{:6.1} s  done: {}",
        start.elapsed().as_secs_f32(),
        a.out.display()
    );
    Ok(())
}
