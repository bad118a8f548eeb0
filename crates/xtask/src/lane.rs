//! Long jobs side by side: each has a name, which begins its lines, and what the programs it
//! starts print is counted instead of shown, so that several can tell how far they are.

use std::cell::Cell;
use std::collections::{BTreeSet, VecDeque};
use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result};

thread_local! {
    static LANE: Cell<Option<Lane>> = const { Cell::new(None) };
}

#[derive(Clone, Copy)]
struct Lane {
    name: &'static str,
    /// Lets the others have the processor first.
    yields: bool,
}

/// Lines kept of what a program printed, to show if it fails.
const KEPT: usize = 60;
/// Time between two lines of one job.
const EVERY: Duration = Duration::from_secs(10);

/// Does work on this thread under a name; `yields` lets other jobs have the processor first.
pub(crate) fn run<T>(name: &'static str, yields: bool, work: impl FnOnce() -> T) -> T {
    let before = LANE.replace(Some(Lane { name, yields }));
    let result = work();
    LANE.set(before);
    result
}

/// Prints a line, with the name of the job it belongs to.
pub(crate) fn say(line: &str) {
    match LANE.get() {
        Some(lane) => println!("{:>8} | {line}", lane.name),
        None => println!("{line}"),
    }
}

/// Runs a program of a job. `None` outside of jobs: then nobody need share the terminal.
pub(crate) fn watch(command: &mut Command) -> Result<Option<ExitStatus>> {
    let Some(lane) = LANE.get() else {
        return Ok(None);
    };
    let is_cargo = Path::new(command.get_program())
        .file_stem()
        .is_some_and(|name| name == "cargo");
    let all = if is_cargo { packages(command) } else { None };
    let mut started = polite(command, lane.yields);
    let mut child = started
        .stdin(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .with_context(|| format!("starting {}", command.get_program().to_string_lossy()))?;
    let mut last = VecDeque::new();
    let (mut done, mut said) = (0_usize, Instant::now());
    for line in BufReader::new(child.stderr.take().context("no output")?).lines() {
        let line = line.unwrap_or_default();
        match compiled(&line) {
            Some(package) if is_cargo => {
                done += 1;
                if said.elapsed() > EVERY {
                    said = Instant::now();
                    let of = all.map_or_else(String::new, |n| format!(" of about {}", n.max(done)));
                    say(&format!("  {done}{of} packages begun, now {package}"));
                }
            }
            _ if !is_cargo => say(&format!("  {}", line.trim())),
            _ => {}
        }
        if last.len() == KEPT {
            last.pop_front();
        }
        last.push_back(line);
    }
    let status = child.wait()?;
    if !status.success() {
        for line in &last {
            say(line);
        }
    }
    Ok(Some(status))
}

/// The package that a line of Cargo says it compiles.
fn compiled(line: &str) -> Option<&str> {
    line.trim_start()
        .strip_prefix("Compiling ")?
        .split_whitespace()
        .next()
}

/// The same command, at a lower priority where the system has `nice` (POSIX).
fn polite(command: &Command, yields: bool) -> Command {
    const NICE: &str = "/usr/bin/nice";
    let mut same = if yields && Path::new(NICE).exists() {
        let mut nice = Command::new(NICE);
        nice.args(["-n", "5"]).arg(command.get_program());
        nice
    } else {
        Command::new(command.get_program())
    };
    same.args(command.get_args());
    surroundings(command, &mut same);
    same
}

fn surroundings(from: &Command, to: &mut Command) {
    for (name, value) in from.get_envs() {
        match value {
            Some(value) => to.env(name, value),
            None => to.env_remove(name),
        };
    }
    if let Some(folder) = from.get_current_dir() {
        to.current_dir(folder);
    }
}

/// About how many packages a `cargo build` compiles: those of `cargo tree` for the same choice.
fn packages(build: &Command) -> Option<usize> {
    let given: Vec<&str> = build.get_args().filter_map(|a| a.to_str()).collect();
    if given.first() != Some(&"build") {
        return None;
    }
    let mut tree = Command::new(build.get_program());
    tree.args(["tree", "--prefix", "none", "--no-dedupe"]);
    tree.args(["--edges", "normal,build", "--format", "{p}"]);
    for (i, argument) in given.iter().enumerate() {
        match *argument {
            "--package" | "--features" | "--target" => {
                tree.arg(argument).args(given.get(i + 1));
            }
            "--no-default-features" => {
                tree.arg(argument);
            }
            _ => {}
        }
    }
    surroundings(build, &mut tree);
    let said = tree.stderr(Stdio::null()).output().ok()?;
    let text = String::from_utf8(said.stdout).ok()?;
    let names: BTreeSet<&str> = text.lines().filter(|line| !line.is_empty()).collect();
    (said.status.success() && !names.is_empty()).then_some(names.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_cargo_tell_what_is_compiled() {
        assert_eq!(compiled("   Compiling glam v0.34.0"), Some("glam"));
        assert_eq!(compiled("    Finished `release` profile"), None);
    }

    #[test]
    fn the_tree_of_a_package_is_counted() {
        let mut build = crate::process::command("cargo");
        build.args([
            "build",
            "--release",
            "--package",
            "xtask",
            "--color",
            "never",
        ]);
        let count = packages(&build).unwrap_or(0);
        // At least those that its manifest names.
        assert!(count >= 4, "{count} packages");
    }

    #[cfg(unix)]
    #[test]
    fn a_failing_program_is_seen_to_fail() {
        let status = run("test", true, || {
            watch(Command::new("sh").args(["-c", "echo said >&2; exit 3"]))
        });
        let code = status.ok().flatten().and_then(|status| status.code());
        assert_eq!(code, Some(3));
        assert!(watch(&mut Command::new("sh")).is_ok_and(|s| s.is_none()));
    }
}
