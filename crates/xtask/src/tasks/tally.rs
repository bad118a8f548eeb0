//! Counts of tests, read from the closing lines of the test runners.

use std::fmt;
use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};

use anyhow::{Context as _, Result, bail};

use crate::{lane, process};

/// How many tests passed, failed and were skipped.
#[derive(Clone, Copy, Default, PartialEq, Eq, Debug)]
pub(crate) struct Tally {
    pub(crate) passed: usize,
    pub(crate) failed: usize,
    pub(crate) skipped: usize,
    /// Files of tests that failed at first, and count as they went the second time.
    pub(crate) again: usize,
}

impl Tally {
    pub(crate) fn one_passed() -> Self {
        Self {
            passed: 1,
            ..Self::default()
        }
    }

    /// Runs `cargo test` and adds up its `test result:` lines.
    ///
    /// A test that skips cases for want of files says `skipped N cases` on a
    /// line of its own (`ganosis_testkit::samples`).
    pub(crate) fn from_cargo(command: &mut Command, verbose: bool) -> Result<Self> {
        let (tally, success) = read_lines(command, verbose, cargo_line)?;
        finish(tally, success, command)
    }

    /// Runs `node --test --test-reporter=tap` and reads its closing counts.
    pub(crate) fn from_node(command: &mut Command, verbose: bool) -> Result<Self> {
        let (tally, success) = read_lines(command, verbose, node_line)?;
        finish(tally, success, command)
    }
}

impl std::ops::Add for Tally {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            passed: self.passed + other.passed,
            failed: self.failed + other.failed,
            skipped: self.skipped + other.skipped,
            again: self.again + other.again,
        }
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            formatter,
            "{} passed, {} failed, {} skipped",
            self.passed, self.failed, self.skipped
        )?;
        match self.again {
            0 => Ok(()),
            files => write!(formatter, ", {files} files tried twice"),
        }
    }
}

/// A runner that failed without counting a failure (it did not compile, say) counts as one.
fn finish(mut tally: Tally, success: bool, command: &Command) -> Result<Tally> {
    if !success && tally.failed == 0 {
        tally.failed = 1;
    }
    if success && tally.passed + tally.skipped == 0 {
        bail!("`{}` ran no test", process::shown(command));
    }
    Ok(tally)
}

/// Passes the lines on (all, or those a reader needs) while it counts.
fn read_lines(
    command: &mut Command,
    verbose: bool,
    count: fn(&str, &mut Tally) -> bool,
) -> Result<(Tally, bool)> {
    let shown = process::shown(command);
    let mut child = command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .with_context(|| format!("starting `{shown}`"))?;
    let stdout = child
        .stdout
        .take()
        .context("the runner has no standard output")?;
    let mut tally = Tally::default();
    for line in BufReader::new(stdout).lines() {
        let line = line.with_context(|| format!("reading from `{shown}`"))?;
        let dull = count(&line, &mut tally);
        if verbose || !dull {
            lane::say(&line);
        }
    }
    let status = child
        .wait()
        .with_context(|| format!("waiting for `{shown}`"))?;
    Ok((tally, status.success()))
}

/// Counts a line of `cargo test`; true if nobody needs to read it.
fn cargo_line(line: &str, tally: &mut Tally) -> bool {
    if let Some(rest) = line.strip_prefix("test result: ") {
        for part in rest.split([';', '.']) {
            let mut words = part.split_whitespace();
            let (Some(number), Some(what)) = (words.next(), words.next()) else {
                continue;
            };
            let Ok(number) = number.parse::<usize>() else {
                continue;
            };
            match what {
                "passed" => tally.passed += number,
                "failed" => tally.failed += number,
                "ignored" => tally.skipped += number,
                _ => {}
            }
        }
        return true;
    }
    if let Some(number) = line
        .trim()
        .strip_prefix("skipped ")
        .and_then(|rest| rest.split(' ').next())
        .and_then(|word| word.parse::<usize>().ok())
    {
        tally.skipped += number;
        return false;
    }
    let trimmed = line.trim();
    trimmed.is_empty()
        || trimmed.ends_with("... ok")
        || (trimmed.starts_with("running ") && trimmed.contains(" test"))
}

/// Counts a line of node's TAP; true if nobody needs to read it.
fn node_line(line: &str, tally: &mut Tally) -> bool {
    for (head, count) in [
        ("# pass ", &mut tally.passed),
        ("# fail ", &mut tally.failed),
        ("# skipped ", &mut tally.skipped),
    ] {
        if let Some(number) = line
            .strip_prefix(head)
            .and_then(|rest| rest.parse::<usize>().ok())
        {
            *count += number;
            return true;
        }
    }
    // The counts of tests that were cancelled (a file that timed out) are failures too.
    if let Some(number) = line
        .strip_prefix("# cancelled ")
        .and_then(|rest| rest.parse::<usize>().ok())
    {
        tally.failed += number;
        return true;
    }
    let trimmed = line.trim_start();
    let is_frame = trimmed.starts_with("ok ") && !trimmed.contains("# SKIP");
    let is_note = [
        "---",
        "...",
        "duration_ms:",
        "type:",
        "1..",
        "TAP version",
        "# tests",
        "# suites",
        "# todo",
        "# duration_ms",
    ]
    .iter()
    .any(|head| trimmed.starts_with(head));
    is_frame || is_note || trimmed.starts_with("# Subtest")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cargo_counts_are_read() {
        let mut tally = Tally::default();
        cargo_line(
            "test result: FAILED. 3 passed; 1 failed; 2 ignored; 0 measured; 4 filtered out; finished in 0.01s",
            &mut tally,
        );
        cargo_line("skipped 5 cases: GANOSIS_SAMPLES is not set", &mut tally);
        assert_eq!(
            tally,
            Tally {
                passed: 3,
                failed: 1,
                skipped: 7,
                again: 0
            }
        );
    }

    #[test]
    fn node_counts_are_read_and_failures_are_shown() {
        let mut tally = Tally::default();
        for line in ["# pass 12", "# fail 1", "# cancelled 1", "# skipped 2"] {
            assert!(node_line(line, &mut tally));
        }
        assert_eq!(
            tally,
            Tally {
                passed: 12,
                failed: 2,
                skipped: 2,
                again: 0
            }
        );
        assert!(!node_line(
            "not ok 3 - divider_follows_the_pointer",
            &mut tally
        ));
        assert!(!node_line("ok 4 - sparse # SKIP no samples", &mut tally));
    }
}
