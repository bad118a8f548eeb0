//! Checks by machine what reviewers would forget: layers, sizes, names, documentation.

use std::path::Path;

use anyhow::{Context as _, Result, bail};
use serde_json::Value;

use super::layers::{LAYERS, Layer, markdown};
use crate::{process, workspace};

/// What to do besides checking.
#[derive(clap::Args, Clone, Copy, Default)]
pub(crate) struct Options {
    /// Print the table of layers for DEVELOPERS.md and stop
    #[arg(long)]
    table: bool,
}

/// Non-test lines of one file: listed from, refused from.
const LONG_FILE_LINES: usize = 800;
const TOO_LONG_FILE_LINES: usize = 1200;
/// DEVELOPERS.md must stay short enough to be read.
const GUIDE_MAX_LINES: usize = 500;

/// The top level, besides lock, licences and dot files.
const TOP_LEVEL: [&str; 8] = [
    "Cargo.toml",
    "README.md",
    "DEVELOPERS.md",
    "crates",
    "web",
    "shaders",
    "tests",
    "demo",
];
const TOP_LEVEL_BESIDES: [&str; 3] = ["Cargo.lock", "LICENSE-MIT", "LICENSE-APACHE"];

/// Words that must not stand in the project: an American spelling where the
/// rule is British, or a note that something was left undone.
/// Split so that this file does not find itself.
const FORBIDDEN_WORDS: [(&str, &str); 6] = [
    ("TO", "DO"),
    ("FIX", "ME"),
    ("XX", "X:"),
    ("todo", "!("),
    ("unimple", "mented!("),
    ("#[ig", "nore"),
];

/// Checks everything; an error lists what is wrong.
pub(crate) fn run(options: &Options) -> Result<()> {
    if options.table {
        print!("{}", markdown());
        return Ok(());
    }
    let mut wrong = Vec::new();
    check_layers(&mut wrong)?;
    check_top_level(&mut wrong)?;
    check_files(&mut wrong)?;
    check_guide(&mut wrong)?;
    if wrong.is_empty() {
        println!("  tidy: layers, files, top level and DEVELOPERS.md are as they should be");
        return Ok(());
    }
    bail!("{} things to tidy:\n  {}", wrong.len(), wrong.join("\n  "))
}

fn check_layers(wrong: &mut Vec<String>) -> Result<()> {
    let text = process::output(process::command("cargo").args([
        "metadata",
        "--no-deps",
        "--format-version",
        "1",
    ]))?;
    let metadata: Value =
        serde_json::from_str(&text).context("reading the answer of `cargo metadata`")?;
    let packages = metadata["packages"]
        .as_array()
        .context("`cargo metadata` lists no packages")?;
    for package in packages {
        let name = package["name"].as_str().unwrap_or_default();
        match LAYERS.iter().find(|layer| layer.package == name) {
            Some(layer) => check_package(layer, package, wrong),
            None => wrong.push(format!(
                "{name} is not in crates/xtask/src/tasks/layers.rs: say there what it may use"
            )),
        }
    }
    for layer in &LAYERS {
        if !packages
            .iter()
            .any(|package| package["name"] == layer.package)
        {
            wrong.push(format!(
                "layers.rs names {}, which is not in the workspace: take it out",
                layer.package
            ));
        }
    }
    Ok(())
}

fn check_package(layer: &Layer, package: &Value, wrong: &mut Vec<String>) {
    for dependency in package["dependencies"].as_array().into_iter().flatten() {
        let name = dependency["name"].as_str().unwrap_or_default();
        let is_dev = dependency["kind"] == "dev";
        let is_ours = LAYERS.iter().any(|other| other.package == name);
        let allowed = layer.may_use.contains(&name) || (is_dev && layer.dev.contains(&name));
        if is_ours && !allowed && name != layer.package {
            wrong.push(format!(
                "{} uses {name}: dependencies point downwards only (layers.rs)",
                layer.package
            ));
        }
        if !is_dev && layer.forbidden.contains(&name) {
            wrong.push(format!(
                "{} names the outside crate {name}, which layers.rs forbids there",
                layer.package
            ));
        }
    }
}

fn check_top_level(wrong: &mut Vec<String>) -> Result<()> {
    let listed = process::output(process::command("git").args(["ls-files"]))?;
    let mut entries: Vec<&str> = listed
        .lines()
        .filter_map(|line| line.split('/').next())
        .collect();
    entries.sort_unstable();
    entries.dedup();
    for entry in &entries {
        let known = TOP_LEVEL.contains(entry)
            || TOP_LEVEL_BESIDES.contains(entry)
            || entry.starts_with('.');
        if !known {
            wrong.push(format!(
                "{entry} stands at the top level: move it into one of {}",
                TOP_LEVEL.join(", ")
            ));
        }
    }
    for entry in TOP_LEVEL.iter().chain(&TOP_LEVEL_BESIDES) {
        if !entries.contains(entry) {
            wrong.push(format!("{entry} is missing at the top level"));
        }
    }
    Ok(())
}

