//! The least that a server of rooms can do: it passes on what is said to everybody of the room, and sends everybody as
//! many frames of readings as the real one. It decides nothing, keeps nothing, and steps no plant.

use crate::Args;
use crate::client::{Plan, Seat};
use crate::figures::Machine;
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, web};
use actix_ws::AggregatedMessage;
use futures_util::StreamExt as _;
use std::collections::BTreeMap;
use std::io::{BufRead as _, BufReader};
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::broadcast;

struct Rooms {
    /// From one frame of readings to the next.
    every: Duration,
    open: Mutex<BTreeMap<String, broadcast::Sender<Arc<str>>>>,
}

/// A frame of readings, about as long as the real server's when little changes.
const READINGS: &str = "{\"type\":\"gauges\",\"run\":\"00000000-0000-0000-0000-000000000000\",\"tick\":1,\"time\":\"0:00.0\",\"base\":1,\"readings\":[]}";

/// Serves until it is killed.
pub(crate) fn serve(readings_ms: u64) -> ExitCode {
    let every = Duration::from_millis(readings_ms.max(1));
    let rooms = web::Data::new(Rooms { every, open: Mutex::default() });
    let served = actix_web::rt::System::new().block_on(async move {
        let server = HttpServer::new(move || {
            App::new().app_data(rooms.clone()).route("/{room}", web::get().to(endpoint))
        })
        .workers(2)
        .bind(("127.0.0.1", 0))?;
        if let Some(address) = server.addrs().first() {
            println!("Serving on {address}. ");
        }
        server.run().await
    });
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("the bare server: {error}");
            ExitCode::FAILURE
        }
    }
}

fn room(rooms: &Rooms, name: &str) -> broadcast::Sender<Arc<str>> {
    let every = rooms.every;
    let mut rooms = rooms.open.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(room) = rooms.get(name) {
        return room.clone();
    }
    let room = broadcast::channel(256).0;
    rooms.insert(name.to_owned(), room.clone());
    let ticking = room.clone();
    actix_web::rt::spawn(async move {
        let mut due = tokio::time::interval(every);
        loop {
            due.tick().await;
            let _ = ticking.send(READINGS.into());
        }
    });
    room
}

async fn endpoint(
    request: HttpRequest,
    body: web::Payload,
    path: web::Path<String>,
    rooms: web::Data<Rooms>,
) -> Result<HttpResponse, actix_web::Error> {
    let (response, mut session, stream) = actix_ws::handle(&request, body)?;
    let mut stream = stream.aggregate_continuations();
    let room = room(&rooms, &path);
    let mut heard = room.subscribe();
    actix_web::rt::spawn(async move {
        loop {
            let sent = tokio::select! {
                message = stream.next() => match message {
                    Some(Ok(AggregatedMessage::Text(text))) => match text.split_once("\"id\":\"") {
                        Some((_, rest)) => {
                            let id = rest.get(..36).unwrap_or_default();
                            let _ = room.send(format!("{{\"type\":\"event\",\"seq\":1,\"text\":{text:?}}}").into());
                            session.text(format!("{{\"type\":\"accepted\",\"id\":\"{id}\",\"seq\":1}}")).await
                        }
                        None => Ok(()),
                    },
                    Some(Ok(_)) => Ok(()),
                    _ => return,
                },
                frame = heard.recv() => match frame {
                    Ok(frame) => session.text(frame.to_string()).await,
                    Err(_) => Ok(()),
                },
            };
            if sent.is_err() {
                return;
            }
        }
    });
    Ok(response)
}

/// The bare server in a process of its own.
pub(crate) struct Process {
    child: Child,
    address: String,
}

impl Process {
    /// It sends each client a frame of readings after so many milliseconds.
    pub(crate) fn start(readings_ms: u64) -> Process {
        let words = ["--be".to_owned(), "bare".to_owned(), format!("--readings-ms={readings_ms}")];
        let started = std::env::current_exe()
            .and_then(|program| Command::new(program).args(words).stdout(Stdio::piped()).spawn());
        let Ok(mut child) = started else { panic!("the bare server does not start") };
        let mut line = String::new();
        if let Some(out) = child.stdout.take() {
            let _ = BufReader::new(out).read_line(&mut line);
        }
        let Some((_, address)) = line.split_once("erving on ") else {
            panic!("the bare server serves nothing")
        };
        let address = address.split(". ").next().unwrap_or_default().trim().to_owned();
        Process { child, address }
    }

    /// The same clients in the same rooms; they have nothing to say first.
    pub(crate) fn plan(&self, args: &Args) -> Plan {
        let team_of = |client: usize| client * args.runs / args.clients;
        let mut readers = vec![0; args.runs];
        (args.stalled..args.clients).for_each(|client| readers[team_of(client)] += 1);
        let seat = |client| {
            let team = team_of(client);
            Seat { path: format!("/{team}"), first: Vec::new(), team }
        };
        Plan { address: self.address.clone(), seats: (0..args.clients).map(seat).collect(), readers }
    }

    pub(crate) fn machine(&self) -> Machine {
        Machine { server: self.child.id() }
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
