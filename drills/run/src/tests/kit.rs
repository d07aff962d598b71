//! A small ship, a drill on it, and given–when–then.

use crate::command::Command;
use crate::decide::Refusal;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::ids::run_id;
use crate::opening::{OpenError, Opening, TextFile};
use crate::recorder::{Outcome, Recorder};
use crate::who::{Role, Who};
use crate::words::{Line, Question, Vocabulary, parse};

/// A header tank that runs through a valve to the bilge, and a motor on shore supply.
pub(crate) const SHIP: &str = r#"
format = 1

[ship]
title = "Lighter"
about = "Invented; a few components for tests."

[[place]]
name = "control-room"
title = "Control room"

[[place]]
name = "pump-room"
title = "Pump room"

[[place]]
name = "deck"
title = "Deck"

[[place]]
name = "ashore"
title = "Ashore"

[[walk]]
between = ["control-room", "pump-room"]
time = "10 s"

[[walk]]
between = ["pump-room", "deck"]
time = "20 s"

[[node]]
names = ["content", "below"]
net = "fresh water"

[[node]]
names = ["cable", "bus"]
net = "ac"
voltage = "440 V"
frequency = "60 Hz"

[[node]]
name = "shaft"
net = "shaft"

[[tank]]
name = "header.tank"
title = "Header tank"
place = "deck"
remote = "control-room"
liquid = "content"
capacity = "2 m3"
height = "2 m"

[[valve]]
name = "header.valve"
title = "Header tank outlet"
place = "pump-room"
inlet = "content"
outlet = "below"
kv = "60 Kv"

[[opening]]
name = "bilge"
place = "pump-room"
line = "below"
gives = false

[[shore-supply]]
name = "shore"
title = "Shore supply"
place = "control-room"
cable = "cable"
bus = "bus"

[[motor]]
name = "pump"
title = "Pump motor"
place = "pump-room"
remote = "control-room"
supply = "bus"
shaft = "shaft"
rated-power = "15 kW"
has-selector = true

[[alert]]
name = "header.low"
text = "Header tank level low"
priority = "alarm"
reading = "header.tank.level"
below = "40 %"
hysteresis = "2 %"
delay = "1 s"

[[alert]]
name = "pump.off"
text = "Pump stands still"
priority = "caution"
reading = "pump.speed"
below = "100 rpm"
hysteresis = "10 rpm"
delay = "0 s"

[[state]]
name = "cold"
about = "Tank half full, everything off."
[state.set]
"header.tank.volume" = "1 m3"
"#;

/// A drill with one of everything.
pub(crate) const DRILL: &str = r#"
format = 1

[drill]
title = "Small drill"
ship = "lighter"
start = "cold"
settle = "1 s"
limit = "20 min"
seed = 7
brief = "Run the pump, then empty the tank."
safety = "Invented; not for use on board."

[[station]]
name = "pumps"
title = "Pump man"
start = "pump-room"
covers = ["pump-room", "deck"]

[[station]]
name = "boards"
title = "Watch in the control room"
start = "control-room"

[[fault]]
name = "leak"
fault = "header.tank.leaks"
severity = "50 %"
ramp = "5 s"
at = "30 s"
lift-when = '[header.tank.level] < 20 %'

[[message]]
name = "hello"
to = "pumps"
text = "Bridge: are you there?"
at = "5 s"

[[message]]
name = "pump-seen"
text = "Bridge: we hear the pump"
when = '[pump.running] == "yes"'

[[expect]]
name = "pump-on"
text = "The pump runs"
when = '[pump.running] == "yes" && [pump.speed] > 1000 rpm'
within = "2 min"

[[expect]]
name = "alert-answered"
text = "The valve is shut within 20 s of the alert"
from = 'alert("header.low")'
when = '[header.valve.position] < 1 %'
within = "20 s"

[aim]
text = "Tank empty with the pump running"
when = '[header.tank.volume] < 0.1 m3 && done("pump-on") && time > 10 s'
hold = "2 s"
ends = true
"#;

/// What an expert crew does.
pub(crate) const PROCEDURE: &str = r#"
format = 1

[procedure]
title = "Small drill, by the book"
drill = "small"

[[step]]
name = "supply"
station = "boards"
title = "Shore supply on"
do = ["read shore", "close shore"]

[[step]]
name = "pump"
station = "boards"
title = "Start the pump"
after = ["supply"]
do = "start pump"
until = '[pump.running] == "yes"'
timeout = "1 min"
say = "Pump is running"