fn check_files(wrong: &mut Vec<String>) -> Result<()> {
    let listed = process::output(process::command("git").args([
        "ls-files",
        "--cached",
        "--others",
        "--exclude-standard",
    ]))?;
    for name in listed.lines().filter(|name| is_source(name)) {
        let Ok(text) = std::fs::read_to_string(workspace::root().join(name)) else {
            continue;
        };
        let lines = non_test_lines(name, &text);
        if lines > TOO_LONG_FILE_LINES {
            wrong.push(format!("{name} has {lines} lines without tests, more than {TOO_LONG_FILE_LINES}: split it by subject"));
        } else if lines > LONG_FILE_LINES {
            println!("  tidy: {name} has {lines} lines without tests; think of splitting it");
        }
        for (head, tail) in FORBIDDEN_WORDS {
            let word = format!("{head}{tail}");
            if let Some(at) = text.lines().position(|line| line.contains(&word)) {
                wrong.push(format!("{name}:{}: `{word}`: do it or take it out", at + 1));
            }
        }
    }
    Ok(())
}

fn is_source(name: &str) -> bool {
    let known = [
        ".rs", ".wgsl", ".js", ".mjs", ".ts", ".css", ".html", ".md", ".toml",
    ]
    .iter()
    .any(|end| name.ends_with(end));
    known && !name.starts_with("tests/samples/") && !name.starts_with("tests/bad/")
}

/// Lines before the first `#[cfg(test)] mod`; files of tests count nothing.
fn non_test_lines(name: &str, text: &str) -> usize {
    let is_test = name.starts_with("tests/")
        || name.contains("/tests/")
        || name.ends_with("tests.rs")
        || name.contains(".test.");
    if is_test || !(name.ends_with(".rs") || name.ends_with(".js") || name.ends_with(".wgsl")) {
        return 0;
    }
    text.lines()
        .take_while(|line| line.trim() != "#[cfg(test)]")
        .count()
}

fn check_guide(wrong: &mut Vec<String>) -> Result<()> {
    let path = workspace::root().join("DEVELOPERS.md");
    let guide =
        std::fs::read_to_string(&path).with_context(|| format!("reading {}", path.display()))?;
    let lines = guide.lines().count();
    if lines > GUIDE_MAX_LINES {
        wrong.push(format!(
            "DEVELOPERS.md has {lines} lines, more than {GUIDE_MAX_LINES}: shorten it"
        ));
    }
    for layer in &LAYERS {
        if !guide.contains(&format!("`{}`", layer.folder)) {
            wrong.push(format!("DEVELOPERS.md does not name `{}`", layer.folder));
        }
    }
    for folder in folders(&workspace::root().join("shaders")) {
        if !guide.contains(&format!("`shaders/{folder}`")) {
            wrong.push(format!("DEVELOPERS.md does not name `shaders/{folder}`"));
        }
    }
    if !guide.contains(markdown().trim_end()) {
        wrong.push("the table of layers in DEVELOPERS.md is out of date: put in what `cargo xtask tidy --table` prints".to_owned());
    }
    Ok(())
}

fn folders(path: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(path).into_iter().flatten().flatten();
    entries
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn package(dependency: &str, kind: Value) -> Value {
        serde_json::json!({"name": "ganosis-dossier", "dependencies": [{"name": dependency, "kind": kind}]})
    }

    fn complaints(dependency: &str, kind: Value) -> usize {
        let layer = LAYERS
            .iter()
            .find(|layer| layer.package == "ganosis-dossier")
            .expect("listed");
        let mut wrong = Vec::new();
        check_package(layer, &package(dependency, kind), &mut wrong);
        wrong.len()
    }

    #[test]
    fn a_sideways_edge_is_refused() {
        assert_eq!(complaints("ganosis-surface", Value::Null), 1);
        assert_eq!(complaints("ganosis-surface", "dev".into()), 1);
    }

    #[test]
    fn a_forbidden_outside_crate_is_refused_and_another_is_not() {
        assert_eq!(complaints("wgpu", Value::Null), 1);
        assert_eq!(complaints("serde", Value::Null), 0);
        assert_eq!(complaints("ganosis-testkit", "dev".into()), 0);
    }

    #[test]
    fn every_allowed_edge_points_to_an_earlier_layer() {
        for (index, layer) in LAYERS.iter().enumerate() {
            for name in layer.may_use {
                let below = LAYERS.iter().position(|other| other.package == *name);
                assert!(
                    below.is_some_and(|below| below < index),
                    "{} -> {name}",
                    layer.package
                );
            }
        }
    }

    #[test]
    fn lines_after_the_tests_begin_do_not_count() {
        assert_eq!(
            non_test_lines("crates/a/src/b.rs", "a\nb\n#[cfg(test)]\nmod tests {}\n"),
            2
        );
        assert_eq!(non_test_lines("crates/a/src/b/tests.rs", "a\nb\n"), 0);
    }
}
