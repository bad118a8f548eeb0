//! The licences of what others wrote and the release contains, as their terms ask: one text for all packages that
//! share it.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context as _, Result, bail};
use serde_json::Value;

use crate::process;
use crate::toolchain::WASM_TARGET;

/// Our packages that the release contains, with the platform that they are built for; none: this one.
const ROOTS: [(&str, Option<&str>); 5] = [
    ("ganosis-cli", None),
    ("ganosis-viewer", Some(WASM_TARGET)),
    ("ganosis-desk", Some(WASM_TARGET)),
    ("ganosis-porter", Some(WASM_TARGET)),
    ("ganosis-tripod", Some(WASM_TARGET)),
];

/// Beginnings of the names of files that hold terms.
const NAMES: [&str; 6] = [
    "license",
    "licence",
    "copying",
    "notice",
    "copyright",
    "unlicense",
];

/// One package of somebody else's.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Package {
    /// Name and version.
    name: String,
    /// SPDX expression.
    licence: String,
    /// Its folder.
    folder: String,
}

/// The whole file.
pub(super) fn text() -> Result<String> {
    let mut packages = BTreeSet::new();
    for (root, platform) in ROOTS {
        packages.extend(others(&metadata(platform)?, root)?);
    }
    written(&packages)
}

fn metadata(platform: Option<&str>) -> Result<Value> {
    let platform = match platform {
        Some(platform) => platform.to_owned(),
        None => host()?,
    };
    let mut cargo = process::command("cargo");
    cargo.args(["metadata", "--format-version", "1", "--locked"]);
    cargo.args(["--filter-platform", &platform]);
    let told = process::output(&mut cargo)?;
    serde_json::from_str(&told).context("reading what `cargo metadata` says")
}

fn host() -> Result<String> {
    let told = process::output(process::command("rustc").arg("-vV"))?;
    let line = told.lines().find_map(|line| line.strip_prefix("host: "));
    line.map(str::to_owned)
        .context("`rustc -vV` does not say its host")
}

/// Packages of others that `root` is made of; what only builds or tests it is none of them.
fn others(metadata: &Value, root: &str) -> Result<BTreeSet<Package>> {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let packages = list(&metadata["packages"]);
    let by_id: HashMap<&str, &Value> = packages
        .iter()
        .filter_map(|package| Some((package["id"].as_str()?, package)))
        .collect();
    let nodes = list(&metadata["resolve"]["nodes"]);
    let needed: HashMap<&str, &Value> = nodes
        .iter()
        .filter_map(|node| Some((node["id"].as_str()?, &node["deps"])))
        .collect();
    let first = packages.iter().find(|package| package["name"] == root);
    let Some(first) = first.and_then(|package| package["id"].as_str()) else {
        bail!("`cargo metadata` knows no package {root}");
    };
    let (mut waiting, mut seen) = (vec![first], BTreeSet::new());
    let mut found = BTreeSet::new();
    while let Some(id) = waiting.pop() {
        if !seen.insert(id) {
            continue;
        }
        // Those of the workspace have no source.
        if let Some(package) = by_id.get(id).filter(|package| !package["source"].is_null()) {
            found.insert(told(package));
        }
        for dependency in needed
            .get(id)
            .and_then(|deps| deps.as_array())
            .into_iter()
            .flatten()
        {
            let kinds = dependency["dep_kinds"].as_array();
            let built_in =
                kinds.is_some_and(|kinds| kinds.iter().any(|kind| kind["kind"].is_null()));
            if let Some(id) = dependency["pkg"].as_str().filter(|_| built_in) {
                waiting.push(id);
            }
        }
    }
    Ok(found)
}

fn told(package: &Value) -> Package {
    let field = |name: &str| package[name].as_str().unwrap_or_default().to_owned();
    let manifest = field("manifest_path");
    let folder = Path::new(&manifest).parent().unwrap_or(Path::new(""));
    Package {
        name: format!("{} {}", field("name"), field("version")),
        licence: field("license"),
        folder: folder.to_string_lossy().into_owned(),
    }
}

fn written(packages: &BTreeSet<Package>) -> Result<String> {
    let mut out = String::from(
        "The program and the viewer's modules are made with packages of others, under these terms.\n\n",
    );
    let mut texts: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for package in packages {
        writeln!(out, "{}: {}", package.name, package.licence)?;
        for text in terms(Path::new(&package.folder))? {
            texts.entry(text).or_default().push(&package.name);
        }
    }
    for (text, names) in texts {
        let line = "-".repeat(72);
        write!(out, "\n{line}\n{}\n{line}\n\n{text}\n", names.join(", "))?;
    }
    Ok(out)
}

/// The texts of the files with terms in a package's folder.
fn terms(folder: &Path) -> Result<Vec<String>> {
    let entries = std::fs::read_dir(folder).with_context(|| {
        format!(
            "reading {}: have the packages fetched by `cargo fetch`",
            folder.display()
        )
    })?;
    let mut texts = Vec::new();
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().to_lowercase();
        if NAMES.iter().any(|start| name.starts_with(start)) && entry.path().is_file() {
            let bytes = std::fs::read(entry.path())
                .with_context(|| format!("reading {}", entry.path().display()))?;
            texts.push(
                String::from_utf8_lossy(&bytes)
                    .replace("\r\n", "\n")
                    .trim()
                    .to_owned(),
            );
        }
    }
    Ok(texts)
}
