//! Tasks of the workspace: `cargo xtask web | demo | release | test | tidy | bench`.
//!
//! Each task is a file under `tasks/`. They install what they need into
//! `target/tools` or with the system's package manager, and say so.

mod fingerprint;
mod install;
mod lane;
mod lints;
mod process;
mod progress;
mod tasks;
mod toolchain;
mod workspace;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Build, run, test and measure Ganosis.
#[derive(Parser)]
#[command(name = "cargo xtask", bin_name = "cargo xtask")]
struct Arguments {
    #[command(subcommand)]
    task: Task,
}

#[derive(Subcommand)]
enum Task {
    /// Build the viewer for the browser and lay out the site in target/viewer
    Web(tasks::web::Options),
    /// Make the demonstration dossier, serve it and print its address
    Demo(tasks::demo::Options),
    /// Make a folder, and an archive of it, for people who build nothing
    Release(tasks::release::Options),
    /// Run every test there is
    Test(tasks::test::Options),
    /// Check the layers, the file sizes and the documentation
    Tidy(tasks::tidy::Options),
    /// Measure sizes and times, as ratios, and compare them with their limits
    Bench(tasks::bench::Options),
}

fn main() -> ExitCode {
    let result = match Arguments::parse().task {
        Task::Web(options) => tasks::web::run(&options),
        Task::Demo(options) => tasks::demo::run(&options),
        Task::Release(options) => tasks::release::run(&options),
        Task::Test(options) => tasks::test::run(&options),
        Task::Tidy(options) => tasks::tidy::run(&options),
        Task::Bench(options) => tasks::bench::run(&options),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}
