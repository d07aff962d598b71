//! Asking: when a question comes, what is right, what nobody decided in time.

use super::{Ask, Asking, NOBODY, Offered, OpenAsk, UNSURE};
use crate::drill::Drill;
use crate::event::Event;
use crate::run::Run;
use crate::setup::ticks;
use crate::watch::Seen;
use crate::who::{Role, Who};

impl Run {
    /// Asks what is due, finds what was right, and closes decisions that nobody took.
    pub(crate) fn look_at_asks(&mut self, drill: &Drill, seen: &mut Seen) {
        self.look_at_waiting(drill, seen);
        self.look_at_undecided(seen);
        for asking in &drill.askings {
            if self.state.steps.contains(&asking.name) || !self.is_due(&asking.name, &asking.comes, seen) {
                continue;
            }
            let holds = asking.holds && self.someone_at(asking.to.as_deref());
            for ask in &asking.asks {
                if ask.grasp.is_some() && ask.later_s == 0.0 {
                    self.find_right(ask, seen);
                }
                seen.inputs.push(self.asked(asking, ask, holds));
            }
            if holds {
                seen.inputs.push(Event::HoldSet { reason: asking.hold_reason() });
            }
        }
    }

    fn asked(&self, asking: &Asking, ask: &Ask, holds: bool) -> Event {
        let choices = ask.choices.iter();
        let choices = choices.map(|choice| Offered { word: choice.word.clone(), text: choice.text.clone() });
        let unsure = Offered { word: UNSURE.to_owned(), text: "I do not know".to_owned() };
        Event::Asked {
            ask: ask.name.clone(),
            to: asking.to.clone(),
            text: ask.text.clone(),
            choices: choices.chain(ask.grasp.map(|_| unsure)).collect(),
            grasp: ask.grasp,
            holds,
            due_tick: ask.within_s.map(|within_s| self.tick() + ticks(within_s)),
            step: asking.name.clone(),
        }
    }

    /// Does a person hold the station, or any? Robots answer no probes, and nobody waits for them.
    fn someone_at(&self, station: Option<&str>) -> bool {
        let asked = |held: &str| station.is_none_or(|station| station == held);
        self.state.people.values().any(|person| {
            matches!(person.who, Who::Person { role: Role::Trainee, .. })
                && person.station.as_deref().is_some_and(asked)
        })
    }

    /// Records which choices are right now.
    fn find_right(&mut self, ask: &Ask, seen: &mut Seen) {
        let mut right = Vec::new();
        for choice in &ask.choices {
            let name = format!("{} {}", ask.name, choice.word);
            if choice.right.as_ref().is_some_and(|condition| self.is_true(&name, condition, seen)) {
                right.push(choice.word.clone());
            }
        }
        seen.findings.push(Event::AnswerKnown { ask: ask.name.clone(), text: ask.text.clone(), right });
    }

    fn look_at_waiting(&mut self, drill: &Drill, seen: &mut Seen) {
        let tick = self.tick();
        let due = self.state.asked.waiting.iter().filter(|(_, due)| tick >= **due);
        let due: Vec<String> = due.map(|(name, _)| name.clone()).collect();
        for name in due {
            self.state.asked.waiting.remove(&name);
            if let Some(ask) = drill.ask(&name) {
                self.find_right(ask, seen);
            }
        }
    }

    fn look_at_undecided(&mut self, seen: &mut Seen) {
        let tick = self.tick();
        let asked = &mut self.state.asked;
        let late = |ask: &OpenAsk| ask.decides && ask.due_tick.is_some_and(|due| tick > due);
        for ask in asked.open.iter().filter(|ask| late(ask)) {
            asked.decided.insert(ask.name.clone(), NOBODY.to_owned());
            seen.findings.push(Event::Undecided { ask: ask.name.clone(), text: ask.text.clone() });
        }
        asked.open.retain(|ask| !late(ask));
    }

    /// Applies an event of asking and answering.
    pub(crate) fn follow_asks(&mut self, who: &Who, tick: u64, event: &Event) {
        match event {
            Event::Asked { ask, to, text, choices, grasp, holds, due_tick, step } => {
                let later_s = self.setup.drill.ask(ask).map_or(0.0, |ask| ask.later_s);
                self.state.steps.insert(step.clone());
                if later_s > 0.0 {
                    self.state.asked.waiting.insert(ask.clone(), tick + ticks(later_s));
                }
                // A probe that nobody was there to answer is not answered later: the plant has gone on.
                if grasp.is_some() && !holds {
                    return;
                }
                self.state.asked.open.push(OpenAsk {
                    name: ask.clone(),
                    to: to.clone(),
                    text: text.clone(),
                    choices: choices.clone(),
                    decides: grasp.is_none(),
                    holds: *holds,
                    due_tick: *due_tick,
                    answered: Default::default(),
                });
            }
            Event::Answered { ask, choice, .. } => {
                let asked = &mut self.state.asked;
                let Some(at) = asked.open.iter().position(|open| open.name == *ask) else { return };
                if asked.open[at].decides {
                    asked.open.remove(at);
                    asked.decided.insert(ask.clone(), choice.clone());
                } else if let Some(key) = who.key() {
                    asked.open[at].answered.insert(key, choice.clone());
                }
            }
            // Who has not answered a probe while the run was on hold for it answers no more: the plant goes on.
            Event::HoldLifted {} => self.state.asked.open.retain(|ask| ask.decides || !ask.holds),
            _ => {}
        }
    }
}
