//! Opening a class.

use super::{MOST_LIVE, Rooms};
use crate::fault::Fault;
use crate::house::{HouseRecord, HouseRun};
use crate::loading::whole_log;
use crate::run_task::Start;
use crate::{clock, secret};
use deadship_protocol::{BeginFrom, DrillInfo, ErrorCode, LONGEST_NAME, MOST_TEAMS, OpenedRun};
use deadship_run::crew::Crew;
use deadship_run::dials::Dials;
use deadship_run::fork::{Change, fork};
use deadship_run::replay::Until;
use deadship_run::setup::{Prepared, Setup};
use deadship_run::timeline::clock as clock_of;
use deadship_run::words::is_unseen;
use deadship_run::{Command, Envelope, Event, Recorder, Role, Who};
use deadship_store::{EventStore, Expected, NewRecord, StreamId};
use std::collections::BTreeSet;
use std::sync::Arc;
use uuid::Uuid;

/// A class as asked for.
#[derive(Clone, Debug)]
pub(crate) struct ClassWanted {
    /// Who opens it.
    pub(crate) by: String,
    /// Drill.
    pub(crate) drill: String,
    /// Teams.
    pub(crate) teams: Vec<String>,
    /// Title; the drill's if there is none.
    pub(crate) title: Option<String>,
    /// Seed; the drill's if there is none.
    pub(crate) seed: Option<u64>,
    /// Where the drill's dials stand.
    pub(crate) dials: Dials,
    /// Begin on hold?
    pub(crate) hold: bool,
    /// Procedure for a robot crew.
    pub(crate) crew: Option<String>,
    /// The instant of a run at which each team begins; `None`: at the drill's own start.
    pub(crate) from: Option<BeginFrom>,
    /// Multiplies the speed: for demonstrations.
    pub(crate) boost: f64,
}

/// Where the runs of a class begin.
enum Beginning {
    /// At the start of a drill.
    Start(Box<Prepared>),
    /// At a tick of a run, with its log.
    Instant(Vec<Envelope>, u64),
}

/// A class that is kept and not yet launched: its id, its title, its runs.
type Kept = (Uuid, String, Vec<(OpenedRun, Start)>);
/// Longest title of a class, characters.
const LONGEST_TITLE: usize = 120;

/// A class that is open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ClassOpened {
    /// Class.
    pub(crate) class: Uuid,
    /// Title.
    pub(crate) title: String,
    /// Runs, in the order of the teams.
    pub(crate) runs: Vec<OpenedRun>,
}

impl Rooms {
    /// Opens a class: a run for each team, each kept before anyone is told of it.
    pub(crate) async fn open_class(self: &Arc<Self>, wanted: ClassWanted) -> Result<ClassOpened, Fault> {
        check_teams(&wanted.teams)?;
        check_title(wanted.title.as_deref().unwrap_or_default())?;
        if self.live() + wanted.teams.len() > MOST_LIVE {
            let text = format!("this server carries {MOST_LIVE} runs at a time");
            return Err(Fault::new(ErrorCode::Full, text, "end runs that are not needed any more"));
        }
        let (rooms, drill) = (Arc::clone(self), wanted.drill.clone());
        let opened = tokio::task::spawn_blocking(move || rooms.open_runs(wanted)).await;
        let (class, title, opened) = opened.map_err(|_| {
            let text = "the class could not be opened by a fault of the program";
            Fault::new(ErrorCode::RunFailed, text, "see the server's log")
        })??;
        let runs = opened.iter().map(|(run, _)| run.clone()).collect();
        for (opened, start) in opened {
            tracing::info!(%class, run = %opened.run, team = opened.team, drill, "a run is open");
            self.launch(start);
        }
        Ok(ClassOpened { class, title, runs })
    }

