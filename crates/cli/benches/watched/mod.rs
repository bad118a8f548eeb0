//! A program watched while it runs.

use std::process::Command;
use std::time::{Duration, Instant};

/// What a program took.
#[derive(Clone, Copy)]
pub(crate) struct Took {
    pub(crate) seconds: f64,
    /// Of all processors together, to 1/100 s; 0 where the system does not tell.
    #[allow(dead_code, reason = "each bench uses a part")]
    pub(crate) processor_seconds: f64,
    /// The most memory it had; 0 where the system does not tell.
    pub(crate) bytes: usize,
}

/// Runs it to its end.
pub(crate) fn run(command: &mut Command) -> Took {
    let start = Instant::now();
    let mut child = command.spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let stat = format!("/proc/{}/stat", child.id());
    let (mut most, mut ticks) = (0, 0);
    loop {
        // The high-water mark only grows; the last look before the end sees the top.
        most = most.max(high_water(&status));
        ticks = ticks.max(processor_ticks(&stat));
        if let Some(ended) = child.try_wait().unwrap() {
            assert!(ended.code().is_some_and(|c| c < 2), "{command:?}: {ended}");
            return Took {
                seconds: start.elapsed().as_secs_f64(),
                processor_seconds: ticks as f64 / TICKS_PER_SECOND,
                bytes: most,
            };
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// What this program took of all processors so far, to 1/100 s; 0 where the system does not tell.
#[allow(dead_code, reason = "each bench uses a part")]
pub(crate) fn own_processor_seconds() -> f64 {
    processor_ticks("/proc/self/stat") as f64 / TICKS_PER_SECOND
}

/// The unit of times in /proc, `USER_HZ`: 100 on all architectures of today's Linux, time(7).
const TICKS_PER_SECOND: f64 = 100.0;

/// `utime` and `stime` of a process, proc_pid_stat(5): fields 14 and 15, after a name in brackets.
fn processor_ticks(stat: &str) -> u64 {
    let text = std::fs::read_to_string(stat).unwrap_or_default();
    let fields = text.rsplit(')').next().unwrap_or_default();
    let times = fields.split_whitespace().skip(11).take(2);
    times.filter_map(|t| t.parse::<u64>().ok()).sum()
}

/// `VmHWM` of a process, proc_pid_status(5).
fn high_water(status: &str) -> usize {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let row = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    let kib = row.and_then(|r| r.split_whitespace().next()?.parse::<usize>().ok());
    kib.unwrap_or(0) * 1024
}
