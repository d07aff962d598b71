//! What ends a command early: what happened, where, and what to do.

use crate::clock::TimeProblem;
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::spec::Problem;
use deadship_store::StoreError;
use deadship_store::archive::{ArchiveError, ArchiveFault};
use std::io;
use std::path::{Path, PathBuf};

/// Exit status when all is well.
pub const WELL: u8 = 0;
/// Exit status when the command worked but its answer is no: aim missed, line refused, check failed.
pub const NO: u8 = 1;
/// Exit status when the command could not do what it was asked.
pub const BAD: u8 = 2;

/// Why a command ended early.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// A name that is not known.
    #[error("there is no {what} `{name}`{}", hint(.near.as_deref(), .known))]
    Unknown {
        /// What was asked for: `drill`.
        what: &'static str,
        /// The name.
        name: String,
        /// The nearest known name.
        near: Option<String>,
        /// All known names where they are few, else those that begin like it.
        known: Vec<String>,
    },
    /// A file or folder could not be read or written.
    #[error("{}: {doing} failed: {error}", .path.display())]
    File {
        /// Which.
        path: PathBuf,
        /// `reading`.
        doing: &'static str,
        /// What the system said.
        error: io::Error,
    },
    /// Something is wrong with ship, rig, drill or procedure files; all of it.
    #[error("{}", lines(.0))]
    Files(Vec<Problem>),
    /// An archive that cannot be trusted.
    #[error("{0}{help}", help = archive_help(.0))]
    Archive(#[from] ArchiveError),
    /// Archive or store.
    #[error("{}", store_words(.0))]
    Store(#[from] StoreError),
    /// A time on the command line or in a file.
    #[error("{0}")]
    Time(#[from] TimeProblem),
    /// The plant, or what replays it.
    #[error("{0}")]
    Plant(String),
    /// Anything else that was asked wrongly.
    #[error("{0}")]
    Asked(String),
    /// What talks to a server.
    #[error("{0}")]
    Link(String),
    /// Nobody reads what is printed any more: `deadship … | head`.
    #[error("the output cannot be written: {0}")]
    Output(io::Error),
}

/// The store speaks to those who run a server; here the file is the user's own.
fn store_words(error: &StoreError) -> String {
    match error {
        StoreError::Io { doing, message } => format!("{doing} failed: {message}"),
        StoreError::Full { doing } => format!("{doing} failed: the disk is full"),
        other => other.to_string(),
    }
}

/// Most names that are all told when one is not known.
const FEW: usize = 12;

impl Failure {
    /// A name that is not known, with what is near it.
    pub fn unknown<'k>(what: &'static str, name: &str, known: impl IntoIterator<Item = &'k str>) -> Failure {
        let known: Vec<&str> = known.into_iter().collect();
        let near = nearest(name, known.iter().copied()).or_else(|| holding(name, &known)).map(str::to_owned);
        let known = match known.len() {
            count if count <= FEW => known.into_iter().map(str::to_owned).collect(),
            _ => sharing(name, &known).into_iter().map(str::to_owned).collect(),
        };
        Failure::Unknown { what, name: name.to_owned(), near, known }
    }

    /// A file that could not be read.
    pub fn reading(path: &Path, error: io::Error) -> Failure {
        Failure::File { path: path.to_owned(), doing: "reading", error }
    }

    /// A file that could not be written.
    pub fn writing(path: &Path, error: io::Error) -> Failure {
        Failure::File { path: path.to_owned(), doing: "writing", error }
    }

    /// The exit status that it brings.
    pub fn status(&self) -> u8 {
        match self {
            // Whoever closed the pipe has what they wanted.
            Failure::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => WELL,
            _ => BAD,
        }
    }
}

/// A known name that holds the wanted one, for names that were cut short.
fn holding<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    let wanted = name.to_lowercase();
    let mut found = known.iter().filter(|known| wanted.len() >= 3 && known.to_lowercase().contains(&wanted));
    found.next().copied()
}

fn archive_help(error: &ArchiveError) -> &'static str {
    match error.fault {
        ArchiveFault::Torn { .. } | ArchiveFault::Damaged { .. } => {
            "\nTake another copy of the archive; with `--whole`, what stands before the fault is used."
        }
        _ => "",
    }
}

/// Known names that share the most leading parts with a dotted name that has no other name near it.
fn sharing<'k>(name: &str, known: &[&'k str]) -> Vec<&'k str> {
    const MOST: usize = 6;
    let mut start = name;
    while let Some((shorter, _)) = start.rsplit_once('.') {
        start = shorter;
        let begin = format!("{start}.");
        let found: Vec<&str> =
            known.iter().filter(|known| known.starts_with(&begin)).take(MOST).copied().collect();
        if !found.is_empty() {
            return found;
        }
    }
    Vec::new()
}

fn hint(near: Option<&str>, known: &[String]) -> String {
    match (near, known) {
        (Some(near), _) => format!(": did you mean `{near}`?"),
        (None, []) => String::new(),
        (None, known) => format!("; known: {}", known.join(", ")),
    }
}

fn lines(problems: &[Problem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_told() {
        let known = ["first-light", "blackout"];
        let told = |name| Failure::unknown("drill", name, known).to_string();
        assert_eq!(told("frist-light"), "there is no drill `frist-light`: did you mean `first-light`?");
        assert_eq!(told("first"), "there is no drill `first`: did you mean `first-light`?");
        assert_eq!(told("zz"), "there is no drill `zz`; known: first-light, blackout");
    }
}