[[step]]
name = "empty"
station = "pumps"
title = "Empty the tank"
after = ["pump"]
do = ["open header.valve"]
until = '[header.valve.position] > 90 %'
timeout = "1 min"
"#;

/// The opening of the small drill.
pub(crate) fn opening() -> Opening {
    opening_with(DRILL, &[PROCEDURE])
}

/// The same with other texts.
pub(crate) fn opening_with(drill: &str, procedures: &[&str]) -> Opening {
    let procedures =
        procedures.iter().map(|text| TextFile::new("procedures/small-book.toml", *text)).collect();
    let ship = vec![TextFile::new("ships/lighter/ship.toml", SHIP)];
    Opening::new(TextFile::new("library/small.toml", drill), "lighter", ship, procedures, 7)
}

/// What is said about files, a line each.
pub(crate) fn said(opening: Opening) -> Vec<String> {
    match Recorder::open(run_id("x", 1), opening, &instructor(), "") {
        Err(OpenError::Files(problems)) => problems.iter().map(ToString::to_string).collect(),
        Err(error) => vec![error.to_string()],
        Ok(_) => Vec::new(),
    }
}

pub(crate) fn instructor() -> Who {
    Who::person("Iris", Role::Instructor)
}

pub(crate) fn ada() -> Who {
    Who::person("Ada", Role::Trainee)
}

pub(crate) fn bo() -> Who {
    Who::person("Bo", Role::Trainee)
}

/// A run being driven, and its log.
pub(crate) struct Scene {
    pub(crate) recorder: Recorder,
    pub(crate) log: Vec<Envelope>,
}

impl Scene {
    /// The small drill, opened.
    pub(crate) fn new() -> Scene {
        Scene::of(opening())
    }

    pub(crate) fn of(opening: Opening) -> Scene {
        let (recorder, log) =
            Recorder::open(run_id("small", 7), opening, &instructor(), "2026-01-01T00:00:00Z").unwrap();
        Scene { recorder, log }
    }

    /// With Ada at the pumps and Bo at the boards.
    pub(crate) fn crewed() -> Scene {
        let mut scene = Scene::new();
        scene.ok(&ada(), "station pumps");
        scene.ok(&bo(), "station boards");
        scene
    }

    pub(crate) fn line(&self, line: &str) -> Line {
        parse(line, &Vocabulary::from(self.recorder.run().setup.as_ref())).unwrap()
    }

    pub(crate) fn command(&mut self, who: &Who, command: &Command) -> Outcome {
        let outcome = self.recorder.command(command, who, None, "2026-01-01T00:00:01Z");
        self.log.extend(outcome.envelopes.clone());
        outcome
    }

    pub(crate) fn say(&mut self, who: &Who, line: &str) -> Outcome {
        match self.line(line) {
            Line::Command(command) => self.command(who, &command),
            Line::Question(question) => panic!("{question:?} is a question"),
        }
    }

    /// Something that must be possible.
    pub(crate) fn ok(&mut self, who: &Who, line: &str) -> Vec<Event> {
        let outcome = self.say(who, line);
        assert_eq!(outcome.refusal, None, "{line}");
        outcome.envelopes.into_iter().map(|envelope| envelope.event).collect()
    }

    /// Something that must be refused, for exactly these reasons.
    pub(crate) fn no(&mut self, who: &Who, line: &str, codes: &[&str]) -> Refusal {
        let outcome = self.say(who, line);
        let refusal = outcome.refusal.unwrap_or_else(|| panic!("`{line}` was not refused"));
        let found: Vec<&str> = refusal.reasons.iter().map(|reason| reason.code.as_str()).collect();
        assert_eq!(found, codes, "{line}: {refusal}");
        assert!(matches!(outcome.envelopes[0].event, Event::ActRefused { .. }), "a refusal is an event");
        refusal
    }

    pub(crate) fn ask(&self, who: &Who, question: Question) -> Vec<String> {
        crate::answer::answer(self.recorder.run(), who, &question)
    }

    /// Steps for so many seconds.
    pub(crate) fn run(&mut self, seconds: f64) {
        for _ in 0..crate::setup::ticks(seconds) {
            self.log.extend(self.recorder.tick("2026-01-01T00:00:02Z"));
        }
    }

    /// How many events of this name there are.
    pub(crate) fn count(&self, name: &str) -> usize {
        self.log.iter().filter(|envelope| envelope.event.name() == name).count()
    }

    pub(crate) fn find(&self, name: &str) -> &Envelope {
        self.log.iter().find(|envelope| envelope.event.name() == name).unwrap_or_else(|| panic!("no {name}"))
    }
}
