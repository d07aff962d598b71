//! The client, for tests.

use std::process::ExitCode;

fn main() -> ExitCode {
    deadship::main_with(std::env::args_os())
}
