//! A program watched while it runs.

use std::process::Command;
use std::time::{Duration, Instant};

/// Seconds, and the most memory it had in bytes (0 where the system does not tell).
pub(crate) fn run(command: &mut Command) -> (f64, usize) {
    let start = Instant::now();
    let mut child = command.spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    loop {
        // The high-water mark only grows; the last look before the end sees the top.
        most = most.max(high_water(&status));
        if let Some(ended) = child.try_wait().unwrap() {
            assert!(ended.code().is_some_and(|c| c < 2), "{command:?}: {ended}");
            return (start.elapsed().as_secs_f64(), most);
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// `VmHWM` of a process, proc_pid_status(5).
fn high_water(status: &str) -> usize {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let row = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    let kib = row.and_then(|r| r.split_whitespace().next()?.parse::<usize>().ok());
    kib.unwrap_or(0) * 1024
}
