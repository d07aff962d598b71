//! The recovery: from the loss of the main switchboard to a set in automatic standby.

use super::courses::{Role, any, gaps};
use super::input::MeasureInput;
use super::parts::volts;
use super::types::{Measure, Reached};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::{clock, length};
use deadship_plant::TICK_S;
use std::collections::BTreeSet;

/// Ticks around an instant in which an event can be what brought it.
const NEAR_TICKS: u64 = 40;

/// Name, title and definition of what is measured.
struct Defined {
    name: &'static str,
    title: &'static str,
    definition: &'static str,
}

const BLACKOUT: Defined = Defined {
    name: "blackout-time",
    title: "Time without main power",
    definition: "All time in which no main switchboard has voltage; dips under 1 s do not count.",
};
const EMERGENCY: Defined = Defined {
    name: "emergency-power",
    title: "Emergency power",
    definition: "From the loss of the main switchboard to voltage on the emergency switchboard.",
};
const AIR: Defined = Defined {
    name: "first-air",
    title: "Starting air for a first start",
    definition: "From the loss to the first receiver with the pressure that a start asks for.",
};
const START: Defined = Defined {
    name: "first-start",
    title: "First set runs",
    definition: "From the loss to the first set, other than the emergency set, that fires and comes to speed.",
};
const GENERATOR: Defined = Defined {
    name: "first-generator",
    title: "First generator on the main switchboard",
    definition: "From the loss to the first generator breaker that closes on a main switchboard.",
};
const TRANSFER: Defined = Defined {
    name: "emergency-to-main",
    title: "Emergency switchboard on the main supply",
    definition: "From the loss to the transfer of the emergency switchboard to the main switchboard.",
};
const SEA: Defined = Defined {
    name: "sea-water-back",
    title: "Sea water back",
    definition: "From the last loss of sea water, at the start or later, to a quarter of rated flow through a cooler.",
};
const MAIN_VOLTAGE: Defined = Defined {
    name: "main-voltage",
    title: "Consumers at main voltage",
    definition: "From the loss to voltage on the first board behind a feeder of the main switchboard.",
};
const LOW_VOLTAGE: Defined = Defined {
    name: "low-voltage",
    title: "Consumers at low voltage",
    definition: "From the loss to voltage behind a transformer.",
};
const VENTILATION: Defined = Defined {
    name: "ventilation",
    title: "Ventilation",
    definition: "From the loss to half of its rated flow from a fan of the engines' rooms.",
};
const STANDBY: Defined = Defined {
    name: "automatic-standby",
    title: "A set in automatic standby",
    definition: "From the loss to a set in automatic standby service with nothing in the way.",
};

impl Defined {
    fn measure(&self) -> Measure {
        Measure {
            name: self.name.to_owned(),
            title: self.title.to_owned(),
            definition: self.definition.to_owned(),
            unit: "s".to_owned(),
            ..Measure::default()
        }
    }

    fn without(&self, reached: Reached, text: &str) -> Measure {
        Measure { reached, text: text.to_owned(), ..self.measure() }
    }
}

/// Ticks as seconds.
pub(super) fn seconds(ticks: u64) -> f64 {
    // Ticks are twentieths: rounding keeps 2.85 from being 2.8500000000000005.
    (ticks as f64 * TICK_S * 100.0).round() / 100.0
}

/// An instant for people.
pub(super) fn at(tick: u64) -> String {
    clock(tick).trim().to_owned()
}

/// What is known when the recovery is measured.
struct Recovery<'a> {
    input: &'a MeasureInput<'a>,
    /// Times without main power; `None` without a replay.
    dead: Option<Vec<(u64, u64)>>,
    /// Tick of the first loss; the start, where it is not known.
    lost: u64,
    /// Tick at which main power came back after it, or the end.
    back: u64,
}

