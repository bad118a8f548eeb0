//! One file a subcommand: its arguments and its `run`.

pub(crate) mod annotations;
pub(crate) mod audit;
mod audit_sources;
pub(crate) mod check;
pub(crate) mod open;
mod reading;
mod report;
