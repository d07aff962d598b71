//! Is a drill what it says? A crew that does nothing must fail, the expert crew must pass, and every crew that shows an
//! error must fail for the reason it says; whatever the seed, and at the pace of people.

mod verdict;

pub use verdict::{FLOOD_ABOVE, Spread, Verdict};

use crate::crew::{Crew, Manner};
use crate::debrief::{AskCourse, Debrief, Mark, Outcome};
use crate::drill::{About, Expect};
use crate::drill_file::{drawn, seed_of_variant};
use crate::envelope::Envelope;
use crate::ids::run_id;
use crate::opening::{OpenError, Opening};
use crate::procedure::Error;
use crate::recorder::Recorder;
use crate::run::Run;
use crate::setup::{Setup, ticks};
use crate::who::{Role, Who};
use serde::Serialize;

/// Longest that a trial goes on where the drill has no limit, s.
const LONGEST_S: f64 = 7_200.0;

/// Who works a trial.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hands {
    /// Nobody.
    Idle,
    /// The procedure that bears the drill's name.
    Expert,
    /// A procedure that shows an error.
    Error {
        /// Procedure.
        procedure: String,
        /// What it does wrong, in words.
        text: String,
        /// Names of what must be missed because of it.
        misses: Vec<String>,
    },
}

impl Hands {
    /// For people.
    pub fn words(&self) -> &str {
        match self {
            Hands::Idle => "idle",
            Hands::Expert => "expert",
            Hands::Error { procedure, .. } => procedure,
        }
    }
}

/// One run to be made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Trial {
    /// Who works it.
    pub hands: Hands,
    /// Seed of the run and of the crew's pace.
    pub seed: u64,
    /// Variant that the seed draws, where the drill has some.
    pub variant: Option<String>,
}

impl Trial {
    /// For people: `expert with seed 3 (cold-side-shut)`.
    pub fn words(&self) -> String {
        let variant = self.variant.as_ref().map_or_else(String::new, |variant| format!(" ({variant})"));
        format!("{} with seed {}{variant}", self.hands.words(), self.seed)
    }
}

/// What became of a trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Made {
    /// What was tried.
    pub trial: Trial,
    /// Tick at which the aim was reached.
    pub aim_tick: Option<u64>,
    /// Tick at which it ended.
    pub ticks: u64,
    /// Names of what was expected and not met in time.
    pub missed: Vec<String>,
    /// Names of what was expected and neither met nor missed.
    pub open: Vec<String>,
    /// Trips and shutdowns.
    pub trips: u64,
    /// Most alerts in ten minutes, those from the start left out.
    pub most_alerts: u64,
    /// Acts done.
    pub acts: u64,
    /// The greatest share of its time that anything expected took.
    pub tightest_share: f64,
    /// Steps that the crew gave up, and why.
    pub given_up: Vec<String>,
    /// Questions of the drill that were not asked.
    pub not_asked: Vec<String>,
    /// Questions of probes to which nothing that can be answered was right.
    pub no_answer: Vec<String>,
    /// Why the plant could not be stepped on.
    pub failed: Option<String>,
}

/// A drill on its way to be proved.
pub struct Bench {
    opening: Opening,
    /// Its title.
    pub title: String,
    /// Its ship.
    pub ship: String,
    /// What its author says of it.
    pub about: About,
    /// Faults that the drill brings.
    pub faults: u64,
    /// Does anything in it depend on the dials?
    pub has_dials: bool,
    /// Has it an aim?
    pub has_aim: bool,
    /// Has it a procedure that bears its name?
    pub has_expert: bool,
    errors: Vec<(String, Error)>,
    variants: Vec<String>,
}

impl Bench {
    /// Reads a drill.
    ///
    /// # Errors
    /// Everything that is wrong with its files.
    pub fn new(opening: Opening) -> Result<Bench, OpenError> {
        let (setup, _) = Setup::new(opening.clone())?;
        let errors =
            setup.procedures.iter().filter_map(|p| Some((p.name.clone(), p.error.clone()?))).collect();
        Ok(Bench {
            opening,
            title: setup.drill.title.clone(),
            ship: setup.drill.ship.clone(),
            about: setup.drill.about.clone(),
            faults: setup.drill.faults.len() as u64,
            has_dials: !setup.drill.dialled.is_empty(),
            has_aim: setup.drill.aim.is_some(),
            errors,
            variants: setup.drill.variants.iter().map(|variant| variant.name.clone()).collect(),
            has_expert: setup.procedures.iter().any(|procedure| procedure.name == setup.drill.name),
        })
    }

