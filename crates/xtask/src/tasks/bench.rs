//! Measures sizes and times and compares each with its limit.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};
use serde_json::{Value, json};

use super::{demo, test, web};
use crate::{install, process, progress, workspace};

/// What to measure.
#[derive(clap::Args, Clone, Copy, Default)]
pub(crate) struct Options {
    /// Measure sizes only, not times in the browser
    #[arg(long)]
    sizes: bool,
}

/// One measured quantity against its limit.
struct Row {
    name: String,
    measured: f64,
    /// Absent: only told.
    limit: Option<f64>,
    /// More is better: the limit is the least.
    is_least: bool,
    unit: String,
}

impl Row {
    fn is_within(&self) -> bool {
        self.limit.is_none_or(|limit| {
            if self.is_least {
                self.measured >= limit
            } else {
                self.measured <= limit
            }
        })
    }

    fn json(&self) -> Value {
        json!({"name": self.name, "measured": self.measured, "limit": self.limit, "is_least": self.is_least, "unit": self.unit, "within": self.is_within()})
    }
}

/// What was measured.
#[derive(Default)]
struct Found {
    rows: Vec<Row>,
    /// Machine, browser and backend, as a program that measured says.
    about: Vec<Value>,
}

impl Found {
    fn add(&mut self, other: Self) {
        self.rows.extend(other.rows);
        self.about.extend(other.about);
    }
}

/// Measures, prints the table, writes `target/bench/latest.json` and a plot of it; an error if a limit is passed.
pub(crate) fn run(options: &Options) -> Result<()> {
    web::run(&web::Options::default())?;
    let mut found = Found {
        rows: progress::step("Measuring sizes", sizes)?,
        about: Vec::new(),
    };
    found.add(before_a_picture()?);
    if !options.sizes {
        found.add(cargo_bench("ganosis-colorimetry", "bulk")?);
        found.add(cargo_bench("ganosis-cli", "correct")?);
        found.add(cargo_bench("ganosis-cli", "pack")?);
        found.add(in_browser()?);
        found.add(beside_bare_page()?);
    }
    print_table(&found);
    write(&found)?;
    let over: Vec<&str> = found
        .rows
        .iter()
        .filter(|row| !row.is_within())
        .map(|row| row.name.as_str())
        .collect();
    if over.is_empty() {
        Ok(())
    } else {
        bail!("beyond the limit: {}", over.join(", "))
    }
}

fn sizes() -> Result<Vec<Row>> {
    let path = workspace::root().join("crates/xtask/sizes.toml");
    let text =
        std::fs::read_to_string(&path).with_context(|| format!("reading {}", path.display()))?;
    let limits: toml::Table = text
        .parse()
        .with_context(|| format!("reading {}", path.display()))?;
    let mut rows = Vec::new();
    for (name, entry) in &limits {
        let file = entry
            .get("file")
            .and_then(toml::Value::as_str)
            .with_context(|| format!("sizes.toml: {name} names no file"))?;
        let path = workspace::site().join(file);
        let limit = |key: &str| {
            entry
                .get(key)
                .and_then(toml::Value::as_integer)
                .map(|bytes| bytes as f64)
        };
        let raw = std::fs::metadata(&path)
            .with_context(|| format!("measuring {}", path.display()))?
            .len() as f64;
        rows.push(Row {
            name: format!("{name}, raw"),
            measured: raw,
            limit: limit("raw"),
            is_least: false,
            unit: "bytes".into(),
        });
        rows.push(Row {
            name: format!("{name}, brotli"),
            measured: brotli_size(&path)?,
            limit: limit("brotli"),
            is_least: false,
            unit: "bytes".into(),
        });
    }
    Ok(rows)
}

/// Node.js carries brotli; quality 11 is what a server would store.
fn brotli_size(path: &Path) -> Result<f64> {
    const SCRIPT: &str = "const z=require('zlib'),b=require('fs').readFileSync(process.argv[1]);\
        process.stdout.write(String(z.brotliCompressSync(b,{params:{[z.constants.BROTLI_PARAM_QUALITY]:11,[z.constants.BROTLI_PARAM_SIZE_HINT]:b.length}}).length))";
    install::needs_node()?;
    let said = process::output(process::command("node").args(["-e", SCRIPT]).arg(path))?;
    said.trim()
        .parse()
        .with_context(|| format!("node answered {said:?} for a size"))
}

/// What a visitor fetches before a first picture.
fn before_a_picture() -> Result<Found> {
    let mut node = process::command("node");
    node.arg("tests/bench/sizes.mjs")
        .env("GANOSIS_BENCH", bench_folder()?)
        .env("GANOSIS_VIEWER", workspace::site());
    found_in(&process::output(&mut node)?, "tests/bench/sizes.mjs")
}

