//! The demonstration: a robot crew brings a ship back, and another crew forgets something.

use crate::fault::Fault;
use crate::rooms::{ClassWanted, Rooms};
use crate::run_task::{RunHandle, ToRun};
use crate::server::Server;
use deadship_protocol::ErrorCode;
use deadship_run::dials::Dials;
use deadship_run::{Envelope, Event, Role, Who, timeline};
use deadship_store::{EventStore, StreamId};
use std::sync::Arc;
use tokio::sync::oneshot;
use uuid::Uuid;

/// How fast it goes unless told otherwise.
pub(crate) const SPEED: f64 = 60.0;

/// The drill, and the procedures of its two crews: team, procedure.
const DRILL: &str = "first-light";
const CREWS: [(&str, &str); 2] = [("Expert", "first-light"), ("Forgetful", "first-light-pump-forgotten")];

/// What plants report all the time; left out of the demonstration.
const EVERYDAY: [&str; 5] = ["started", "stopped", "restarted", "started-by-itself", "lost-supply"];

/// Records in one read.
const PAGE: u32 = 1_000;

/// Ticks that are still shown after an engine has shut down: 15 s of ship's time.
const AFTERMATH_TICKS: u64 = 300;

/// Opens a class with robot crews, prints what happens to each, and says what came of it.
pub(crate) async fn show(server: &Server, speed: f64) -> Result<(), Fault> {
    let rooms = &server.rooms;
    say!(
        "\nDemonstration: the drill '{DRILL}' with robot crews, {speed} times as fast as on board. One crew"
    );
    say!("knows its work, one forgets something. Each line: ship's time, event, who, what.\n");
    let crews: Vec<(&str, &str)> = CREWS.into_iter().filter(|(_, crew)| has_crew(rooms, crew)).collect();
    let mut following = Vec::new();
    for (team, crew) in &crews {
        let run = open(rooms, team, crew, speed).await?;
        following.push(follow(rooms, team, run));
    }
    let seen = futures_util::future::try_join_all(following).await?;
    say!();
    for ((team, _), seen) in crews.iter().zip(&seen) {
        conclude(team, seen);
    }
    let address = server.address();
    say!(
        "\nLook at http://{address}/ and http://{address}/api/runs. The server goes on serving; Ctrl-C stops it."
    );
    Ok(())
}

fn has_crew(rooms: &Rooms, crew: &str) -> bool {
    rooms.library.procedures_for(DRILL).iter().any(|file| file.stem() == crew)
}

async fn open(rooms: &Arc<Rooms>, team: &str, crew: &str, speed: f64) -> Result<Uuid, Fault> {
    let wanted = ClassWanted {
        by: "demonstration".to_owned(),
        drill: DRILL.to_owned(),
        teams: vec![team.to_owned()],
        title: Some("Demonstration".to_owned()),
        seed: None,
        dials: Dials::default(),
        hold: false,
        crew: Some(crew.to_owned()),
        from: None,
        boost: speed,
    };
    let opened = rooms.open_class(wanted).await?;
    opened.runs.first().map(|run| run.run).ok_or_else(|| {
        Fault::new(
            ErrorCode::RunFailed,
            "no run was opened by a fault of the program",
            "see the server's log",
        )
    })
}

/// What a run came to.
#[derive(Default)]
struct Seen {
    aim: Option<u64>,
    /// Trips and shutdowns, each with its cause and time.
    trips: Vec<String>,
    /// Tick of the first shutdown of an engine.
    shutdown: Option<u64>,
    end: Option<String>,
}

/// Prints what matters as it is kept, until the run is over, stands, or an engine has shut down.
async fn follow(rooms: &Arc<Rooms>, team: &str, run: Uuid) -> Result<Seen, Fault> {
    let handle = rooms.find(run).await?;
    let mut status = handle.status.clone();
    let mut seen = Seen::default();
    let mut next = 1;
    loop {
        let (last, tick, stands) = {
            let now = status.borrow_and_update();
            let state = &now.state;
            let stands = state.ended.is_some() || state.failed.is_some() || state.hold.is_some();
            (state.last_seq, state.tick, stands)
        };
        for envelope in read(&rooms.store, run, &mut next, last).await? {
            tell(team, &envelope, &mut seen);
        }
        let shown = seen.shutdown.is_some_and(|at| tick > at + AFTERMATH_TICKS);
        if shown && !stands {
            hold(&handle).await;
        }
        if stands || shown || status.changed().await.is_err() {
            return Ok(seen);
        }
    }
}

/// What was to be shown has been shown: the run waits for whoever wants to look.
async fn hold(handle: &RunHandle) {
    let (reply, answer) = oneshot::channel();
    let who = Who::person("demonstration", Role::Instructor);
    let script = ToRun::Script { who, id: Uuid::new_v4(), text: "hold".to_owned(), reply };
    if handle.to.send(script).await.is_ok() {
        let _ = answer.await;
    }
}

async fn read(
    store: &Arc<dyn EventStore>,
    run: Uuid,
    next: &mut u64,
    last: u64,
) -> Result<Vec<Envelope>, Fault> {
    let mut envelopes = Vec::new();
    while *next <= last {
        let (own, from) = (Arc::clone(store), *next);
        let page = tokio::task::spawn_blocking(move || own.read(StreamId(run), from, PAGE)).await;
        let page = page.map_err(|_| Fault::stopping())??;
        let Some(end) = page.last() else { break };
        *next = end.seq + 1;
        envelopes.extend(page.iter().filter_map(|record| Envelope::decode(&record.payload).ok()));
    }
    Ok(envelopes)
}

/// One plain line for what matters.
fn tell(team: &str, envelope: &Envelope, seen: &mut Seen) {
    let matters = match &envelope.event {
        Event::AimReached { .. } => {
            seen.aim = Some(envelope.tick);
            true
        }
        Event::Found { component, code, text, .. } => {
            let shutdown = code.starts_with("shutdown-") && code != "shutdown-reset";
            if shutdown || code.starts_with("tripped-") {
                let time = timeline::clock(envelope.tick);
                seen.trips.push(format!("{component} {text}, at {}", time.trim()));
            }
            if shutdown && seen.shutdown.is_none() {
                seen.shutdown = Some(envelope.tick);
            }
            !EVERYDAY.contains(&code.as_str())
        }
        Event::RunEnded { reason } => {
            seen.end = Some(reason.clone());
            true
        }
        Event::Said { .. }
        | Event::FaultSet { .. }
        | Event::HoldSet { .. }
        | Event::StepFailed { .. }
        | Event::ExpectationMissed { .. } => true,
        _ => false,
    };
    if matters {
        say!("  {team:<10} {}", timeline::line(envelope));
    }
}

fn conclude(team: &str, seen: &Seen) {
    match seen.aim {
        Some(tick) => {
            say!("{team}: the aim was reached after {} of ship's time.", timeline::clock(tick).trim())
        }
        None => {
            say!("{team}: the aim was not reached ({}).", seen.end.as_deref().unwrap_or("the run is on hold"))
        }
    }
    match seen.trips.as_slice() {
        [] => say!("{team}: nothing tripped."),
        trips => {
            for trip in trips {
                say!("{team}: {trip}");
            }
        }
    }
    if seen.aim.is_some() && !seen.trips.iter().any(|trip| trip.contains("shut down")) {
        say!("{team}: no engine was shut down; the cooling that the change-over took away was brought back.");
    }
}
