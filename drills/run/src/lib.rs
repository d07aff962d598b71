//! deadship's runs: what people and the drill do to a plant, as events in an append-only log.
//!
//! The way in: [`library::Library::opening`] (or texts from elsewhere) gives an [`opening::Opening`];
//! [`Recorder::open`] opens a run; [`words::parse`] turns what someone typed into a [`Command`] or a
//! [`words::Question`]; [`Recorder::command`] and [`Recorder::tick`] give [`Envelope`]s to be stored;
//! [`replay`] rebuilds a run from them. The same log gives the same state, to the bit.
//!
//! No clock, no files, no sockets, no randomness: what an instant is called on the clock is passed in as text.

pub mod alerts;
pub mod annunciation;
pub mod answer;
pub mod asking;
pub mod by_objective;
pub mod checkpoint;
pub mod command;
pub mod condition;
pub mod crew;
pub mod debrief;
pub mod decide;
pub mod dials;
pub mod drill;
pub mod drill_file;
pub mod envelope;
pub mod event;
pub mod evolve;
pub mod fork;
pub mod ids;
pub mod library;
pub mod measures;
pub mod names;
pub mod objective;
pub mod opening;
pub mod orders;
pub mod procedure;
pub mod proof;
pub mod recorder;
pub mod reference;
pub mod removal;
pub mod replay;
pub mod run;
pub mod seal;
pub mod setup;
pub mod stats;
pub mod step;
pub mod timeline;
pub mod view;
pub mod watch;
pub mod ways;
pub mod whatif;
pub mod who;
pub mod why;
pub mod words;

pub use command::Command;
pub use decide::{Refusal, decide};
pub use envelope::Envelope;
pub use event::{Event, Reason};
pub use evolve::evolve;
pub use opening::Opening;
pub use recorder::{Outcome, Recorder};
pub use run::Run;
pub use who::{Role, Who};

#[cfg(test)]
mod tests;
