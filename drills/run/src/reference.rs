//! What a run is held against: the same drill worked by its expert crew, and by a crew that does nothing.
//!
//! Both begin with the texts and the seed that the run itself was opened with, whatever library this program has, and go to
//! the end of the drill. What an instructor did to the run (faults set by hand, a class that began in the middle) is not in them.

mod table;
#[cfg(test)]
mod tests;

pub use table::{Line, table};

use crate::crew::Crew;
use crate::debrief::Debrief;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::ids::derived_run;
use crate::measures::{Looking, Measures};
use crate::opening::{OpenError, Opening};
use crate::recorder::Recorder;
use crate::run::Run;
use crate::whatif::Side;
use crate::who::Who;
use deadship_plant::MODEL_VERSION;
use serde::{Deserialize, Serialize};

/// Ticks after which a drill that ends by nothing is left: two hours.
const LONGEST_TICKS: u64 = 144_000;

/// Who works the drill.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hands {
    /// The robot crew with the procedure that is named like the drill.
    Expert,
    /// Nobody.
    Idle,
}

impl Hands {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Hands::Expert => "expert",
            Hands::Idle => "idle crew",
        }
    }
}

/// Why there is nothing to hold a run against.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ReferenceError {
    /// It says nothing of its drill.
    #[error("the log does not begin with the opening of a run")]
    NoOpening,
    /// What is computed now is of another plant.
    #[error(
        "the run was computed by model {recorded}, and this program has model {model}: use a version with model {recorded}"
    )]
    Model {
        /// Version that wrote the log.
        recorded: u32,
        /// This one.
        model: u32,
    },
    /// The drill has no procedure of its own name.
    #[error(
        "the drill names no expert: none of the procedures that the run was opened with is called `{drill}`"
    )]
    NoExpert {
        /// Name of the drill.
        drill: String,
    },
    /// The texts of the opening cannot be read.
    #[error("the drill cannot be run: {0}")]
    Open(#[from] OpenError),
}

/// What a run is held against.
pub struct Reference {
    /// Who worked it.
    pub hands: Hands,
    /// What it came to.
    pub side: Side,
}

/// The drill of a log, worked by these hands to its end. `each` is shown the run at the end of every tick.
///
/// # Errors
/// The log has no such drill, or no expert for it, or is of another model.
pub fn reference(
    log: &[Envelope],
    hands: Hands,
    each: &mut dyn FnMut(&Run),
) -> Result<Reference, ReferenceError> {
    let (first, opening) = opening_of(log)?;
    let mut looking = Looking::default();
    let worked = work(first, opening, hands, &mut |run| {
        looking.look(run);
        each(run);
    })?;
    let measures = Measures::of(&looking.close(&worked));
    Ok(Reference { hands, side: Side { report: Debrief::of(&worked), measures } })
}

/// The same by expert and by nobody, side by side.
pub fn both<T: Send>(of: impl Fn(Hands) -> T + Sync) -> [T; 2] {
    std::thread::scope(|scope| {
        let expert = scope.spawn(|| of(Hands::Expert));
        let idle = of(Hands::Idle);
        match expert.join() {
            Ok(expert) => [expert, idle],
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

fn opening_of(log: &[Envelope]) -> Result<(&Envelope, Opening), ReferenceError> {
    let Some((first, Event::RunOpened(opening))) = log.first().map(|first| (first, &first.event)) else {
        return Err(ReferenceError::NoOpening);
    };
    match opening.model {
        MODEL_VERSION => Ok((first, Opening { parent: None, ..opening.as_ref().clone() })),
        recorded => Err(ReferenceError::Model { recorded, model: MODEL_VERSION }),
    }
}

/// The log of it. `first`: the opening of the run that it is laid beside.
fn work(
    first: &Envelope,
    opening: Opening,
    hands: Hands,
    each: &mut dyn FnMut(&Run),
) -> Result<Vec<Envelope>, ReferenceError> {
    let drill = opening.drill.clone();
    let id = derived_run(first.run, hands.words());
    let (mut recorder, mut worked) = Recorder::open(id, opening, &Who::Drill, &first.at)?;
    let setup = &recorder.run().setup;
    let mut crew = match hands {
        Hands::Expert => Crew::new(setup, Some(&drill)).map_err(|_| ReferenceError::NoExpert { drill })?,
        Hands::Idle => Crew::idle(),
    };
    // A drill with a limit ends by itself.
    let last = if setup.drill.limit_s.is_some() { u64::MAX } else { LONGEST_TICKS };
    worked.extend(crew.work(&mut recorder, last, &first.at, each));
    each(recorder.run());
    Ok(worked)
}
