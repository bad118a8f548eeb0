//! Tests over several crates.