/// The measures of the recovery.
pub(super) fn measure(input: &MeasureInput<'_>) -> Vec<Measure> {
    let end = input.end();
    let has_board = input.parts().is_none_or(|parts| !parts.main_boards.is_empty());
    let dead = input.courses().filter(|_| has_board).map(|courses| gaps(&any(courses, Role::MainBoard), end));
    let (lost, back) = dead.as_ref().and_then(|dead| dead.first().copied()).unwrap_or((0, end));
    let recovery = Recovery { input, dead, lost, back };
    vec![
        recovery.blackout(),
        recovery.emergency(),
        recovery.came_back(&AIR, Role::StartAir, None),
        recovery.found(
            &START,
            &["started", "at-speed"],
            |parts| &parts.controls,
            "no set was brought to speed",
        ),
        recovery.found(
            &GENERATOR,
            &["closed"],
            |parts| &parts.generator_breakers,
            "no generator was connected",
        ),
        recovery.found(
            &TRANSFER,
            &["transferred-to-normal"],
            |parts| &parts.transfers,
            "it was not transferred",
        ),
        recovery.sea_water(),
        recovery.came_back(&MAIN_VOLTAGE, Role::Feeder, Some(|parts| &parts.feeders)),
        recovery.came_back(&LOW_VOLTAGE, Role::LowBoard, Some(|parts| &parts.low_boards)),
        recovery.came_back(&VENTILATION, Role::Fan, None),
        recovery.came_back(&STANDBY, Role::Standby, None),
    ]
}

type Boards = fn(&super::parts::Parts) -> &Vec<usize>;