    /// Opens and keeps all runs of a class. Blocks.
    fn open_runs(&self, wanted: ClassWanted) -> Result<Kept, Fault> {
        let class = Uuid::new_v4();
        let who = Who::person(&wanted.by, Role::Instructor);
        let beginning = self.beginning(&wanted)?;
        let mut opened = Vec::new();
        let mut title = wanted.title.clone().unwrap_or_default();
        for team in &wanted.teams {
            let run = Uuid::new_v4();
            let at = clock::now();
            let (mut recorder, mut envelopes) = begin(&beginning, run, &who, &at)?;
            if wanted.hold || matches!(beginning, Beginning::Instant(..)) {
                envelopes.extend(recorder.hold("before the start", &at));
            }
            let crew = crew(&recorder.run().setup, wanted.crew.as_deref())?;
            if title.trim().is_empty() {
                title.clone_from(&recorder.run().setup.drill.title);
            }
            keep_new(&*self.store, run, &envelopes)?;
            let code = self.new_code(&opened)?;
            let boost = wanted.boost;
            let (team, holder, procedure) = (team.clone(), wanted.by.clone(), wanted.crew.clone());
            let start = Start { recorder, crew, procedure, team: team.clone(), holder, boost };
            opened.push((OpenedRun { run, team, code }, start));
        }
        let runs = opened.iter().map(|(run, _)| HouseRun {
            run: run.run,
            team: run.team.clone(),
            code: run.code.clone(),
        });
        let runs = runs.collect();
        let drill = opened
            .first()
            .map_or(wanted.drill, |(_, start): &(_, Start)| start.recorder.run().setup.drill.name.clone());
        let (by, crew) = (wanted.by, wanted.crew);
        let record =
            HouseRecord::ClassOpened { class: Some(class), title: title.clone(), drill, by, crew, runs };
        self.house.remember(record)?;
        Ok((class, title, opened))
    }

    /// The drill that was asked for, or the run in which the class is to begin.
    fn beginning(&self, wanted: &ClassWanted) -> Result<Beginning, Fault> {
        let Some(BeginFrom { run, tick }) = wanted.from else {
            let mut opening = self.library.opening(&wanted.drill, wanted.seed).map_err(|missing| {
                let help = "list the drills to see which there are";
                Fault::new(ErrorCode::UnknownDrill, missing.to_string(), help)
            })?;
            opening.team_sees_ratings = self.team_sees_ratings;
            opening.dials = wanted.dials;
            return self
                .setups
                .of(&opening)
                .map(|prepared| Beginning::Start(Box::new(prepared)))
                .map_err(|error| unopened(&error));
        };
        if self.state(run).is_none() {
            return Err(Fault::unknown_run(run));
        }
        let log = whole_log(&*self.store, run).map_err(|error| unopened(&error))?;
        let last = log.last().map_or(0, |last| last.tick);
        if tick > last {
            let text = format!("the run has got to {} and no further", clock_of(last).trim());
            return Err(Fault::new(ErrorCode::BadRequest, text, "name an instant of what has happened"));
        }
        Ok(Beginning::Instant(log, tick))
    }

    /// A code that no other run has.
    fn new_code(&self, besides: &[(OpenedRun, Start)]) -> Result<String, Fault> {
        loop {
            let code = secret::code().map_err(|error| {
                Fault::new(ErrorCode::RunFailed, error.to_string(), "see to the server's machine")
            })?;
            let new = besides.iter().all(|(run, _)| run.code != code);
            if new && self.house.memory().by_code(&code).is_none() {
                return Ok(code);
            }
        }
    }

    /// The drills there are. Drills that cannot be read are left out, and said on the log. Blocks the
    /// first time: each is read and checked against its ship.
    pub(crate) fn drills(&self) -> &[DrillInfo] {
        self.drills.get_or_init(|| self.read_drills())
    }

    fn read_drills(&self) -> Vec<DrillInfo> {
        let mut drills = Vec::new();
        for name in self.library.drills() {
            let opening = match self.library.opening(name, None) {
                Ok(opening) => opening,
                Err(missing) => {
                    tracing::warn!(drill = name, why = %missing, "a drill cannot be opened");
                    continue;
                }
            };
            let crews = opening.procedures.iter().map(|file| file.stem().to_owned()).collect();
            match Setup::new(opening) {
                Ok((setup, _)) => drills.push(DrillInfo {
                    name: name.to_owned(),
                    title: setup.drill.title.clone(),
                    ship: setup.drill.ship.clone(),
                    stations: crate::convert::stations(&setup.drill),
                    crews,
                }),
                Err(error) => tracing::warn!(drill = name, why = %error, "a drill cannot be opened"),
            }
        }
        drills
    }
}

