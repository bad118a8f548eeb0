//! Links the shaders of `../../shaders` into whole modules at build time.

#[path = "src/link.rs"]
mod link;

use std::{env, fs, path::PathBuf};

fn main() {
    let root =
        PathBuf::from(env::var("CARGO_MANIFEST_DIR").unwrap_or_default()).join("../../shaders");
    let out = PathBuf::from(env::var("OUT_DIR").unwrap_or_default());
    println!("cargo::rerun-if-changed={}", root.display());
    println!("cargo::rerun-if-changed=src/link.rs");
    let for_browser = env::var("CARGO_CFG_TARGET_ARCH").is_ok_and(|arch| arch == "wasm32");
    for name in link::ENTRY_POINTS {
        let read = |module: &str| fs::read_to_string(root.join(format!("{module}.wgsl"))).ok();
        // Plain paint is a module of its own and the beginning of the whole: it is kept once.
        let linked = match *name {
            "draw/surface" => link::link_beyond("draw/plain", name, &read),
            _ => link::link(name, &read),
        };
        let target = out.join(format!("{}.wgsl", name.replace('/', "_")));
        match linked {
            Ok(source) => {
                let source = if for_browser {
                    link::compact(&source)
                } else {
                    source
                };
                if let Err(error) = fs::write(&target, source) {
                    println!("cargo::error=cannot write {}: {error}", target.display());
                }
            }
            Err(error) => println!("cargo::error=shaders/{name}.wgsl: {error}"),
        }
    }
}
