//! `deadship trial`: a ship or rig without a drill.

use crate::actions::{Action, read_actions};
use crate::cli::{Format, TrialArgs};
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::library::{Library, read_text};
use crate::readings::{Wanted, choose};
use deadship_plant::TICK_S;
use deadship_run::ids::run_id;
use deadship_run::opening::{OpenError, Opening, TextFile};
use deadship_run::setup::ticks;
use deadship_run::timeline;
use deadship_run::{Envelope, Event, Recorder, Role, Who};
use serde_json::{Map, Value, json};

/// What stands where the time of day would: nothing here depends on a clock.
pub(crate) const AT: &str = "1970-01-01T00:00:00Z";

/// Name of the drill that a trial is a run of.
const NAME: &str = "trial";

/// `deadship trial`.
pub(crate) fn trial(io: &mut Io, library: &Library, args: &TrialArgs) -> Result<u8, Failure> {
    let mut recorder = open(library, args)?;
    let compiled = &recorder.run().setup.compiled;
    let wanted = choose(compiled, &args.readings)?;
    let actions = match &args.actions {
        None => Vec::new(),
        Some(path) => {
            let file = read_text(path)?;
            read_actions(&file.name, &file.text, &compiled.spec).map_err(Failure::Files)?
        }
    };
    let every = ticks(args.every);
    if every == 0 {
        return Err(Failure::Asked(format!("`--every` must be at least {TICK_S} s, one tick")));
    }
    let mut sheet = Sheet { wanted, format: args.format, display: args.display_units };
    sheet.head(io)?;
    let file = args.actions.as_ref().map_or_else(String::new, |path| path.display().to_string());
    let mut course = Course { file, actions: &actions, next: 0, refused: false, tell_events: args.events };
    let last = ticks(args.length);
    let mut well = true;
    for tick in 0..=last {
        if tick.is_multiple_of(every) {
            sheet.row(io, &recorder)?;
        }
        course.act(io, &mut recorder, tick);
        if tick == last {
            break;
        }
        let envelopes = recorder.tick(AT);
        course.tell(io, &envelopes);
        if let Some(failed) = recorder.run().state.failed.clone() {
            io.tell(&format!("{}: {failed}", timeline::clock(recorder.run().tick()).trim()));
            well = false;
            break;
        }
    }
    course.tell_rest(io);
    io.flush()?;
    Ok(if course.refused || !well { NO } else { WELL })
}

/// A trial is a run of a drill in which nothing happens by itself, so acts have the same rules as in any run.
fn open(library: &Library, args: &TrialArgs) -> Result<Recorder, Failure> {
    let (ship, files) = library.ship(&args.ship)?;
    let quoted = |text: &str| Value::String(text.to_owned()).to_string();
    let mut drill =
        format!("format = 1\n[drill]\ntitle = \"Trial\"\nbrief = \"A trial.\"\nship = {}\n", quoted(&ship));
    if let Some(state) = &args.state {
        check_state(&files, state)?;
        drill.push_str(&format!("start = {}\n", quoted(state)));
    }
    let opening = Opening::new(TextFile::new(NAME, drill), &ship, files, Vec::new(), 0);
    let (recorder, _) = Recorder::open(run_id(NAME, 0), opening, &instructor(), AT).map_err(open_failed)?;
    Ok(recorder)
}

/// The person who does everything here.
fn instructor() -> Who {
    Who::person("trial", Role::Instructor)
}

/// Why a run could not be opened.
pub(crate) fn open_failed(error: OpenError) -> Failure {
    match error {
        OpenError::Files(problems) => Failure::Files(problems),
        settle => Failure::Plant(settle.to_string()),
    }
}

/// The reader would tell of it with a position in a file that nobody wrote.
fn check_state(files: &[TextFile], state: &str) -> Result<(), Failure> {
    let files: Vec<(String, String)> =
        files.iter().map(|file| (file.name.clone(), file.text.clone())).collect();
    let spec =
        deadship_plant::file::read_ship(deadship_plant::kinds::REGISTRY, &files).map_err(Failure::Files)?;
    if spec.states.iter().any(|known| known.name == state) {
        return Ok(());
    }
    Err(Failure::unknown("start state", state, spec.states.iter().map(|known| known.name.as_str())))
}