    /// The trials: one with nobody, and with each seed one by the expert and one by each crew that shows an error. Every
    /// variant is tried with everybody, by more seeds where so many do not draw it.
    pub fn trials(&self, seeds: u64) -> Vec<Trial> {
        let trial = |hands: Hands, seed: u64| {
            let variant = drawn(seed, self.variants.len()).map(|at| self.variants[at].clone());
            Trial { hands, seed, variant }
        };
        let of_variants: Vec<u64> =
            (0..self.variants.len()).filter_map(|at| seed_of_variant(at, self.variants.len())).collect();
        // Nobody draws nothing else by lot; it takes longest, so it comes first.
        let of_idle = if of_variants.is_empty() { &[self.opening.seed][..] } else { &of_variants };
        let mut trials: Vec<Trial> = of_idle.iter().map(|seed| trial(Hands::Idle, *seed)).collect();
        let more = of_variants.iter().copied().filter(|seed| *seed > seeds);
        for seed in (1..=seeds).chain(more) {
            if self.has_expert {
                trials.push(trial(Hands::Expert, seed));
            }
            let errors = self.errors.iter().map(|(procedure, error)| Hands::Error {
                procedure: procedure.clone(),
                text: error.text.clone(),
                misses: error.misses.clone(),
            });
            trials.extend(errors.map(|hands| trial(hands, seed)));
        }
        trials
    }

    /// Makes a trial.
    ///
    /// # Errors
    /// The drill cannot be opened.
    pub fn make(&self, trial: &Trial) -> Result<Made, OpenError> {
        let opening = Opening { seed: trial.seed, ..self.opening.clone() };
        let id = run_id(&opening.drill, trial.seed);
        let who = Who::person("proof", Role::Instructor);
        let (mut recorder, mut log) = Recorder::open(id, opening, &who, "")?;
        let setup = &recorder.run().setup;
        let named = match &trial.hands {
            Hands::Idle => None,
            Hands::Expert => Some(setup.drill.name.clone()),
            Hands::Error { procedure, .. } => Some(procedure.clone()),
        };
        let crew = named.map_or_else(|| Ok(Crew::idle()), |name| Crew::new(setup, Some(&name)));
        // The names are those of procedures that were read.
        let mut crew = crew.unwrap_or_else(|_| Crew::idle()).with_manner(Manner::new(trial.seed, 1.0));
        let last = ticks(setup.drill.limit_s.unwrap_or(LONGEST_S));
        log.extend(crew.work(&mut recorder, last, "", &mut |_| {}));
        let given_up = crew.given_up().iter().map(|step| format!("{}: {}", step.step, step.why)).collect();
        Ok(self.made(trial, &log, given_up, recorder.run()))
    }

    fn made(&self, trial: &Trial, log: &[Envelope], given_up: Vec<String>, run: &Run) -> Made {
        let report = Debrief::of(log);
        let asks = run.setup.drill.askings.iter().flat_map(|asking| &asking.asks);
        let is_asked = |name: &str| report.asked.iter().any(|course| course.name == name);
        let none_right = |course: &&AskCourse| course.right.as_ref().is_some_and(Vec::is_empty);
        let names = |wanted: Outcome| -> Vec<String> {
            report.marks.iter().filter(|mark| mark.outcome == wanted).map(|mark| mark.name.clone()).collect()
        };
        Made {
            trial: trial.clone(),
            aim_tick: report.aim.as_ref().filter(|aim| aim.outcome == Outcome::Met).and_then(|aim| aim.tick),
            ticks: report.ticks,
            missed: names(Outcome::Missed),
            open: names(Outcome::Open),
            trips: report.trips.len() as u64,
            most_alerts: report.alerts.most_in_ten_minutes,
            acts: report.acts.values().sum(),
            tightest_share: tightest(&run.setup.drill.expects, &report.marks),
            given_up,
            not_asked: asks.map(|ask| ask.name.clone()).filter(|name| !is_asked(name)).collect(),
            no_answer: report.asked.iter().filter(none_right).map(|course| course.name.clone()).collect(),
            failed: run.state.failed.clone().or_else(|| report.failures.first().cloned()),
        }
    }
}

/// The greatest share of its time that anything took that was met in a time of its own.
fn tightest(expects: &[Expect], marks: &[Mark]) -> f64 {
    let share = |mark: &Mark| {
        let within_s = expects.iter().find(|expect| expect.name == mark.name)?.within_s?;
        let took = mark.tick?.saturating_sub(mark.from_tick?);
        (mark.outcome == Outcome::Met).then(|| took as f64 / ticks(within_s).max(1) as f64)
    };
    marks.iter().filter_map(share).fold(0.0, f64::max)
}
