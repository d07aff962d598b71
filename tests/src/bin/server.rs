//! The server, for tests.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    deadship_server::run(deadship_server::Args::parse())
}
