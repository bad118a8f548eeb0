//! The command `ganosis`.

mod commands;
mod trouble;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Weigh what a painted object looked like, with the evidence beside every colour.
///
/// A dossier holds everything about one object: the mesh, the images laid
/// over it, the states that are proposed, and the claims and observations
/// they rest on. It is a folder with a file dossier.json, or a zip of it.
#[derive(Parser)]
#[command(name = "ganosis", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Open(commands::open::Arguments),
    Check(commands::check::Arguments),
    Audit(commands::audit::Arguments),
    Publish(commands::publish::Arguments),
    Export(commands::export::Arguments),
    Import(commands::import::Arguments),
    Annotations(commands::annotations::Arguments),
    Colour(commands::colour::Arguments),
    Chart(Box<commands::chart::Arguments>),
    Correct(commands::correct::Arguments),
    Register(commands::register::Arguments),
    Pose(Box<commands::pose::Arguments>),
    Drape(Box<commands::drape::Arguments>),
    Bands(commands::bands::Arguments),
    Pack(commands::pack::Arguments),
    Unwrap(commands::unwrap::Arguments),
}

/// Exit code when something could not be read or done.
const COULD_NOT: u8 = 2;

fn main() -> ExitCode {
    let result = match Arguments::parse().command {
        Command::Open(arguments) => commands::open::run(&arguments),
        Command::Check(arguments) => commands::check::run(&arguments),
        Command::Audit(arguments) => commands::audit::run(&arguments),
        Command::Publish(arguments) => commands::publish::run(&arguments),
        Command::Export(arguments) => commands::export::run(&arguments),
        Command::Import(arguments) => commands::import::run(&arguments),
        Command::Annotations(arguments) => commands::annotations::run(&arguments),
        Command::Colour(arguments) => commands::colour::run(&arguments),
        Command::Chart(arguments) => commands::chart::run(&arguments),
        Command::Correct(arguments) => commands::correct::run(&arguments),
        Command::Register(arguments) => commands::register::run(&arguments),
        Command::Pose(arguments) => commands::pose::run(&arguments),
        Command::Drape(arguments) => commands::drape::run(&arguments),
        Command::Bands(arguments) => commands::bands::run(&arguments),
        Command::Pack(arguments) => commands::pack::run(&arguments),
        Command::Unwrap(arguments) => commands::unwrap::run(&arguments),
    };
    result.unwrap_or_else(|error| {
        eprintln!("ganosis: {error:#}");
        ExitCode::from(COULD_NOT)
    })
}
