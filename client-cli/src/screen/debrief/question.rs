//! What is asked of an event, and how the answer is worked out: apart from the screen, which stays alive meanwhile.

use crate::failure::Failure;
use deadship_run::Envelope;
use deadship_run::timeline;
use deadship_run::why::Told;

/// What is asked of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Ask {
    /// Why it happened.
    Why,
    /// What would have avoided it.
    Avoid,
}

/// An answer: its lines, or why there is none.
pub(crate) type Answer = Result<Vec<Told>, String>;

/// A question about an event of a log.
#[derive(Debug)]
pub(crate) struct Question {
    /// What is asked.
    pub(crate) ask: Ask,
    /// Of which event.
    pub(crate) seq: u64,
    /// In which log.
    pub(crate) log: Vec<Envelope>,
}

impl Ask {
    /// The question in words, before the words of its event.
    pub(super) fn words(self) -> &'static str {
        match self {
            Ask::Why => "WHY",
            Ask::Avoid => "WHAT WOULD HAVE AVOIDED",
        }
    }

    /// The key that asks it.
    pub(super) fn key(self) -> char {
        match self {
            Ask::Why => 'w',
            Ask::Avoid => 'v',
        }
    }
}

impl Question {
    /// Works it out: the run is computed many times, which takes up to a minute.
    pub(crate) fn work_out(self) -> Answer {
        let in_a_line = |failure: Failure| failure.to_string().lines().collect::<Vec<_>>().join("; ");
        match self.ask {
            Ask::Why => crate::why::answer(self.log, self.seq).map(|why| why.lines()).map_err(in_a_line),
            Ask::Avoid => {
                let (came, search) = crate::whatif::look_for(self.log, self.seq).map_err(in_a_line)?;
                let text = format!(
                    "{} #{} {}",
                    timeline::clock(came.tick).trim(),
                    came.seq,
                    timeline::what(&came.event)
                );
                let mut lines = vec![Told::at(0, came.tick, Some(came.seq), text)];
                lines.extend(crate::whatif::found_lines(&search));
                Ok(lines)
            }
        }
    }
}
