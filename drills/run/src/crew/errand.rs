//! What somebody orders a robot besides its procedure, in the words that are typed: `order engine: start dg2.priming`.
//!
//! It reads the order back, walks there if it must, does it, goes back to where it stood, and reports: the loop is closed,
//! also when it could not be done. Orders in other words, and those of robots, are left alone: a robot understands no talk.

use super::{held_by_person, is_so};
use crate::command::Command;
use crate::decide::Refusal;
use crate::drill::BRIDGE;
use crate::orders::Order;
use crate::run::Run;
use crate::who::Who;
use crate::words::{Line, Vocabulary, parse};
use deadship_plant::kind::Reach;

/// How often it tries what cannot be done at the moment.
const TRIES: u32 = 3;

/// An order on its way.
#[derive(Clone, Debug)]
pub(super) struct Errand {
    number: u64,
    act: Command,
    stage: Stage,
    /// Where it stood; it goes back there.
    stood_at: Option<usize>,
    tries: u32,
    /// What is reported.
    report: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    ReadBack,
    Walk,
    Act,
    Back,
    Report,
    Over,
}

impl Errand {
    /// The first open order for this station that can be done, of a person or of the bridge.
    pub(super) fn find(run: &Run, station: &str) -> Option<Errand> {
        let orders = run.state.orders.open.iter();
        orders.filter(|order| order.to.as_deref() == Some(station)).find_map(|order| Errand::of(run, order))
    }

    fn of(run: &Run, order: &Order) -> Option<Errand> {
        if !is_of_person(run, &order.from) {
            return None;
        }
        let line = parse(&order.text, &Vocabulary::from(run.setup.as_ref())).ok()?;
        let Line::Command(act @ (Command::Act { .. } | Command::Go { .. })) = line else { return None };
        let stage = if order.read_back_tick.is_some() { Stage::Walk } else { Stage::ReadBack };
        Some(Errand { number: order.number, act, stage, stood_at: None, tries: 0, report: String::new() })
    }

    /// The next command; `None` while there is nothing to do for it now.
    pub(super) fn next(&mut self, run: &Run, who: &Who) -> Option<Command> {
        let person = run.person(who)?;
        let at = person.stands_at(run.tick());
        loop {
            match self.stage {
                Stage::ReadBack => return Some(Command::Repeat { number: self.number, text: String::new() }),
                Stage::Walk => {
                    self.stood_at = self.stood_at.or(at);
                    self.stage = Stage::Act;
                    if let Some(place) = way_to(run, at, &self.act) {
                        return Some(Command::Go { place });
                    }
                }
                Stage::Act => return Some(self.act.clone()),
                Stage::Back => {
                    self.stage = Stage::Report;
                    let back = self.stood_at.filter(|place| at != Some(*place));
                    // Who was sent somewhere stays there.
                    if let (Some(place), Command::Act { .. }) = (back, &self.act) {
                        return Some(Command::Go { place: run.setup.place_name(place).to_owned() });
                    }
                }
                Stage::Report => {
                    return Some(Command::Report { number: self.number, text: self.report.clone() });
                }
                Stage::Over => return None,
            }
        }
    }

    /// What became of the command.
    pub(super) fn judge(&mut self, refusal: Option<&Refusal>) {
        let said = refusal.map(|refusal| refusal.to_string());
        match (self.stage, said) {
            (Stage::ReadBack, _) => self.stage = Stage::Walk,
            (Stage::Act, None) => (self.stage, self.report) = (Stage::Back, "done".to_owned()),
            (Stage::Act, Some(why)) if is_so(refusal) => {
                (self.stage, self.report) = (Stage::Back, format!("it is so already: {why}"));
            }
            (Stage::Act, Some(why)) => {
                self.tries += 1;
                if self.tries >= TRIES {
                    (self.stage, self.report) = (Stage::Back, format!("it cannot be done: {why}"));
                }
            }
            (Stage::Report, _) => self.stage = Stage::Over,
            _ => {}
        }
    }

    /// Is it closed, by the robot or by somebody else?
    pub(super) fn is_over(&self, run: &Run) -> bool {
        let open = run.state.orders.open.iter().any(|order| order.number == self.number);
        self.stage == Stage::Over || !open
    }
}

/// Does a person hold the station that ordered, or is it the bridge?
fn is_of_person(run: &Run, station: &str) -> bool {
    station == BRIDGE || held_by_person(run, station)
}

/// The nearest place from which it can be worked, where it cannot be from here.
fn way_to(run: &Run, at: Option<usize>, act: &Command) -> Option<String> {
    let Command::Act { component, verb, setting, .. } = act else { return None };
    let (at, index) = (at?, run.setup.compiled.component(component)?);
    let owner = &run.setup.compiled.spec.components[index];
    let def = owner.kind.acts.iter().find(|def| def.verb == *verb && def.setting == setting)?;
    let mut places = vec![owner.place?];
    if def.reach == Reach::Remote {
        places.extend(&owner.remote);
    }
    if places.contains(&at) {
        return None;
    }
    let far = |place: &usize| run.setup.ways.seconds(at, *place).unwrap_or(f64::INFINITY);
    let nearest = places.into_iter().min_by(|one, other| far(one).total_cmp(&far(other)))?;
    Some(run.setup.place_name(nearest).to_owned())
}
