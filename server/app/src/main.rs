//! The drill server. Everything is in the library, so that tests can call it.

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    deadship_server::run(deadship_server::Args::parse())
}
