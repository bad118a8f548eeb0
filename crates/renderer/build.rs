//! Links the shaders of `../../shaders` into whole modules at build time: as text, or where a browser has WebGL 2
//! only, which reads no WGSL, as what the library for that makes of it. A visitor's page then neither fetches what
//! reads WGSL nor waits for it.

#[path = "src/link.rs"]
mod link;

use std::{env, fs, path::PathBuf};

fn main() {
    let root =
        PathBuf::from(env::var("CARGO_MANIFEST_DIR").unwrap_or_default()).join("../../shaders");
    let out = PathBuf::from(env::var("OUT_DIR").unwrap_or_default());
    println!("cargo::rerun-if-changed={}", root.display());
    println!("cargo::rerun-if-changed=src/link.rs");
    println!("cargo::rustc-check-cfg=cfg(shaders_read)");
    let for_browser = env::var("CARGO_CFG_TARGET_ARCH").is_ok_and(|arch| arch == "wasm32");
    let has = |feature: &str| env::var_os(feature).is_some();
    let read = for_browser && has("CARGO_FEATURE_WEBGL") && !has("CARGO_FEATURE_WEBGPU");
    if read {
        println!("cargo::rustc-cfg=shaders_read");
    }
    let file = |module: &str| fs::read_to_string(root.join(format!("{module}.wgsl"))).ok();
    for name in link::ENTRY_POINTS {
        let made = if read {
            read_module(name, &file)
        } else {
            text(name, &file, for_browser).map(String::into_bytes)
        };
        let target = out.join(format!("{}.shader", name.replace('/', "_")));
        let kept = made.and_then(|bytes| {
            fs::write(&target, bytes)
                .map_err(|error| format!("cannot write {}: {error}", target.display()))
        });
        if let Err(error) = kept {
            println!("cargo::error=shaders/{name}.wgsl: {error}");
        }
    }
}

/// Text of a shader's file, by its path below `shaders/` without the ending.
type Files<'a> = &'a dyn Fn(&str) -> Option<String>;

fn text(name: &str, file: Files<'_>, for_browser: bool) -> Result<String, String> {
    // Plain paint is a module of its own and the beginning of the whole: its text is kept once.
    let linked = match name {
        "draw/surface" => link::link_beyond("draw/plain", name, file)?,
        _ => link::link(name, file)?,
    };
    Ok(if for_browser {
        link::compact(&linked)
    } else {
        linked
    })
}

/// The module as the library has it after reading, without what no entry point needs.
fn read_module(name: &str, file: Files<'_>) -> Result<Vec<u8>, String> {
    let source = link::link(name, file)?;
    let mut module =
        naga::front::wgsl::parse_str(&source).map_err(|e| e.emit_to_string(&source))?;
    naga::compact::compact(&mut module, naga::compact::KeepUnused::No);
    postcard::to_allocvec(&module).map_err(|error| error.to_string())
}
