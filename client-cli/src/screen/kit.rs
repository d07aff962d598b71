//! What tests of screens share: a real run, its messages as a server sends them, and screens as text.

use super::Screen;
use super::colours::{Ink, Palette};
use deadship_protocol::{
    EventMessage, Gauge, GaugesMessage, Role as WireRole, RunState, ServerMessage, StationInfo, VERSION,
    WelcomeMessage,
};
use deadship_run::answer::show_reading;
use deadship_run::ids::run_id;
use deadship_run::library::Library;
use deadship_run::opening::{Opening, TextFile};
use deadship_run::view::{Chart, Situation};
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Recorder, Role, Who, timeline};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

const AT: &str = "2026-01-01T00:00:00Z";

/// Invented, for tests of screens.
const DRILL: &str = r#"
format = 1
[drill]
title = "Watch"
ship = "quillmere"
settle = "20 s"
limit = "40 min"
brief = """
Look after the plant.

This drill is invented, for tests."""

[[station]]
name = "engine"
title = "Engine room"
start = "generator-flat"
covers = ["generator-flat"]

[[station]]
name = "boards"
title = "Control room"
start = "control-room"
covers = ["control-room"]

[[fault]]
name = "filter-clogs"
fault = "dg1.lube.filter.clogs"
at = "10 min"

[[message]]
name = "bridge-asks"
to = "boards"
text = "Bridge: is all well?"
at = "12 min"

[[objective]]
name = "keep-watch"
text = "Keeps a watch over the plant"
levels = [
  "not-yet: Misses what changes.",
  "with-help: Sees it when asked.",
  "secure: Sees it first.",
]

[[expect]]
name = "on-the-board"
text = "A set is on the main switchboard"
when = '[dg1.breaker.closed] == "yes"'
within = "20 min"
"#;

/// How to do it, for the checklist.
const LIST: &str = r#"
format = 1
[procedure]
title = "Round of the watch"
drill = "watch"

[[step]]
name = "look"
station = "engine"
title = "Look at DG 1"
do = ["read dg1.engine"]
until = '[dg1.engine.running] == "yes"'

[[step]]
name = "tell"
station = "boards"
title = "Tell the bridge"
after = ["look"]
do = ["say all is well"]
"#;

/// A run with Ada at the engine and Ben at the boards.
pub(crate) struct Stage {
    pub(crate) recorder: Recorder,
    pub(crate) log: Vec<Envelope>,
}

/// Ada, at the engine.
pub(crate) fn ada() -> Who {
    Who::person("Ada", Role::Trainee)
}

/// Iris, who runs the class.
pub(crate) fn iris() -> Who {
    Who::person("Iris", Role::Instructor)
}

impl Stage {
    /// At sea, all well.
    pub(crate) fn calm() -> Stage {
        let files = Library::built_in().ship("quillmere").expect("it is built in");
        let list = TextFile::new("procedures/round.toml", LIST);
        let drill = TextFile::new("library/watch.toml", DRILL);
        let mut opening = Opening::new(drill, "quillmere", files, vec![list], 1);
        opening.start = Some("at sea, two sets".to_owned());
        let (recorder, log) = Recorder::open(run_id("watch", 1), opening, &iris(), AT).expect("it opens");
        let mut stage = Stage { recorder, log };
        stage.does(&ada(), "station engine");
        stage.does(&Who::person("Ben", Role::Trainee), "station boards");
        stage.run(20.0);
        stage.does(&iris(), "bridge order engine within 5 min: report on the lubricating oil");
        stage.run(5.0);
        stage
    }

    /// The same, when lubricating oil is lost and a set trips.
    pub(crate) fn alarm() -> Stage {
        let mut stage = Stage::calm();
        stage.does(&iris(), "fault dg1.sump.drain.works-loose 100 %");
        stage.does(&iris(), "fault dg1.controls.false-lube-shutdown");
        stage.does(&iris(), "fault dg2.engine.governor-hunts when time > 1800 s");
        stage.run(60.0);
        stage.does(&Who::person("Ben", Role::Trainee), "say to engine: what is the matter with DG 1?");
        stage.run(2.0);
        stage
    }

    /// Does a line; a refusal is an event as well.
    pub(crate) fn does(&mut self, who: &Who, line: &str) {
        let setup = self.recorder.run().setup.clone();
        match parse(line, &Vocabulary::from(setup.as_ref())) {
            Ok(Line::Command(command)) => {
                self.log.extend(self.recorder.command(&command, who, None, AT).envelopes);
            }
            other => panic!("{line}: {other:?}"),
        }
    }

