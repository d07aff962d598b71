//! `deadship rehearse`: a whole drill in one process, as fast as the machine goes.

use crate::cli::RehearseArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::{Io, wrap_long_lines};
use crate::library::{Library, as_path};
use crate::trial::{AT, open_failed};
use deadship_run::crew::{Crew, Manner};
use deadship_run::debrief::Debrief;
use deadship_run::ids::run_id;
use deadship_run::opening::{Opening, TextFile};
use deadship_run::setup::{Setup, ticks};
use deadship_run::{Command, Envelope, Event, Recorder, Role, Who, timeline};
use deadship_store::archive::ArchiveWriter;
use deadship_store::{NewRecord, StreamId};
use serde_json::{Value, json};
use std::path::Path;
use uuid::Uuid;

/// Who does the work.
enum Hands {
    Nobody,
    Procedure(TextFile),
}

/// `deadship rehearse`.
pub(crate) fn rehearse(io: &mut Io, library: &mut Library, args: &RehearseArgs) -> Result<u8, Failure> {
    let drill = library.drill(&args.drill)?;
    let hands = hands(library, args, &drill)?;
    let opening = opening(library, args, drill, &hands)?;
    let id = run_id(&opening.drill, opening.seed);
    let who = Who::person("rehearsal", Role::Instructor);
    let (recorder, first) = Recorder::open(id, opening, &who, AT).map_err(open_failed)?;
    let crew = crew(&recorder.run().setup, &hands)?;
    let manner = args.pace.map(|seed| Manner::new(seed, f64::from(args.skill) / 100.0));
    let crew = match manner {
        Some(manner) => crew.map(|crew| crew.with_manner(manner)),
        None => crew,
    };
    let record = args.record.as_deref().map(|path| new_archive(path, id)).transpose()?;
    let mut rehearsal = Rehearsal { recorder, crew, log: Vec::new(), record, quiet: args.quiet };
    rehearsal.keep(io, first)?;
    rehearsal.run(io, ticks(args.at_most), &who)?;
    rehearsal.close(io, args)
}

fn hands(library: &Library, args: &RehearseArgs, drill: &TextFile) -> Result<Hands, Failure> {
    match args.crew.as_str() {
        "idle" => Ok(Hands::Nobody),
        "expert" => match library.procedure(drill.stem()) {
            Ok(procedure) => Ok(Hands::Procedure(procedure)),
            Err(_) => Err(Failure::Asked(format!(
                "the drill `{0}` has no procedure of its own name, `{0}`; choose another with `--crew NAME`, or `--crew \
                 idle`{1}",
                drill.stem(),
                others(library, drill.stem())
            ))),
        },
        name => library.procedure(name).map(Hands::Procedure),
    }
}

fn others(library: &Library, drill: &str) -> String {
    let others: Vec<String> =
        library.procedures_for(drill).iter().map(|procedure| procedure.stem().to_owned()).collect();
    if others.is_empty() { String::new() } else { format!("; there are: {}", others.join(", ")) }
}

/// All procedures for the drill are part of the run; one from a file takes the place of its namesake.
fn opening(
    library: &Library,
    args: &RehearseArgs,
    drill: TextFile,
    hands: &Hands,
) -> Result<Opening, Failure> {
    let mut procedures = library.procedures_for(drill.stem());
    if let Hands::Procedure(chosen) = hands
        && (as_path(&args.crew).is_some() || !procedures.contains(chosen))
    {
        procedures.retain(|known| known.stem() != chosen.stem());
        procedures.push(chosen.clone());
    }
    let mut opening = library.opening(drill, procedures, args.seed)?;
    opening.dials = args.dials.dials();
    Ok(opening)
}

fn crew(setup: &Setup, hands: &Hands) -> Result<Option<Crew>, Failure> {
    match hands {
        Hands::Nobody => Ok(None),
        Hands::Procedure(file) => {
            let crew = Crew::new(setup, Some(file.stem()));
            crew.map(Some).map_err(|error| Failure::Asked(error.to_string()))
        }
    }
}

struct Rehearsal {
    recorder: Recorder,
    crew: Option<Crew>,
    log: Vec<Envelope>,
    record: Option<ArchiveWriter>,
    quiet: bool,
}

