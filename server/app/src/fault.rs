//! What is told to someone whose request cannot be done: code, text, remedy.

use deadship_protocol::{ErrorCode, LONGEST_LINE, ServerMessage};
use deadship_store::StoreError;
use uuid::Uuid;

/// A request that cannot be done.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{text}; {remedy}")]
pub struct Fault {
    /// Stable word.
    pub code: ErrorCode,
    /// What is wrong.
    pub text: String,
    /// What to do.
    pub remedy: String,
}

impl Fault {
    /// Code, text, remedy.
    pub fn new(code: ErrorCode, text: impl Into<String>, remedy: impl Into<String>) -> Fault {
        Fault { code, text: text.into(), remedy: remedy.into() }
    }

    /// As a message that answers the message with this id.
    pub fn message(&self, id: Option<Uuid>) -> ServerMessage {
        ServerMessage::Error { id, code: self.code, text: self.text.clone(), remedy: self.remedy.clone() }
    }

    /// There is no such run.
    pub fn unknown_run(run: Uuid) -> Fault {
        Fault::new(
            ErrorCode::UnknownRun,
            format!("there is no run {run}"),
            "list the runs to see which there are",
        )
    }

    /// The task of a run is gone.
    pub fn run_failed(why: &str) -> Fault {
        Fault::new(
            ErrorCode::RunFailed,
            format!("this run cannot go on: {why}"),
            "its log is whole; start the server again to bring it back on hold",
        )
    }

    /// For roles that may not do this.
    pub fn not_your_role(what: &str) -> Fault {
        Fault::new(ErrorCode::NotYourRole, format!("only {what} can do this"), "ask the instructor")
    }

    /// A line that is too long or empty; `None`: it is neither.
    pub fn of_line_length(line: &str) -> Option<Fault> {
        let fits = !line.trim().is_empty() && line.chars().count() <= LONGEST_LINE;
        let text = format!("a line has 1 to {LONGEST_LINE} characters");
        (!fits).then(|| Fault::new(ErrorCode::LineLength, text, "say it shorter"))
    }

    /// Another instructor holds the class.
    pub fn not_your_class(holder: &str) -> Fault {
        let text = format!("{holder} holds this class");
        Fault::new(ErrorCode::NotYourClass, text, "ask for it to be handed over")
    }

    /// The server stops.
    pub fn stopping() -> Fault {
        Fault::new(ErrorCode::Stopping, "the server is stopping", "come back when it runs again")
    }
}

impl From<StoreError> for Fault {
    fn from(error: StoreError) -> Fault {
        let waits = "the server tries again by itself every few seconds, and what was on hold meanwhile can be resumed";
        let remedy = match &error {
            StoreError::Full { .. } => {
                format!("free some space on the disk of the server's data folder; {waits}")
            }
            StoreError::Io { .. } | StoreError::Poisoned { .. } => {
                format!(
                    "see to the disk of the server's data folder, whether it is full or read-only; {waits}"
                )
            }
            _ => "see to the server's data folder".to_owned(),
        };
        let what = match &error {
            StoreError::Full { doing } => format!("{doing} failed: the disk is full"),
            other => other.to_string(),
        };
        Fault::new(ErrorCode::StoreFailed, format!("the records cannot be kept or read: {what}"), remedy)
    }
}