/// What `tests/e2e/bench.mjs` measures in Chromium.
fn in_browser() -> Result<Found> {
    let ganosis = demo::build_programs(demo::Profile::Release)?;
    let dossier = demo::dossier(demo::Profile::Release, demo::Fineness::TRIED)?;
    test::prepare_browser()?;
    let said = progress::step("Measuring times in Chromium", || {
        let mut node = process::command("node");
        node.arg("tests/e2e/bench.mjs")
            .env("GANOSIS", &ganosis)
            .env("GANOSIS_DEMO", &dossier)
            .env("GANOSIS_VIEWER", workspace::site());
        process::output(&mut node)
    })?;
    found_in(&said, "tests/e2e/bench.mjs")
}

/// What `tests/bench/browser.mjs` measures in Chromium of the viewer and of a bare page beside it.
fn beside_bare_page() -> Result<Found> {
    let ganosis = demo::build_programs(demo::Profile::Release)?;
    let demonstration = demo::dossier(demo::Profile::Release, demo::Fineness::MEASURED)?;
    test::prepare_browser()?;
    install::npm_ci("tests/bench")?;
    let folder = bench_folder()?;
    let (whole, packed) = (folder.join("whole"), folder.join("packed"));
    progress::step("Cutting images into tiles", || {
        let mut node = process::command("node");
        node.arg("tests/bench/dossier.mjs")
            .arg(&demonstration)
            .arg(&whole);
        process::output(&mut node)?;
        let mut pack = process::command(&ganosis);
        process::output(pack.arg("pack").arg(&whole).arg("--output").arg(&packed))
    })?;
    let said = progress::step("Measuring the viewer beside a bare page", || {
        let mut node = process::command("node");
        node.arg("tests/bench/browser.mjs")
            .env("GANOSIS_WHOLE", &whole)
            .env("GANOSIS_PACKED", &packed)
            .env("GANOSIS_BENCH", &folder)
            .env("GANOSIS_VIEWER", workspace::site());
        process::output(&mut node)
    })?;
    found_in(&said, "tests/bench/browser.mjs")
}

/// What a bench of a crate measures.
fn cargo_bench(package: &str, bench: &str) -> Result<Found> {
    let said = progress::step(&format!("Measuring {package}, {bench}"), || {
        let mut cargo = process::command("cargo");
        cargo.args(["bench", "--quiet", "--package", package, "--bench", bench]);
        process::output(&mut cargo)
    })?;
    found_in(&said, &format!("{package}, bench {bench}"))
}

/// One JSON object a line: `{name, measured, limit, unit}`, with `is_least` where more is better, or `{about: {…}}` of what was measured on.
fn found_in(said: &str, program: &str) -> Result<Found> {
    let mut found = Found::default();
    for line in said.lines().filter(|line| line.starts_with('{')) {
        let value: Value =
            serde_json::from_str(line).with_context(|| format!("{program} printed {line:?}"))?;
        if let Some(about) = value.get("about") {
            found.about.push(about.clone());
            continue;
        }
        found.rows.push(Row {
            name: value["name"].as_str().unwrap_or("unnamed").to_owned(),
            measured: value["measured"]
                .as_f64()
                .with_context(|| format!("no number in {line}"))?,
            limit: value["limit"].as_f64(),
            is_least: value["is_least"].as_bool().unwrap_or(false),
            unit: value["unit"].as_str().unwrap_or_default().to_owned(),
        });
    }
    if found.rows.is_empty() {
        bail!("{program} measured nothing");
    }
    Ok(found)
}

fn print_table(found: &Found) {
    for about in &found.about {
        println!("{about}");
    }
    println!(
        "{:<64} {:>12} {:>12} {:>7}  unit",
        "measured", "value", "limit", "ratio"
    );
    for row in &found.rows {
        let limit = row.limit.map_or_else(|| "-".to_owned(), trimmed);
        let ratio = row.limit.map_or_else(
            || "-".to_owned(),
            |limit| format!("{:.2}", row.measured / limit),
        );
        let mark = match (row.is_within(), row.is_least) {
            (true, _) => "",
            (false, true) => "  UNDER",
            (false, false) => "  OVER",
        };
        println!(
            "{:<64} {:>12} {limit:>12} {ratio:>7}  {}{mark}",
            row.name,
            trimmed(row.measured),
            row.unit
        );
    }
}

fn trimmed(number: f64) -> String {
    if number >= 1000.0 {
        format!("{number:.0}")
    } else {
        format!("{number:.3}")
    }
}

fn bench_folder() -> Result<PathBuf> {
    let folder = workspace::target().join("bench");
    std::fs::create_dir_all(&folder).with_context(|| format!("making {}", folder.display()))?;
    Ok(folder)
}

/// `latest.json`, and a plot of it by `tests/bench/plot.mjs`.
fn write(found: &Found) -> Result<()> {
    let folder = bench_folder()?;
    let path = folder.join("latest.json");
    let rows: Vec<Value> = found.rows.iter().map(Row::json).collect();
    let text = serde_json::to_string_pretty(&json!({ "about": found.about, "rows": rows }))?;
    std::fs::write(&path, text + "\n").with_context(|| format!("writing {}", path.display()))?;
    let plot = path.with_extension("svg");
    let mut node = process::command("node");
    process::output(node.arg("tests/bench/plot.mjs").arg(&path).arg(&plot))?;
    println!("  written to {} and {}", path.display(), plot.display());
    Ok(())
}
