//! One file a subcommand: its arguments and its `run`.

pub(crate) mod annotations;
pub(crate) mod audit;
mod bags;
pub(crate) mod bands;
pub(crate) mod chart;
mod chart_drawings;
mod chart_files;
mod chart_json;
mod chart_report;
mod chart_text;
pub(crate) mod check;
pub(crate) mod colour;
pub(crate) mod correct;
pub(crate) mod drape;
pub(crate) mod export;
#[cfg_attr(not(feature = "pictures"), path = "no_figures.rs")]
mod figures;
pub(crate) mod import;
mod moved;
pub(crate) mod open;
pub(crate) mod pack;
mod paged;
pub(crate) mod pose;
mod pose_by_layer;
mod pose_inputs;
mod pose_model;
mod pose_text;
mod printing;
mod progress;
mod public;
pub(crate) mod publish;
mod reading;
pub(crate) mod register;
mod report;
mod today;
pub(crate) mod unwrap;
mod viewer_files;
