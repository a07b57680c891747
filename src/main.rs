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

/// What can be asked for, in the order in which a company comes to need it.
#[derive(Subcommand)]
enum Command {
    Demo(cli::demo::Demo),
    New(cli::new::New),
    Reference(cli::reference::Reference),
    Check(cli::check::Check),
    Fmt(cli::fmt::Fmt),
    Timeline(cli::timeline::Timeline),
    Practice(cli::practice::Practice),
    Sheet(cli::sheet::Sheet),
    Plan(cli::plan::Plan),
    Export(cli::export::Export),
    Import(cli::import::Import),
    Latency(cli::latency::Latency),
    Serve(cli::serve::Serve),
    StandIns(cli::stand_ins::StandIns),
    Listen(cli::listen::Listen),
    Log(cli::log::Log),
    Verify(cli::verify::Verify),
    Backup(cli::backup::Backup),
    Salvage(cli::salvage::Salvage),
    Replay(cli::replay::Replay),
    Report(cli::report::Report),
}

fn main() -> ExitCode {
    match Holdfast::parse().command {
        Command::Demo(command) => command.run(),
        Command::New(command) => command.run(),
        Command::Reference(command) => command.run(),
        Command::Check(command) => command.run(),
        Command::Fmt(command) => command.run(),
        Command::Timeline(command) => command.run(),
        Command::Practice(command) => command.run(),
        Command::Export(command) => command.run(),
        Command::Import(command) => command.run(),
        Command::Latency(command) => command.run(),
        Command::Serve(command) => command.run(),
        Command::StandIns(command) => command.run(),
        Command::Listen(command) => command.run(),
        Command::Log(command) => command.run(),
        Command::Verify(command) => command.run(),
        Command::Backup(command) => command.run(),
        Command::Salvage(command) => command.run(),
        Command::Replay(command) => command.run(),
        Command::Report(command) => command.run(),
        Command::Sheet(command) => command.run(),
        Command::Plan(command) => command.run(),
    }
}
