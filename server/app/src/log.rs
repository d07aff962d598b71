//! The log: what happens while serving, for those who look after the server. What is printed for people at the start
//! is `say`'s.
//!
//! Lines have fields (`run`, `class`, `client`, …) and never hold a secret: no key, join code or token, no line that
//! somebody typed, no frame that could not be read.

use clap::ValueEnum;
use std::io;
use tracing::level_filters::LevelFilter;
use tracing_subscriber::Layer as _;
use tracing_subscriber::filter::Targets;
use tracing_subscriber::fmt::MakeWriter;
use tracing_subscriber::layer::SubscriberExt as _;

/// How the log is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum LogForm {
    /// A line for people.
    #[default]
    Text,
    /// An object of JSON a line, for programs.
    Json,
}

/// A log in this form: this server's lines from this level on, and of what it is built on the warnings.
pub fn log_to<W>(form: LogForm, least: LevelFilter, writer: W) -> impl tracing::Subscriber + Send + Sync
where
    W: for<'w> MakeWriter<'w> + Send + Sync + 'static,
{
    let filter = Targets::new().with_default(LevelFilter::WARN).with_target("deadship_server", least);
    // A log that cannot be written is no reason to stop serving: it is not complained about either.
    let lines =
        tracing_subscriber::fmt::layer().with_ansi(false).log_internal_errors(false).with_writer(writer);
    let lines = match form {
        LogForm::Text => lines.with_target(false).boxed(),
        LogForm::Json => lines.json().flatten_event(true).boxed(),
    };
    tracing_subscriber::registry().with(lines.with_filter(filter))
}

/// Begins to log on standard error. A program that holds a server may have a log already; then that one stays.
pub(crate) fn begin(form: LogForm, least: LevelFilter) {
    let _ = tracing::subscriber::set_global_default(log_to(form, least, io::stderr));
}
