//! The program: from arguments to exit status.

use crate::args::{Args, Command, default_data};
use crate::describe::Document;
use crate::server::{Config, Server, start};
use crate::settings::Settings;
use crate::{announce, demo, doctor, keeping, log, open_files};
use deadship_protocol::RunState;
use deadship_run::library::Library;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;
use std::{fs, io};
use tracing::level_filters::LevelFilter;

/// Exit status when it cannot start.
const CANNOT_START: u8 = 2;

/// Runs the server, or what else is asked for, until Ctrl-C or SIGTERM.
pub fn run(args: Args) -> ExitCode {
    let settings = match Settings::gather(args) {
        Ok(settings) => settings,
        Err(why) => return refuse(&why),
    };
    match settings.args.command {
        None => run_server(settings.args),
        Some(Command::Config) => {
            say!("{}", settings.table().trim_end());
            ExitCode::SUCCESS
        }
        Some(Command::Describe { document }) => describe(document),
        Some(Command::Keep(command)) => {
            keeping::run(command, &settings.args.data.unwrap_or_else(default_data))
        }
        Some(Command::Doctor { json }) => examine(&settings.args, json),
    }
}

/// Looks whether this machine is fit to serve.
fn examine(args: &Args, json: bool) -> ExitCode {
    let data = args.data.clone().unwrap_or_else(default_data);
    match library(args.drills.as_deref()) {
        Ok(library) => doctor::examine(args.listen, &data, &library, json),
        Err(why) => refuse(&why),
    }
}

fn run_server(args: Args) -> ExitCode {
    // A demonstration tells its story on the same terminal.
    log::begin(args.log, if args.demo { LevelFilter::WARN } else { LevelFilter::INFO });
    open_files::raise();
    let runtime = match tokio::runtime::Builder::new_multi_thread().enable_all().build() {
        Ok(runtime) => runtime,
        Err(error) => return refuse(&format!("the system gives no threads: {error}")),
    };
    runtime.block_on(serve(args))
}

/// Prints a description; whoever stops reading has what they wanted.
fn describe(document: Document) -> ExitCode {
    match io::stdout().write_all(document.text().as_bytes()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            complain!("the description cannot be written: {error}");
            ExitCode::FAILURE
        }
    }
}

fn refuse(why: &str) -> ExitCode {
    complain!("deadship-server cannot start: {why}");
    ExitCode::from(CANNOT_START)
}

async fn serve(args: Args) -> ExitCode {
    let began = Instant::now();
    let signal = match stop_signal() {
        Ok(signal) => signal,
        Err(error) => return refuse(&format!("signals cannot be listened to: {error}")),
    };
    let library = match library(args.drills.as_deref()) {
        Ok(library) => library,
        Err(why) => return refuse(&why),
    };
    // Kept until the end: the folder is deleted with it.
    let (data, _folder) = match data_folder(&args) {
        Ok(data) => data,
        Err(why) => return refuse(&why),
    };
    let Args { listen, new_key, tls, keep_days, team_sees_ratings, .. } = args;
    let config = Config { listen, data: data.clone(), library, new_key, tls, keep_days, team_sees_ratings };
    let server = match start(config).await {
        Ok(server) => server,
        Err(error) => return refuse(&error.to_string()),
    };
    announce::started(&server, &data, &args, began.elapsed());
    let stopped_in_demo = if args.demo {
        tokio::select! {
            shown = demo::show(&server, args.speed) => {
                if let Err(fault) = shown {
                    complain!("the demonstration cannot be shown: {fault}");
                }
                false
            }
            () = wait(&signal) => true,
        }
    } else {
        false
    };
    if !stopped_in_demo {
        wait(&signal).await;
    }
    stop(server).await;
    ExitCode::SUCCESS
}

async fn stop(server: Server) {
    say!("\nStopping: runs are put on hold and kept.");
    let kept = server.stop().await;
    for RunState { team, time, last_seq, ended, failed, .. } in &kept {
        match (failed, ended) {
            (Some(why), _) => say!("  {team}: FAILED ({why}); its log is whole up to event {last_seq}"),
            (None, Some(_)) => say!("  {team}: over at {time}, kept up to event {last_seq}"),
            (None, None) => say!("  {team}: on hold at {time}, kept up to event {last_seq}"),
        }
    }
    let failed = kept.iter().any(|state| state.failed.is_some());
    say!(
        "{}",
        match (kept.is_empty(), failed) {
            (true, _) => "No run was open.",
            (_, true) => "What was acknowledged is kept.",
            _ => "Everything is kept.",
        }
    );
}

/// The data folder; for a demonstration without one, a folder that goes away again.
fn data_folder(args: &Args) -> Result<(PathBuf, Option<tempfile::TempDir>), String> {
    match (&args.data, args.demo) {
        (Some(data), _) => Ok((data.clone(), None)),
        (None, false) => Ok((default_data(), None)),
        (None, true) => {
            let folder = tempfile::Builder::new().prefix("deadship-demo-").tempdir();
            let folder =
                folder.map_err(|e| format!("no folder for the demonstration: {e}; name one with --data"))?;
            Ok((folder.path().to_owned(), Some(folder)))
        }
    }
}

/// What is built in, and the author's own.
fn library(folder: Option<&Path>) -> Result<Library, String> {
    let built_in = Library::built_in();
    let Some(root) = folder else { return Ok(built_in) };
    let mut files = Vec::new();
    for kind in ["ships", "rigs", "library", "procedures"] {
        let folder = root.join(kind);
        if folder.is_dir() {
            gather(&folder, kind, &mut files)
                .map_err(|error| format!("{} cannot be read: {error}; see to --drills", folder.display()))?;
        }
    }
    if files.is_empty() {
        let root = root.display();
        return Err(format!("{root} holds no ships, rigs, library or procedures; see to --drills"));
    }
    Ok(built_in.with(files))
}

fn gather(folder: &Path, name: &str, files: &mut Vec<(String, String)>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = format!("{name}/{}", entry.file_name().to_string_lossy());
        if entry.path().is_dir() {
            gather(&entry.path(), &name, files)?;
        } else if name.ends_with(".toml") {
            let bytes = fs::read(entry.path());
            let bytes = bytes.map_err(|error| io::Error::new(error.kind(), format!("{name}: {error}")))?;
            // What is not UTF-8 is told to whoever opens it.
            files.push((name, String::from_utf8_lossy(&bytes).into_owned()));
        }
    }
    Ok(())
}

type Signal = tokio::sync::watch::Receiver<bool>;

/// Becomes true at Ctrl-C or SIGTERM. Listening begins at once, so that none is missed while starting.
fn stop_signal() -> io::Result<Signal> {
    let (set, signal) = tokio::sync::watch::channel(false);
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal as listen};
        let (mut interrupt, mut terminate) =
            (listen(SignalKind::interrupt())?, listen(SignalKind::terminate())?);
        tokio::spawn(async move {
            tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
            }
            set.send_replace(true);
        });
    }
    #[cfg(not(unix))]
    tokio::spawn(async move {
        if tokio::signal::ctrl_c().await.is_ok() {
            set.send_replace(true);
        }
    });
    Ok(signal)
}

async fn wait(signal: &Signal) {
    let mut signal = signal.clone();
    // An error would mean that nobody listens any more; then there is nothing to wait for either.
    let _ = signal.wait_for(|stop| *stop).await;
}
