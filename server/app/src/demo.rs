//! The demonstration: a robot crew brings a ship back, and another crew forgets something.

use crate::fault::Fault;
use crate::rooms::{ClassWanted, Rooms};
use crate::server::Server;
use deadship_protocol::ErrorCode;
use deadship_run::{Envelope, Event, timeline};
use deadship_store::{EventStore, StreamId};
use std::sync::Arc;
use uuid::Uuid;

/// How fast it goes unless told otherwise.
pub(crate) const SPEED: f64 = 40.0;

/// The drill, and the procedures of its two crews: team, procedure.
const DRILL: &str = "first-light";
const CREWS: [(&str, &str); 2] = [("Expert", "first-light"), ("Forgetful", "first-light-pump-forgotten")];

/// Records in one read.
const PAGE: u32 = 1_000;

/// Opens a class with robot crews, one after the other, prints what happens, and says what came of it.
pub(crate) async fn show(server: &Server, speed: f64) -> Result<(), Fault> {
    let rooms = &server.rooms;
    println!("\nDemonstration: the drill '{DRILL}' with robot crews, {speed} times as fast as on board.");
    for (team, crew) in CREWS {
        if !has_crew(rooms, crew) {
            continue;
        }
        let run = open(rooms, team, crew, speed).await?;
        println!("\n{team} (procedure {crew}):");
        let seen = follow(rooms, run).await?;
        conclude(team, &seen);
    }
    let address = server.address();
    println!(
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
        hold: false,
        crew: Some(crew.to_owned()),
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
    trips: Vec<String>,
    end: Option<String>,
}

/// Prints what matters as it is kept, until the run is over or the crew has nothing left to do.
async fn follow(rooms: &Arc<Rooms>, run: Uuid) -> Result<Seen, Fault> {
    let handle = rooms.find(run).await?;
    let mut status = handle.status.clone();
    let mut seen = Seen::default();
    let mut next = 1;
    loop {
        let (last, stands) = {
            let now = status.borrow_and_update();
            let state = &now.state;
            (state.last_seq, state.ended.is_some() || state.failed.is_some() || state.hold.is_some())
        };
        for envelope in read(&rooms.store, run, &mut next, last).await? {
            tell(&envelope, &mut seen);
        }
        if stands || seen.aim.is_some() || status.changed().await.is_err() {
            return Ok(seen);
        }
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
fn tell(envelope: &Envelope, seen: &mut Seen) {
    let matters = match &envelope.event {
        Event::AimReached { .. } => {
            seen.aim = Some(envelope.tick);
            true
        }
        Event::Found { component, code, text, .. } => {
            if code.contains("trip") {
                let time = timeline::clock(envelope.tick);
                seen.trips.push(format!("{component} {text}, at {} ship's time", time.trim()));
            }
            true
        }
        Event::RunEnded { reason } => {
            seen.end = Some(reason.clone());
            true
        }
        Event::Said { .. }
        | Event::StepTicked { .. }
        | Event::FaultSet { .. }
        | Event::HoldSet { .. }
        | Event::StepFailed { .. }
        | Event::ExpectationMissed { .. } => true,
        _ => false,
    };
    if matters {
        println!("  {}", timeline::line(envelope));
    }
}

fn conclude(team: &str, seen: &Seen) {
    match seen.aim {
        Some(tick) => {
            println!("{team}: the aim was reached after {} of ship's time.", timeline::clock(tick).trim())
        }
        None => println!(
            "{team}: the aim was not reached ({}).",
            seen.end.as_deref().unwrap_or("it stands still")
        ),
    }
    match seen.trips.as_slice() {
        [] => println!("{team}: nothing tripped."),
        trips => println!("{team}: tripped: {}.", trips.join("; ")),
    }
}
