//! What trials prove, and what they do not.

use super::{Bench, Hands, Made};
use crate::dials::Dials;
use crate::timeline::clock;
use deadship_plant::TICK_S;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Above so many acts of the expert a drill is one step harder.
const MANY_ACTS: u64 = 40;
/// More alerts in ten minutes are a flood (IEC 62682): one step harder.
pub const FLOOD_ABOVE: u64 = 10;
/// An expert who needs more of the time that there is leaves others little: one step harder.
const TIGHT: f64 = 2.0 / 3.0;

/// The trials with the same hands, together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread {
    /// Whose.
    pub hands: Hands,
    /// How many.
    pub trials: u64,
    /// How many reached the aim with everything that is expected.
    pub passed: u64,
    /// Shortest, median and longest time to the aim, ticks; `None`: nobody reached it.
    pub aim_ticks: Option<[u64; 3]>,
    /// What was not met, and how often.
    pub not_met: BTreeMap<String, u64>,
    /// Most trips of a trial.
    pub trips: u64,
    /// Most alerts in ten minutes of a trial.
    pub most_alerts: u64,
}

/// What is proved of a drill.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// Name of the drill.
    pub drill: String,
    /// With these positions of the dials…
    pub dials: Dials,
    /// …and whether anything in the drill depends on them.
    pub has_dials: bool,
    /// By hands: nobody, the expert, errors.
    pub spreads: Vec<Spread>,
    /// How hard it is as measured; `None`: the expert never passed.
    pub difficulty: Option<u32>,
    /// What is not as it should be. Empty: proved.
    pub problems: Vec<String>,
    /// Time that was simulated, ticks.
    pub ticks: u64,
}

impl Verdict {
    /// From the trials of a drill.
    pub fn of(bench: &Bench, made: &[Made]) -> Verdict {
        let mut spreads: Vec<Spread> = Vec::new();
        for one in made {
            if !spreads.iter().any(|spread| spread.hands == one.trial.hands) {
                spreads.push(spread(&one.trial.hands, made));
            }
        }
        spreads.sort_by_key(|spread| match &spread.hands {
            Hands::Idle => (0, String::new()),
            Hands::Expert => (1, String::new()),
            Hands::Error { procedure, .. } => (2, procedure.clone()),
        });
        let experts: Vec<&Made> = made.iter().filter(|one| one.trial.hands == Hands::Expert).collect();
        let difficulty = experts.iter().any(|one| passed(one)).then(|| difficulty(bench, &experts));
        let mut verdict = Verdict {
            drill: bench.opening.drill.clone(),
            dials: bench.opening.dials,
            has_dials: bench.has_dials,
            spreads,
            difficulty,
            problems: Vec::new(),
            ticks: made.iter().map(|one| one.ticks).sum(),
        };
        verdict.problems = verdict.find(bench, made);
        verdict
    }

    /// Everything that is not as it should be.
    fn find(&self, bench: &Bench, made: &[Made]) -> Vec<String> {
        let mut problems = Vec::new();
        if !bench.has_aim {
            problems.push("it has no [aim]: nobody can pass or fail".to_owned());
        }
        if !bench.has_expert {
            problems.push("it has no procedure of its own name for an expert crew".to_owned());
        }
        for one in made {
            let name = one.trial.words();
            if let Some(failed) = &one.failed {
                problems.push(format!("{name}: it could not be computed to its end: {failed}"));
            }
            match &one.trial.hands {
                Hands::Idle if one.aim_tick.is_some() => {
                    let of = one.trial.variant.as_ref();
                    let of = of.map_or_else(String::new, |variant| format!(" ({variant})"));
                    problems.push(format!("a crew that does nothing reaches the aim{of}"));
                }
                Hands::Expert if !passed(one) => problems.push(format!("{name}: {}", not_passed(one))),
                Hands::Error { misses, .. } => {
                    let met: Vec<&str> =
                        misses.iter().map(String::as_str).filter(|m| is_met(one, m)).collect();
                    if passed(one) {
                        problems.push(format!("{name}: it passes, though it shows an error"));
                    } else if !met.is_empty() {
                        problems
                            .push(format!("{name}: not for the reason it says: it meets {}", met.join(", ")));
                    }
                }
                Hands::Idle | Hands::Expert => {}
            }
        }
        problems.extend(asking(made));
        // What the author says of it is said of the drill as it is written.
        if !self.dials.are_usual() {
            return problems;
        }
        problems.extend(self.length(bench));
        if let (Some(stated), Some(measured)) = (bench.about.difficulty, self.difficulty)
            && stated != measured
        {
            problems.push(format!("its difficulty is said to be {stated}; measured it is {measured}"));
        }
        problems
    }