/// What is done along the way.
struct Course<'a> {
    file: String,
    actions: &'a [Action],
    next: usize,
    refused: bool,
    tell_events: bool,
}

impl Course<'_> {
    fn act(&mut self, io: &mut Io, recorder: &mut Recorder, tick: u64) {
        while let Some(action) = self.actions.get(self.next).filter(|action| action.tick <= tick) {
            self.next += 1;
            let outcome = recorder.command(&action.command, &instructor(), None, AT);
            if let Some(refusal) = outcome.refusal {
                self.refused = true;
                let (file, line, time) = (&self.file, action.line, timeline::clock(tick));
                io.tell(&format!("{file}:{line}: at {}, refused: {}: {refusal}", time.trim(), action.text));
            } else {
                self.tell(io, &outcome.envelopes);
            }
        }
    }

    fn tell(&self, io: &mut Io, envelopes: &[Envelope]) {
        if self.tell_events {
            for envelope in
                envelopes.iter().filter(|envelope| !matches!(envelope.event, Event::Digest { .. }))
            {
                io.tell(&timeline::line(envelope));
            }
        }
    }

    /// Actions after the end.
    fn tell_rest(&self, io: &mut Io) {
        for action in &self.actions[self.next..] {
            let (file, line, time) = (&self.file, action.line, timeline::clock(action.tick));
            io.tell(&format!("{file}:{line}: `{}` at {} comes after the end", action.text, time.trim()));
        }
    }
}

/// The readings as they are written.
struct Sheet {
    wanted: Vec<Wanted>,
    format: Format,
    display: bool,
}

impl Sheet {
    fn head(&self, io: &mut Io) -> Result<(), Failure> {
        match self.format {
            Format::Csv => {
                let names = self.wanted.iter().map(|wanted| wanted.header(self.display));
                let cells: Vec<String> =
                    std::iter::once("time [s]".to_owned()).chain(names).map(csv).collect();
                io.line(&cells.join(","))
            }
            Format::Json => {
                let mut units = Map::new();
                units.insert("time".to_owned(), json!("s"));
                for wanted in &self.wanted {
                    units.insert(wanted.name.clone(), json!(wanted.unit(self.display)));
                }
                io.line(&json!({ "units": units }).to_string())
            }
        }
    }

    fn row(&mut self, io: &mut Io, recorder: &Recorder) -> Result<(), Failure> {
        let run = recorder.run();
        let time_s = run.tick() as f64 * TICK_S;
        let value = |wanted: &Wanted| run.plant.reading(wanted.component, wanted.reading);
        match self.format {
            Format::Csv => {
                let cells = self.wanted.iter().map(|wanted| self.cell(wanted, value(wanted)));
                let row: Vec<String> = std::iter::once(rounded(time_s).to_string()).chain(cells).collect();
                io.line(&row.join(","))
            }
            Format::Json => {
                let mut row = Map::new();
                row.insert("time".to_owned(), json!(rounded(time_s)));
                for wanted in &self.wanted {
                    let value = value(wanted);
                    let shown = match wanted.word(value).filter(|_| self.display) {
                        Some(word) => json!(word),
                        None => json!(wanted.number(value, self.display)),
                    };
                    row.insert(wanted.name.clone(), shown);
                }
                io.line(&Value::Object(row).to_string())
            }
        }
    }

    fn cell(&self, wanted: &Wanted, value: f64) -> String {
        match wanted.word(value).filter(|_| self.display) {
            Some(word) => csv(word.to_owned()),
            None => wanted.number(value, self.display).to_string(),
        }
    }
}

/// Ticks are whole hundredths of a second; the product with 0.05 is not always.
fn rounded(time_s: f64) -> f64 {
    (time_s * 100.0).round() / 100.0
}

/// A cell, quoted where it must be (RFC 4180).
fn csv(text: String) -> String {
    if text.contains([',', '"', '\n']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text }
}