impl Rehearsal {
    /// Until the run is over, or cannot go on.
    fn run(&mut self, io: &mut Io, at_most: u64, who: &Who) -> Result<(), Failure> {
        while self.recorder.run().goes() {
            if self.recorder.run().tick() >= at_most {
                let outcome = self.recorder.command(&Command::End {}, who, None, AT);
                return self.keep(io, outcome.envelopes);
            }
            if let Some(crew) = &mut self.crew {
                let done = crew.act(&mut self.recorder, AT);
                self.keep(io, done)?;
            }
            let envelopes = self.recorder.tick(AT);
            self.keep(io, envelopes)?;
        }
        Ok(())
    }

    /// Stores, tells and keeps what happened at once.
    fn keep(&mut self, io: &mut Io, envelopes: Vec<Envelope>) -> Result<(), Failure> {
        if envelopes.is_empty() {
            return Ok(());
        }
        if let Some(record) = &mut self.record {
            write_down(record, &envelopes)?;
        }
        if !self.quiet {
            for envelope in envelopes.iter().filter(|envelope| important(&envelope.event)) {
                io.tell(&timeline::line(envelope));
            }
        }
        self.log.extend(envelopes);
        Ok(())
    }

    fn close(self, io: &mut Io, args: &RehearseArgs) -> Result<u8, Failure> {
        if let Some(record) = self.record {
            record.finish()?;
        }
        let run = self.recorder.run();
        let reached = self.log.iter().any(|envelope| matches!(envelope.event, Event::AimReached { .. }));
        let has_aim = run.setup.drill.aim.is_some();
        let debrief = Debrief::of(&self.log);
        if args.json {
            let debrief: Value = serde_json::from_str(&debrief.to_json()).unwrap_or(Value::Null);
            let all = json!({
                "drill": run.setup.drill.name,
                "seed": run.setup.opening.seed,
                "dials": run.setup.opening.dials,
                "aim_reached": has_aim.then_some(reached),
                "failed": run.state.failed,
                "ticks": run.tick(),
                "events": run.last_seq,
                "digest": run.digest(),
                "debrief": debrief,
            });
            io.line(&format!("{all:#}"))?;
        } else {
            io.line(wrap_long_lines(&debrief.to_text()).trim_end())?;
            io.line("")?;
            for given_up in self.crew.iter().flat_map(|crew| crew.given_up()) {
                let time = timeline::clock(given_up.tick);
                io.line(&format!("given up at {}: {}: {}", time.trim(), given_up.step, given_up.why))?;
            }
            if let Some(failed) = &run.state.failed {
                io.line(&format!("the plant cannot be stepped on: {failed}"))?;
            }
            io.line(&format!("digest {}, {} ticks, {} events", run.digest(), run.tick(), run.last_seq))?;
        }
        io.flush()?;
        let well = run.state.failed.is_none() && (reached || !has_aim);
        Ok(if well { WELL } else { NO })
    }
}

/// An archive to write a run down in; an existing file is never overwritten.
pub(crate) fn new_archive(path: &Path, run: Uuid) -> Result<ArchiveWriter, Failure> {
    if path.exists() {
        let path = path.display();
        let text = format!("{path} exists already, and nothing is overwritten: name another file");
        return Err(Failure::Asked(text));
    }
    Ok(ArchiveWriter::create(path, StreamId(run))?)
}

/// Writes events down.
pub(crate) fn write_down(archive: &mut ArchiveWriter, envelopes: &[Envelope]) -> Result<(), Failure> {
    let record_of = |e: &Envelope| NewRecord { event_id: e.event_id, payload: e.encode() };
    let records: Vec<NewRecord> = envelopes.iter().map(record_of).collect();
    Ok(archive.append(&records).map(|_| ())?)
}

/// What is told by default: what people and the drill do, and the plant's facts without the many needs.
pub(crate) fn important(event: &Event) -> bool {
    !matches!(
        event,
        Event::Digest { .. } | Event::NeedLost { .. } | Event::NeedMet { .. } | Event::AlertCleared { .. }
    )
}