/// The robot crew for a procedure; without one, nobody.
pub(crate) fn crew(setup: &Setup, procedure: Option<&str>) -> Result<Crew, Fault> {
    match procedure {
        None => Ok(Crew::idle()),
        some => Crew::new(setup, some).map_err(|error| {
            Fault::new(ErrorCode::BadRequest, error.to_string(), "name a procedure of this drill, or none")
        }),
    }
}

fn unopened(error: &dyn std::fmt::Display) -> Fault {
    let text = format!("the drill cannot be opened: {error}");
    Fault::new(ErrorCode::BadRequest, text, "correct the files of the drill and its ship")
}

/// Opens a run where the class begins. One that goes on from another has nobody in it: those who did the work until then
/// have left their stations, and what was noted and how it was rated stays with their run.
fn begin(beginning: &Beginning, run: Uuid, who: &Who, at: &str) -> Result<(Recorder, Vec<Envelope>), Fault> {
    let (log, tick) = match beginning {
        Beginning::Start(prepared) => return Ok(Recorder::open_prepared(run, prepared, who, at)),
        Beginning::Instant(log, tick) => (log, *tick),
    };
    let is_judgement = |envelope: &&Envelope| {
        envelope.tick <= tick && matches!(envelope.event, Event::Noted { .. } | Event::Rated { .. })
    };
    let changes: Vec<Change> =
        log.iter().filter(is_judgement).map(|envelope| Change::Drop { seq: envelope.seq }).collect();
    let (mut recorder, mut envelopes) =
        fork(log, Until::Tick(tick), run, &changes, who, at).map_err(|error| unopened(&error))?;
    let people: Vec<Who> = recorder
        .run()
        .state
        .people
        .values()
        .filter(|person| person.station.is_some())
        .map(|person| person.who.clone())
        .collect();
    for person in people {
        envelopes.extend(recorder.command(&Command::LeaveStation {}, &person, None, at).envelopes);
    }
    Ok((recorder, envelopes))
}

fn keep_new(store: &dyn EventStore, run: Uuid, envelopes: &[Envelope]) -> Result<(), Fault> {
    let record = |envelope: &Envelope| NewRecord { event_id: envelope.event_id, payload: envelope.encode() };
    let records: Vec<NewRecord> = envelopes.iter().map(record).collect();
    store.append(StreamId(run), Expected::NoStream, &records)?;
    Ok(())
}

fn check_teams(teams: &[String]) -> Result<(), Fault> {
    if teams.is_empty() || teams.len() > MOST_TEAMS {
        let text = format!("a class has 1 to {MOST_TEAMS} teams, not {}", teams.len());
        return Err(Fault::new(ErrorCode::BadRequest, text, "name each team once"));
    }
    let mut seen = BTreeSet::new();
    for team in teams {
        check_name(team)?;
        if !seen.insert(team.trim()) {
            let text = format!("two teams are called {team}");
            return Err(Fault::new(ErrorCode::BadRequest, text, "name each team once"));
        }
    }
    Ok(())
}

fn check_title(title: &str) -> Result<(), Fault> {
    if title.chars().count() > LONGEST_TITLE || title.chars().any(is_unseen) {
        let text = format!("a title has at most {LONGEST_TITLE} characters, all of which can be seen");
        return Err(Fault::new(ErrorCode::BadRequest, text, "choose another title"));
    }
    Ok(())
}

/// Names of people and teams.
pub(crate) fn check_name(name: &str) -> Result<(), Fault> {
    let length = name.chars().count();
    let bad = name.trim() != name || length == 0 || length > LONGEST_NAME;
    if bad || name.contains('/') || name.chars().any(is_unseen) {
        let text = format!(
            "a name has 1 to {LONGEST_NAME} characters that can be seen, no `/`, and no space at its ends"
        );
        return Err(Fault::new(ErrorCode::BadName, text, "choose another name"));
    }
    Ok(())
}
