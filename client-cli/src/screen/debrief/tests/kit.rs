//! Logs of two ships: a lighter worked by robots, and a dead ship with people aboard; screens on them, drawn and worked.

use super::super::DebriefScreen;
use crate::library::Library;
use crate::screen::Palette;
use deadship_run::crew::Crew;
use deadship_run::ids::run_id;
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Recorder, Role, Who};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use std::path::Path;
use std::sync::OnceLock;

const AT: &str = "2026-01-01T00:00:00Z";

fn opened(data: Option<&str>, drill: &str) -> (Recorder, Vec<Envelope>) {
    let mut library = Library::new(data.map(Path::new)).unwrap();
    let drill = library.drill(drill).unwrap();
    let procedures = library.procedures_for(drill.stem());
    let opening = library.opening(drill, procedures, None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    Recorder::open(id, opening, &Who::person("rehearsal", Role::Instructor), AT).unwrap()
}

/// The lighter, worked by robots; then nothing but a note.
pub(super) fn calm() -> Vec<Envelope> {
    static LOG: OnceLock<Vec<Envelope>> = OnceLock::new();
    LOG.get_or_init(|| {
        let (mut recorder, mut log) = opened(Some("tests/fixtures"), "pump-out");
        let mut crew = Crew::new(&recorder.run().setup, Some("pump-out")).unwrap();
        while recorder.run().goes() {
            log.extend(crew.act(&mut recorder, AT));
            log.extend(recorder.tick(AT));
        }
        log
    })
    .clone()
}

struct Class {
    recorder: Recorder,
    log: Vec<Envelope>,
}

impl Class {
    fn does(&mut self, who: &Who, line: &str) {
        let parsed = parse(line, &Vocabulary::from(self.recorder.run().setup.as_ref())).unwrap();
        let Line::Command(command) = parsed else { panic!("{line} asks") };
        self.log.extend(self.recorder.command(&command, who, None, AT).envelopes);
    }

    fn waits(&mut self, seconds: u32) {
        for _ in 0..seconds * 20 {
            self.log.extend(self.recorder.tick(AT));
        }
    }
}

pub(super) fn ada() -> Who {
    Who::person("Ada", Role::Trainee)
}

pub(super) fn mizuno() -> Who {
    Who::person("水野", Role::Trainee)
}

/// A dead ship with two people, an instructor, alarms, orders, a refusal, marks.
pub(super) fn alarm() -> Vec<Envelope> {
    static LOG: OnceLock<Vec<Envelope>> = OnceLock::new();
    LOG.get_or_init(|| {
        let (recorder, log) = opened(None, "first-light");
        let mut class = Class { recorder, log };
        let bo = Who::person("Bo", Role::Instructor);
        class.does(&ada(), "station engine");
        class.does(&mizuno(), "station boards");
        class.waits(10);
        class.does(&ada(), "go generator-flat");
        class.does(&mizuno(), "start msb.insulation");
        class.waits(50);
        class.does(&mizuno(), "order engine within 5 min: open the drain of the emergency receiver");
        class.does(&ada(), "start dg1.controls");
        class.does(&ada(), "repeat 1");
        class.waits(20);
        class.does(&bo, "mark slip 30 s ago started without air");
        class.does(&bo, "fault dg1.sump.drain.works-loose 80 %");
        class.does(&ada(), "close air.receiver.emergency.drain");
        class.waits(60);
        class.does(&mizuno(), "ack all");
        class.does(&ada(), "report 1 done");
        class.does(&bo, "hold");
        class.does(&bo, "resume");
        class.does(&bo, "note well spoken");
        class.waits(150);
        class.does(&bo, "lift dg1.sump.drain.works-loose");
        class.waits(10);
        class.does(&bo, "end");
        class.log
    })
    .clone()
}

/// The same ship with nobody aboard and two who rate her drill, at odds about one objective.
pub(super) fn rated() -> Vec<Envelope> {
    let (recorder, log) = opened(None, "first-light");
    let mut class = Class { recorder, log };
    let (bo, cy) = (Who::person("Bo", Role::Instructor), Who::person("Cy", Role::Instructor));
    class.waits(130);
    class.does(&bo, "rate line-up secure the valves were found by luck");
    class.does(&bo, "rate restore-power secure");
    class.does(&cy, "rate line-up with-help");
    class.does(&bo, "end");
    class.log
}

pub(super) fn screen(log: Vec<Envelope>) -> DebriefScreen {
    let mut screen = DebriefScreen::new(log, Palette::new(true));
    while screen.load() {}
    screen
}

pub(super) fn drawn(screen: &mut DebriefScreen, size: (u16, u16)) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(size.0, size.1)).unwrap();
    terminal.draw(|frame| screen.draw(frame)).unwrap();
    terminal.backend().buffer().clone()
}

pub(super) fn text(buffer: &Buffer) -> String {
    let wide = usize::from(buffer.area.width);
    let lines = buffer.content.chunks(wide).map(|line| {
        let mut cells = line.iter();
        let mut text = String::new();
        while let Some(cell) = cells.next() {
            text.push_str(cell.symbol());
            // A wide letter has a second cell, which holds nothing of its own.
            for _ in 1..crate::screen::text::width(cell.symbol()) {
                cells.next();
            }
        }
        text.trim_end().to_owned()
    });
    lines.collect::<Vec<_>>().join("\n")
}

pub(super) fn press(screen: &mut DebriefScreen, keys: &str) {
    for key in keys.chars() {
        let code = match key {
            '→' => KeyCode::Right,
            '←' => KeyCode::Left,
            '↓' => KeyCode::Down,
            '↑' => KeyCode::Up,
            '⏎' => KeyCode::Enter,
            '⇥' => KeyCode::Tab,
            '⇱' => KeyCode::Home,
            '⇲' => KeyCode::End,
            '⎋' => KeyCode::Esc,
            other => KeyCode::Char(other),
        };
        assert!(!screen.key(KeyEvent::new(code, KeyModifiers::NONE)), "{key} leaves");
    }
}
