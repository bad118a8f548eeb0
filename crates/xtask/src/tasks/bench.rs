//! Measures sizes and times and compares each with its limit.

use std::path::Path;

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
    unit: String,
}

impl Row {
    fn is_within(&self) -> bool {
        self.limit.is_none_or(|limit| self.measured <= limit)
    }

    fn json(&self) -> Value {
        json!({"name": self.name, "measured": self.measured, "limit": self.limit, "unit": self.unit, "within": self.is_within()})
    }
}

/// Measures, prints the table, writes `target/bench/latest.json`; an error if a limit is passed.
pub(crate) fn run(options: &Options) -> Result<()> {
    web::run(&web::Options::default())?;
    let mut rows = progress::step("Measuring sizes", sizes)?;
    if !options.sizes {
        rows.extend(cargo_bench_rows("ganosis-colorimetry", "bulk")?);
        rows.extend(cargo_bench_rows("ganosis-cli", "correct")?);
        rows.extend(browser_rows()?);
    }
    print_table(&rows);
    write_json(&rows)?;
    let over: Vec<&str> = rows
        .iter()
        .filter(|row| !row.is_within())
        .map(|row| row.name.as_str())
        .collect();
    if over.is_empty() {
        Ok(())
    } else {
        bail!("over the limit: {}", over.join(", "))
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
            unit: "bytes".into(),
        });
        rows.push(Row {
            name: format!("{name}, brotli"),
            measured: brotli_size(&path)?,
            limit: limit("brotli"),
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

/// Rows that `tests/e2e/bench.mjs` measures in Chromium, one JSON object a line.
fn browser_rows() -> Result<Vec<Row>> {
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
    rows_of(&said, "tests/e2e/bench.mjs")
}

/// Rows that a bench of a crate prints, one JSON object a line.
fn cargo_bench_rows(package: &str, bench: &str) -> Result<Vec<Row>> {
    let said = progress::step(&format!("Measuring {package}, {bench}"), || {
        let mut cargo = process::command("cargo");
        cargo.args(["bench", "--quiet", "--package", package, "--bench", bench]);
        process::output(&mut cargo)
    })?;
    rows_of(&said, &format!("{package}, bench {bench}"))
}

fn rows_of(said: &str, program: &str) -> Result<Vec<Row>> {
    let mut rows = Vec::new();
    for line in said.lines().filter(|line| line.starts_with('{')) {
        let value: Value =
            serde_json::from_str(line).with_context(|| format!("{program} printed {line:?}"))?;
        rows.push(Row {
            name: value["name"].as_str().unwrap_or("unnamed").to_owned(),
            measured: value["measured"]
                .as_f64()
                .with_context(|| format!("no number in {line}"))?,
            limit: value["limit"].as_f64(),
            unit: value["unit"].as_str().unwrap_or_default().to_owned(),
        });
    }
    if rows.is_empty() {
        bail!("{program} measured nothing");
    }
    Ok(rows)
}

fn print_table(rows: &[Row]) {
    println!(
        "{:<44} {:>12} {:>12} {:>7}  unit",
        "measured", "value", "limit", "ratio"
    );
    for row in rows {
        let limit = row.limit.map_or_else(|| "-".to_owned(), trimmed);
        let ratio = row.limit.map_or_else(
            || "-".to_owned(),
            |limit| format!("{:.2}", row.measured / limit),
        );
        let mark = if row.is_within() { "" } else { "  OVER" };
        println!(
            "{:<44} {:>12} {limit:>12} {ratio:>7}  {}{mark}",
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

fn write_json(rows: &[Row]) -> Result<()> {
    let folder = workspace::target().join("bench");
    std::fs::create_dir_all(&folder).with_context(|| format!("making {}", folder.display()))?;
    let path = folder.join("latest.json");
    let rows: Vec<Value> = rows.iter().map(Row::json).collect();
    let text = serde_json::to_string_pretty(&json!({ "rows": rows }))?;
    std::fs::write(&path, text + "\n").with_context(|| format!("writing {}", path.display()))?;
    println!("  written to {}", path.display());
    Ok(())
}
