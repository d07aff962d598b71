//! `deadship`: the terminal for instructor, team, facilitator and author.

use std::process::ExitCode;

fn main() -> ExitCode {
    deadship::main_with(std::env::args_os())
}
