//! One file per task.

pub(crate) mod bench;
pub(crate) mod demo;
mod layers;
mod photographs;
pub(crate) mod release;
mod tally;
pub(crate) mod test;
pub(crate) mod tidy;
pub(crate) mod web;
