//! A line that says how far a run is, and how long it will take.

use std::io::{IsTerminal, Write, stderr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How often the line is written: on a terminal, and into a file.
const EVERY: [Duration; 2] = [Duration::from_millis(500), Duration::from_secs(10)];

/// Says how far a run is on the error stream.
pub(super) struct Progress {
    state: Mutex<State>,
    is_terminal: bool,
}

struct State {
    stage: String,
    /// When the stage began, and how much was done then.
    began: (Instant, u64),
    last: Option<Instant>,
}

impl Progress {
    /// `resumed`: an earlier run is gone on with.
    pub(super) fn new(resumed: bool) -> Self {
        if resumed {
            eprintln!("ganosis: going on with an earlier run");
        }
        Self {
            state: Mutex::new(State {
                stage: String::new(),
                began: (Instant::now(), 0),
                last: None,
            }),
            is_terminal: stderr().is_terminal(),
        }
    }

    /// `stage` in words; the time left is that of the stage.
    pub(super) fn tell(&self, stage: &str, done: u64, of: u64) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        let now = Instant::now();
        if state.stage != stage {
            stage.clone_into(&mut state.stage);
            state.began = (now, done.saturating_sub(1));
        }
        let every = EVERY[usize::from(!self.is_terminal)];
        if state.last.is_some_and(|last| now - last < every) {
            return;
        }
        state.last = Some(now);
        let (began, before) = state.began;
        let left = left(
            now - began,
            done.saturating_sub(before),
            of.saturating_sub(done),
        );
        let line = format!("{stage}: {done} of {of}{left}");
        // A closed error stream is no reason to stop.
        let _ = if self.is_terminal {
            write!(stderr(), "\r{line:<70}").and_then(|()| stderr().flush())
        } else {
            writeln!(stderr(), "ganosis: {line}")
        };
    }

    /// The line is taken away.
    pub(super) fn end(&self) {
        if self.is_terminal {
            let _ = write!(stderr(), "\r{:<70}\r", "");
        }
    }
}

fn left(taken: Duration, done: u64, to_do: u64) -> String {
    if done == 0 || taken < Duration::from_secs(1) {
        return String::new();
    }
    let seconds = taken.as_secs_f64() / done as f64 * to_do as f64;
    if seconds < 90.0 {
        format!(", about {seconds:.0} s of this left")
    } else {
        format!(", about {:.0} min of this left", seconds / 60.0)
    }
}