    /// Is the length within what the expert takes, in whole minutes?
    fn length(&self, bench: &Bench) -> Option<String> {
        let length_s = bench.about.length_s?;
        let [shortest, _, longest] = self.of_expert()?.aim_ticks?;
        let minutes = |ticks: u64| ticks as f64 * TICK_S / 60.0;
        let stated = length_s / 60.0;
        let is_within = minutes(shortest).floor() <= stated && stated <= minutes(longest).ceil();
        (!is_within).then(|| {
            format!(
                "its length is said to be {stated} min; the expert takes {} to {}",
                clock(shortest).trim(),
                clock(longest).trim()
            )
        })
    }

    /// The expert's trials.
    pub fn of_expert(&self) -> Option<&Spread> {
        self.spreads.iter().find(|spread| spread.hands == Hands::Expert)
    }
}

/// Questions that are never asked while the expert works, or that have no right answer then.
fn asking(made: &[Made]) -> Vec<String> {
    let experts: Vec<&Made> = made.iter().filter(|one| one.trial.hands == Hands::Expert).collect();
    let mut problems = Vec::new();
    let never: BTreeSet<&String> = experts.iter().flat_map(|one| &one.not_asked).collect();
    for name in never.into_iter().filter(|name| experts.iter().all(|one| one.not_asked.contains(name))) {
        problems.push(format!("{name} is never asked while the expert works"));
    }
    for one in experts {
        let trial = one.trial.words();
        let none = one.no_answer.iter();
        problems.extend(none.map(|name| format!("{trial}: no answer to {name} is right")));
    }
    problems
}

fn spread(hands: &Hands, made: &[Made]) -> Spread {
    let of_them: Vec<&Made> = made.iter().filter(|one| one.trial.hands == *hands).collect();
    let mut aims: Vec<u64> = of_them.iter().filter_map(|one| one.aim_tick).collect();
    aims.sort_unstable();
    let mut not_met: BTreeMap<String, u64> = BTreeMap::new();
    for name in of_them.iter().flat_map(|one| one.missed.iter().chain(&one.open)) {
        *not_met.entry(name.clone()).or_default() += 1;
    }
    Spread {
        hands: hands.clone(),
        trials: of_them.len() as u64,
        passed: of_them.iter().filter(|one| passed(one)).count() as u64,
        aim_ticks: aims.first().zip(aims.last()).map(|(first, last)| [*first, aims[aims.len() / 2], *last]),
        not_met,
        trips: of_them.iter().map(|one| one.trips).max().unwrap_or(0),
        most_alerts: of_them.iter().map(|one| one.most_alerts).max().unwrap_or(0),
    }
}

/// Has it reached the aim and everything that is expected?
fn passed(one: &Made) -> bool {
    one.aim_tick.is_some() && one.missed.is_empty() && one.open.is_empty() && one.failed.is_none()
}

fn is_met(one: &Made, name: &str) -> bool {
    if name == crate::drill::AIM {
        return one.aim_tick.is_some();
    }
    !one.missed.iter().chain(&one.open).any(|not| not == name)
}

fn not_passed(one: &Made) -> String {
    let mut why = Vec::new();
    if one.aim_tick.is_none() {
        why.push("it does not reach the aim".to_owned());
    }
    for (names, what) in [(&one.missed, "misses"), (&one.open, "leaves open")] {
        if !names.is_empty() {
            why.push(format!("it {what} {}", names.join(", ")));
        }
    }
    if let Some(first) = one.given_up.first() {
        why.push(format!("the first step that it gave up is {first}"));
    }
    why.join("; ")
}

/// From 1 to 5: one more for two or more faults, for many acts, for a flood of alerts, for little time.
fn difficulty(bench: &Bench, experts: &[&Made]) -> u32 {
    let median = |mut values: Vec<f64>| {
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().unwrap_or(0.0)
    };
    let acts = median(experts.iter().map(|one| one.acts as f64).collect());
    let alerts = median(experts.iter().map(|one| one.most_alerts as f64).collect());
    let tightest = median(experts.iter().map(|one| one.tightest_share).collect());
    let harder = [bench.faults >= 2, acts > MANY_ACTS as f64, alerts > FLOOD_ABOVE as f64, tightest > TIGHT];
    1 + harder.into_iter().map(u32::from).sum::<u32>()
}
