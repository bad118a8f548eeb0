//! Writes the JavaScript side of a module that was compiled for the browser.
//!
//! The library of wasm-bindgen alone, which compiles in a third of the time of its command line (that
//! carries a web server and a client for its tests) and whose version `Cargo.lock` keeps equal to
//! that of the `wasm-bindgen` which the module was compiled with.

use std::path::PathBuf;

use anyhow::{Context as _, bail};
use wasm_bindgen_cli_support::Bindgen;

/// Arguments: the compiled module, the folder to write into, the name of the files there.
fn main() -> anyhow::Result<()> {
    let arguments: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let [module, folder, name] = arguments.as_slice() else {
        bail!("usage: ganosis-bind MODULE.wasm FOLDER NAME");
    };
    let name = name.to_str().context("the name is not UTF-8")?;
    Bindgen::new()
        .input_path(module)
        .out_name(name)
        .typescript(false)
        .web(true)?
        .generate(folder)
        .with_context(|| format!("binding {}", module.display()))
}