impl Recovery<'_> {
    /// Why there is nothing to measure, if so.
    fn nothing(&self, defined: &Defined) -> Option<Measure> {
        if self.input.parts().is_some_and(|parts| parts.main_boards.is_empty()) {
            return Some(defined.without(Reached::Nothing, "the ship has no main switchboard"));
        }
        match &self.dead {
            None => Some(defined.without(Reached::NotComputed, "needs a replay of the record")),
            Some(dead) if dead.is_empty() => {
                Some(defined.without(Reached::Nothing, "the main switchboard was never dead"))
            }
            Some(_) => None,
        }
    }

    fn blackout(&self) -> Measure {
        let never_dead = self.dead.as_ref().is_some_and(Vec::is_empty);
        if let Some(nothing) = self.nothing(&BLACKOUT).filter(|_| !never_dead) {
            return nothing;
        }
        let dead = self.dead.as_deref().unwrap_or_default();
        let ticks: u64 = dead.iter().map(|(from, to)| to - from).sum();
        let times: Vec<String> =
            dead.iter().map(|(from, to)| format!("{} to {}", at(*from), at(*to))).collect();
        let still = dead.last().is_some_and(|last| last.1 == self.input.end());
        let text = match times.len() {
            0 => "the main switchboard was never dead".to_owned(),
            _ => format!(
                "{}: {}{}",
                length(ticks),
                times.join(", "),
                if still { ", and still dead" } else { "" }
            ),
        };
        let edges = dead.iter().flat_map(|(from, to)| [*from, *to]);
        let breakers = |parts: &super::parts::Parts| parts.generator_breakers.clone();
        Measure {
            value: Some(seconds(ticks)),
            text,
            from_tick: dead.first().map(|first| first.0),
            tick: dead.last().map(|last| last.1).filter(|_| !still),
            seqs: edges
                .flat_map(|tick| self.near(tick, &breakers))
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect(),
            ..BLACKOUT.measure()
        }
    }

    fn emergency(&self) -> Measure {
        if let Some(nothing) = self.nothing(&EMERGENCY) {
            return nothing;
        }
        let parts = |parts: &super::parts::Parts| parts.transfers.clone();
        let spans = self.spans(Role::EmergencyBoard);
        if self.input.parts().is_some_and(|parts| parts.emergency_boards.is_empty()) {
            return EMERGENCY.without(Reached::Nothing, "the ship has no emergency switchboard");
        }
        // It dies with the main switchboard or a moment later, as machines run down; or not at all.
        let lost = gaps(&spans, self.input.end());
        let Some(gap) = lost.iter().find(|gap| gap.1 > self.lost && gap.0 < self.back) else {
            let later: Vec<String> =
                lost.iter().map(|(from, to)| format!("{} to {}", at(*from), at(*to))).collect();
            let text = match later.is_empty() {
                true => "the emergency switchboard kept its supply".to_owned(),
                false => format!(
                    "the emergency switchboard kept its supply in the first blackout; without it at other times: {}",
                    later.join(", ")
                ),
            };
            return EMERGENCY.without(Reached::Kept, &text);
        };
        if gap.1 >= self.input.end() {
            return self.never(&EMERGENCY, "the emergency switchboard stayed dead");
        }
        self.at(&EMERGENCY, gap.1, self.near(gap.1, &parts), String::new())
    }

    fn sea_water(&self) -> Measure {
        let Some(courses) = self.input.courses() else {
            return SEA.without(Reached::NotComputed, "needs a replay of the record");
        };
        if !courses.iter().any(|course| course.role == Role::SeaWater) {
            return SEA.without(Reached::Nothing, "the ship has no sea water cooler");
        }
        let end = self.input.end();
        let lost = gaps(&self.spans(Role::SeaWater), end);
        let Some(gap) = lost.last() else {
            return SEA.without(Reached::Kept, "sea water was never lost");
        };
        let losses: Vec<String> =
            lost.iter().map(|(from, to)| format!("{} to {}", at(*from), at(*to))).collect();
        let text = format!("without sea water {}", losses.join(", "));
        let near = |tick: u64| self.changes_near(tick);
        let mut measure = match gap.1 < end {
            true => Measure { value: Some(seconds(gap.1 - gap.0)), tick: Some(gap.1), ..SEA.measure() },
            false => Measure { reached: Reached::NotReached, ..SEA.measure() },
        };
        measure.text = match measure.reached {
            Reached::NotReached => format!("it did not come back; {text}"),
            _ => format!("{} after its last loss; {text}", length(gap.1 - gap.0)),
        };
        measure.from_tick = Some(gap.0);
        measure.seqs = near(gap.0).into_iter().chain(near(gap.1)).collect();
        measure
    }

    /// Something that is so again after the loss.
    fn came_back(&self, defined: &Defined, role: Role, boards: Option<Boards>) -> Measure {
        let titled = |mut measure: Measure| {
            let volts = boards.zip(self.input.setup()).zip(self.input.parts());
            if let Some(((boards, setup), parts)) =
                volts.filter(|((boards, _), parts)| !boards(parts).is_empty())
            {
                measure.title = format!("{} consumers", volts_of(setup, boards(parts)));
            }
            measure
        };
        if let Some(nothing) = self.nothing(defined) {
            return titled(nothing);
        }
        let courses = self.input.courses().unwrap_or_default();
        let of_role: Vec<_> = courses.iter().filter(|course| course.role == role).collect();
        if of_role.is_empty() {
            return titled(defined.without(Reached::Nothing, "the ship has none"));
        }
        let spans = self.spans(role);
        // What runs down with the loss was lost with it.
        if spans.iter().any(|span| span.0 <= self.lost && span.1 >= self.back) {
            return titled(defined.without(Reached::Kept, "it was not lost"));
        }
        let Some(first) = spans.iter().find(|span| span.0 > self.lost) else {
            return titled(self.never(defined, "it did not come"));
        };
        let end = self.input.end();
        let count =
            of_role.iter().filter(|course| course.spans.last().is_some_and(|last| last.1 >= end)).count();
        let text = format!("; at the end {count} of {}", of_role.len());
        titled(self.at(defined, first.0, self.changes_near(first.0), text))
    }

    /// The first finding of these codes after the loss.
    fn found(&self, defined: &Defined, codes: &[&str], owners: Boards, never: &str) -> Measure {
        if let Some(nothing) = self.nothing(defined).filter(|measure| measure.reached == Reached::Nothing) {
            return nothing;
        }
        let Some((setup, parts)) = self.input.setup().zip(self.input.parts()) else {
            return defined.without(Reached::NotComputed, "the ship cannot be read by this version");
        };
        let owners: Vec<&str> =
            owners(parts).iter().map(|&i| setup.compiled.spec.components[i].name.as_str()).collect();
        let first = self.input.log().iter().find(|envelope| match &envelope.event {
            Event::Found { component, code, .. } => {
                envelope.tick > self.lost
                    && codes.contains(&code.as_str())
                    && owners.contains(&component.as_str())
            }
            _ => false,
        });
        match first {
            None => self.never(defined, never),
            Some(first) => {
                let who = match &first.event {
                    Event::Found { component, .. } => format!(", {component}"),
                    _ => String::new(),
                };
                let acts = self.act_before(first);
                self.at(defined, first.tick, acts.into_iter().chain([first.seq]).collect(), who)
            }
        }
    }

    fn at(&self, defined: &Defined, tick: u64, seqs: Vec<u64>, more: String) -> Measure {
        let ticks = tick.saturating_sub(self.lost);
        Measure {
            value: Some(seconds(ticks)),
            text: format!("{} after the loss, at {}{more}", length(ticks), at(tick)),
            from_tick: Some(self.lost),
            tick: Some(tick),
            seqs,
            ..defined.measure()
        }
    }

    fn never(&self, defined: &Defined, text: &str) -> Measure {
        Measure { from_tick: Some(self.lost), ..defined.without(Reached::NotReached, text) }
    }

    fn spans(&self, role: Role) -> Vec<(u64, u64)> {
        self.input.courses().map(|courses| any(courses, role)).unwrap_or_default()
    }

    /// Findings of these components near an instant.
    fn near(&self, tick: u64, owners: &dyn Fn(&super::parts::Parts) -> Vec<usize>) -> Vec<u64> {
        let Some((setup, parts)) = self.input.setup().zip(self.input.parts()) else { return Vec::new() };
        let owners = owners(parts);
        let is_near = |envelope: &&Envelope| envelope.tick.abs_diff(tick) <= NEAR_TICKS;
        let of_them = |envelope: &&Envelope| match &envelope.event {
            Event::Found { component, .. } => {
                owners.iter().any(|&owner| setup.compiled.spec.components[owner].name == *component)
            }
            _ => false,
        };
        self.input.log().iter().filter(is_near).filter(of_them).map(|envelope| envelope.seq).collect()
    }

    /// The last act, and the last finding that is none of alerts, at an instant or shortly before: what brought it.
    fn changes_near(&self, tick: u64) -> Vec<u64> {
        let before = |envelope: &&Envelope| envelope.tick <= tick && tick - envelope.tick <= NEAR_TICKS;
        let log = self.input.log();
        let act = log.iter().rev().filter(before).find(|e| matches!(e.event, Event::ActDone { .. }));
        let found = log.iter().rev().filter(before).find(|e| matches!(e.event, Event::Found { .. }));
        [act, found].into_iter().flatten().map(|envelope| envelope.seq).collect()
    }

    /// The last act on the component of a finding before it.
    fn act_before(&self, found: &Envelope) -> Option<u64> {
        let Event::Found { component: owner, .. } = &found.event else { return None };
        let log = self.input.log().iter().rev().filter(|envelope| envelope.seq < found.seq);
        let mut acts = log.filter(
            |envelope| matches!(&envelope.event, Event::ActDone { component, .. } if component == owner),
        );
        acts.next().map(|act| act.seq)
    }
}

fn volts_of(setup: &crate::setup::Setup, boards: &[usize]) -> String {
    volts(&setup.compiled.spec, boards)
}