    /// Steps.
    pub(crate) fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * 20.0) as u64 {
            self.log.extend(self.recorder.tick(AT));
        }
    }

    /// How the run is.
    pub(crate) fn state(&self) -> RunState {
        let run = self.recorder.run();
        RunState {
            run: run.id,
            team: "Red".to_owned(),
            drill: "watch".to_owned(),
            last_seq: run.last_seq,
            tick: run.tick(),
            time: timeline::clock(run.tick()).trim().to_owned(),
            speed: 1.0,
            reached_speed: None,
            hold: run.state.hold.clone(),
            ended: None,
            failed: None,
        }
    }

    /// What a server says to somebody who has just come.
    pub(crate) fn welcome(&self, role: WireRole, name: &str) -> WelcomeMessage {
        let station = |name: &str, title: &str| StationInfo {
            name: name.to_owned(),
            title: title.to_owned(),
            seats: 1,
        };
        WelcomeMessage {
            version: VERSION,
            server: "0".to_owned(),
            role,
            name: name.to_owned(),
            station: None,
            token: None,
            run: Some(self.state()),
            stations: vec![station("engine", "Engine room"), station("boards", "Control room")],
            brief: String::new(),
        }
    }

    /// Everything that a server sends to somebody, now.
    pub(crate) fn messages(&self, who: &Who) -> Vec<ServerMessage> {
        let run = self.recorder.run();
        let all = who.role() == Role::Instructor;
        let value = |value: serde_json::Result<serde_json::Value>| value.expect("plain data");
        let (chart, situation) = (Chart::new(&run.setup, all), Situation::new(run, all));
        let mut messages = vec![
            ServerMessage::Chart { run: run.id, chart: value(serde_json::to_value(chart)) },
            ServerMessage::State(self.state()),
        ];
        for envelope in self.log.iter().filter(|envelope| is_told(envelope, all)) {
            messages.push(ServerMessage::Event(Box::new(EventMessage {
                run: run.id,
                seq: envelope.seq,
                tick: envelope.tick,
                time: timeline::clock(envelope.tick).trim().to_owned(),
                who: envelope.who.to_string(),
                kind: envelope.event.name().to_owned(),
                text: timeline::what(&envelope.event),
                data: serde_json::Value::Null,
            })));
        }
        let situation = value(serde_json::to_value(situation));
        messages.push(ServerMessage::Situation { run: run.id, tick: run.tick(), situation });
        messages.push(ServerMessage::Gauges(self.gauges(who)));
        messages
    }

    fn gauges(&self, who: &Who) -> GaugesMessage {
        let run = self.recorder.run();
        let mut readings = Vec::new();
        for (c, component) in run.setup.compiled.spec.components.iter().enumerate() {
            for r in 0..component.kind.readings.len() {
                if run.may_see(who, c, r) {
                    let name = run.setup.compiled.reading_name((c, r));
                    readings.push(Gauge { name, text: show_reading(run, c, r) });
                }
            }
        }
        let (tick, time) = (run.tick(), timeline::clock(run.tick()).trim().to_owned());
        GaugesMessage { run: run.id, tick, time, base: tick, readings }
    }
}

/// Roughly who is told what: the server's own rules are tested there.
fn is_told(envelope: &Envelope, all: bool) -> bool {
    match envelope.event.name() {
        "digest" => false,
        "fault-set" | "fault-planned" | "need-lost" | "need-met" | "found" | "expectation-met" => all,
        _ => true,
    }
}

/// A screen drawn at a size.
pub(crate) fn drawn(screen: &mut dyn Screen, wide: u16, high: u16) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(wide, high)).expect("a terminal of the test's own");
    let done = terminal.draw(|frame| screen.draw(frame)).expect("it is drawn");
    done.buffer.clone()
}

/// Its text, a line each, without what is blank at the ends.
pub(crate) fn text(buffer: &Buffer) -> String {
    let area = buffer.area;
    let row = |y: u16| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect::<String>();
    (0..area.height).map(|y| row(y).trim_end().to_owned() + "\n").collect()
}

/// Presses keys: letters by themselves, others by name.
pub(crate) fn press(screen: &mut dyn Screen, keys: &[&str]) -> super::Todo {
    let mut last = super::Todo::nothing();
    for key in keys {
        let code = match *key {
            "Enter" => KeyCode::Enter,
            "Esc" => KeyCode::Esc,
            "Tab" => KeyCode::Tab,
            "Up" => KeyCode::Up,
            "Down" => KeyCode::Down,
            "Left" => KeyCode::Left,
            "Right" => KeyCode::Right,
            "End" => KeyCode::End,
            "PageDown" => KeyCode::PageDown,
            "F1" => KeyCode::F(1),
            "F3" => KeyCode::F(3),
            letters => {
                for letter in letters.chars() {
                    last = screen.key(KeyEvent::new(KeyCode::Char(letter), KeyModifiers::NONE));
                }
                continue;
            }
        };
        last = screen.key(KeyEvent::new(code, KeyModifiers::NONE));
    }
    last
}

/// Signs and words that say in letters what an ink says in colour.
const SAID: [&str; 39] = [
    "▲",
    "●",
    "■",
    "○",
    "◆",
    "◇",
    "‖",
    "»",
    "✖",
    "!",
    "☑",
    "☒",
    "→",
    "▷",
    "▶",
    "─",
    "…",
    "①",
    "↑",
    "alarm",
    "live",
    "dead",
    "shut",
    "open",
    "stopped",
    "missed",
    "left",
    "open",
    "not seen",
    "OVERDUE",
    "NOT read back",
    "refused",
    "HOLD",
    "SET NOW",
    "no alerts",
    "is met",
    "acted",
    "done for",
    "waits",
];

/// Every row with an ink that warns or reassures says so in letters as well; and without colours nothing is missing.
pub(crate) fn never_colour_alone(coloured: &Buffer, plain: &Buffer) {
    assert_eq!(text(coloured), text(plain), "colour changes what is written");
    let palette = Palette::new(true);
    let meaning =
        [Ink::Alarm, Ink::Warning, Ink::Caution, Ink::Live, Ink::Dead].map(|ink| palette.style(ink).fg);
    let area = coloured.area;
    for y in 0..area.height {
        let row: String = (0..area.width).map(|x| coloured[(x, y)].symbol()).collect();
        let told = (0..area.width).any(|x| {
            let cell = &coloured[(x, y)];
            cell.symbol() != " " && meaning.contains(&Some(cell.fg))
        });
        // Faint text has the ink of what is dead; it says nothing that has to be told twice.
        let faint = (0..area.width).all(|x| {
            let cell = &coloured[(x, y)];
            !meaning[..4].contains(&Some(cell.fg))
        });
        assert!(!told || faint || SAID.iter().any(|sign| row.contains(sign)), "only colour tells: {row}");
    }
    for cell in plain.content() {
        assert_eq!((cell.fg, cell.bg), (Default::default(), Default::default()));
    }
}
