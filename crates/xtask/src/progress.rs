//! Says what is being done and how long it took.

use std::time::Instant;

use anyhow::Result;

/// Runs `work`, announcing `title` before it and the time after it.
pub(crate) fn step<T>(title: &str, work: impl FnOnce() -> Result<T>) -> Result<T> {
    println!("• {title} …");
    let start = Instant::now();
    let result = work();
    let seconds = start.elapsed().as_secs_f64();
    match &result {
        Ok(_) => println!("  {title}: done in {seconds:.1} s"),
        Err(_) => println!("  {title}: failed after {seconds:.1} s"),
    }
    result
}

/// Says that a step had nothing to do.
pub(crate) fn unchanged(title: &str) {
    println!("• {title}: up to date");
}
