//! Says what is being done and how long it took.

use std::time::Instant;

use anyhow::Result;

use crate::lane::say;

/// Runs `work`, announcing `title` before it and the time after it.
pub(crate) fn step<T>(title: &str, work: impl FnOnce() -> Result<T>) -> Result<T> {
    say(&format!("• {title} …"));
    let start = Instant::now();
    let result = work();
    let seconds = start.elapsed().as_secs_f64();
    match &result {
        Ok(_) => say(&format!("  {title}: done in {seconds:.1} s")),
        Err(_) => say(&format!("  {title}: failed after {seconds:.1} s")),
    }
    result
}

/// Says that a step had nothing to do.
pub(crate) fn unchanged(title: &str) {
    say(&format!("• {title}: up to date"));
}
