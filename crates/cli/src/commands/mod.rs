//! One file a subcommand: its arguments and its `run`.

pub(crate) mod check;
pub(crate) mod open;
