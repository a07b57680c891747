//! Holdfast's command line: read this file to know what the program can do. Each command is a file in `cli/` with its
//! arguments and a `run` that returns the exit code: 0 done, 1 done but something is wrong with what was looked at,
//! 2 could not be done.

use std::process::ExitCode;

use clap::{Parser, Subcommand};

mod cli;

/// Runs staged fights in rehearsal: one clock, every performer's cues on their own phone, and a hold that beats everything.
#[derive(Parser)]
#[command(version, arg_required_else_help = true)]
struct Holdfast {
    #[command(subcommand)]
    command: Command,
}

/// What can be asked for.
#[derive(Subcommand)]
enum Command {
    New(cli::new::New),
    Log(cli::log::Log),
    Verify(cli::verify::Verify),
    StandIns(cli::stand_ins::Args),
    Listen(cli::listen::Args),
    Check(cli::check::Check),
    Timeline(cli::timeline::Timeline),
    /// Write scores in canonical columns.
    Fmt(cli::fmt::Args),
    Check(cli::check::Check),
    Timeline(cli::timeline::Timeline),
}

fn main() -> ExitCode {
    match Holdfast::parse().command {
        Command::New(new) => new.run(),
        Command::Log(log) => log.run(),
        Command::Verify(verify) => verify.run(),
        Command::StandIns(args) => cli::stand_ins::run(args),
        Command::Listen(args) => cli::listen::run(args),
        Command::Fmt(args) => cli::fmt::run(args),
        Command::Check(command) => command.run(),
        Command::Timeline(command) => command.run(),
    }
}
