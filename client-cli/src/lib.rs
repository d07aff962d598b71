//! The terminal for instructor, team, facilitator and author.
//!
//! [`main_with`] is the whole program; [`run_with`] is the same with streams of the caller's, for tests. Without a
//! server it rehearses drills, runs ships and rigs, checks files and replays archives; with one it is the line mode of
//! everybody in a class. Results go to the output, talk goes to the error stream.
#![forbid(unsafe_code)]
// A terminal lives with clocks: it waits, tries again, and keeps a link awake.
#![allow(clippy::disallowed_types, clippy::disallowed_methods)]

pub mod actions;
mod check;
pub mod cli;
pub mod clock;
mod debrief;
pub mod dials;
mod export;
pub mod failure;
mod fmt;
pub mod io;
mod kinds;
pub mod library;
mod lint;
mod list;
mod log;
mod manual;
mod marks;
mod measures;
mod new;
pub mod online;
mod plan;
mod prove;
pub mod readings;
mod record;
mod rehearse;
mod report;
mod schema;
mod screen;
mod seal;
mod timeline;
mod trial;
mod whatif;
mod why;

use clap::Parser;
use cli::{Cli, Command};
use failure::{BAD, Failure, WELL};
use io::Io;
use library::Library;
use std::ffi::OsString;
use std::process::ExitCode;

/// Runs the program with these arguments (the first is the program's name) on the streams of the process.
pub fn main_with<A: Into<OsString> + Clone>(args: impl IntoIterator<Item = A>) -> ExitCode {
    ExitCode::from(run_with(args, &mut Io::standard()))
}

/// Runs the program with these arguments on these streams; the exit status.
pub fn run_with<A: Into<OsString> + Clone>(args: impl IntoIterator<Item = A>, io: &mut Io) -> u8 {
    let cli = match Cli::try_parse_from(args) {
        Ok(cli) => cli,
        Err(error) if error.use_stderr() => {
            io.tell(error.render().to_string().trim_end());
            return BAD;
        }
        Err(help) => {
            let told = io.line_now(help.render().to_string().trim_end());
            return told.map_or_else(|failure| failure.status(), |()| WELL);
        }
    };
    let json = cli.command.as_ref().is_some_and(says_json);
    let done = run(cli, io).and_then(|status| io.flush().map(|()| status));
    done.unwrap_or_else(|failure| {
        // What was printed before the failure belongs to it.
        let _ = io.flush();
        match &failure {
            // For an editor or a script, in the form in which `check` and `lint` tell the same.
            Failure::Files(problems) if json => {
                for problem in problems {
                    // Plain data with text keys always serialises.
                    _ = io.line_now(&serde_json::to_string(problem).unwrap_or_default());
                }
            }
            // Every line of it names a file already.
            Failure::Files(_) => io.tell(&failure.to_string()),
            _ if failure.status() == WELL => {}
            _ => io.tell(&format!("deadship: {failure}")),
        }
        failure.status()
    })
}

/// Is JSON wanted of a command that an author gives?
fn says_json(command: &Command) -> bool {
    match command {
        Command::Diff(args) => args.json,
        Command::Prove(args) => args.json,
        Command::Inspect(args) => args.form == cli::PlanForm::Json,
        _ => false,
    }
}

fn run(cli: Cli, io: &mut Io) -> Result<u8, Failure> {
    let (data, authority) = (cli.data.as_deref(), cli.authority.as_deref());
    let Some(command) = &cli.command else { return manual::first_words(io) };
    match command {
        Command::Join(args) => online::join(io, args, authority, cli.plain),
        Command::Teach(args) => online::teach(io, args, authority, cli.plain),
        Command::Inspect(args) => plan::inspect(io, &mut Library::new(data)?, args),
        Command::Handout(args) => plan::handout(io, &mut Library::new(data)?, args),
        Command::Diff(args) => plan::diff(io, &mut Library::new(data)?, args),
        Command::Schema(args) => schema::schema(io, &mut Library::new(data)?, args),
        Command::Prove(args) => prove::prove(io, &mut Library::new(data)?, args),
        Command::Rehearse(args) => rehearse::rehearse(io, &mut Library::new(data)?, args),
        Command::Trial(args) => trial::trial(io, &Library::new(data)?, args),
        Command::Check(args) => check::check(io, &mut Library::new(data)?, args),
        Command::Fmt(args) => fmt::fmt(io, &Library::new(data)?, args),
        Command::New(args) => new::new(io, &mut Library::new(data)?, args, data),
        Command::Lint(args) => lint::lint(io, &mut Library::new(data)?, args),
        Command::Timeline(args) => timeline::timeline(io, args, authority),
        Command::Replay(args) => timeline::replay(io, args, authority),
        Command::Debrief(args) => debrief::debrief(io, args, authority, cli.plain),
        Command::Whatif(args) => whatif::whatif(io, args, authority),
        Command::Why(args) => why::why(io, args, authority),
        Command::Report(args) => report::report(io, args, authority),
        Command::Record(args) => record::record(io, args),
        Command::Marks(args) => marks::marks(io, args, authority),
        Command::Measures(args) => measures::measures(io, args, authority),
        Command::Export(args) => export::export(io, args, authority),
        Command::Seal(args) => seal::seal(io, args, authority),
        Command::List(args) => list::list(io, &Library::new(data)?, args),
        Command::Faults(args) => list::faults(io, &Library::new(data)?, args),
        Command::Kinds(args) => kinds::kinds(io, args),
        Command::Completions(args) => manual::completions(io, args.shell),
        Command::Manual(args) => manual::manual(io, args.pages.as_deref()),
    }
}
