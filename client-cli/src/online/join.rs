//! `deadship join`: a seat in a team.

use super::address::Address;
use super::line_mode::{LineMode, Part, Todo};
use super::link::{Link, NoLink, joined};
use super::seat::{self, Seat};
use super::show::{self, Gauges};
use super::views::{FORM, Views};
use crate::cli::JoinArgs;
use crate::failure::Failure;
use crate::io::{Io, beside, wrap};
use crate::screen::{self, Palette, SeatKeeper, TeamScreen};
use deadship_protocol::{
    ClientMessage, ErrorCode, Identity, LONGEST_LINE, ServerMessage, VERSION, WelcomeMessage,
};
use tokio::sync::mpsc;
use uuid::Uuid;

pub(super) async fn join(
    io: &mut Io,
    address: &Address,
    args: &JoinArgs,
    plain: bool,
) -> Result<u8, Failure> {
    let known = seat::load(io, address);
    let (link, welcome, seat) = if args.look_on {
        look_on(address, args).await?
    } else if args.back {
        let Some(seat) = known else {
            let text = format!(
                "you have no seat on {address}; join with `deadship join {address} CODE --name NAME`"
            );
            return Err(Failure::Link(text));
        };
        let (link, welcome) = with_token(address, &seat).await.map_err(|no| no.failure(address))?;
        (link, welcome, seat)
    } else {
        first_time(address, args, known).await?
    };
    // The sender is kept, so that nothing ever comes and nothing is ever closed.
    let (_sender, beside) = mpsc::channel(1);
    if screen::wanted(plain) {
        let (folder, looks_on) = (io.state_folder.clone(), args.look_on);
        let keeper = SeatKeeper { address: address.clone(), folder, seat, looks_on };
        let team = TeamScreen::new(keeper, Palette::from_environment(), args.back);
        return screen::work(address, team, beside, link, &welcome).await;
    }
    let views = Views::new(&seat.name, false);
    let mut part = Team {
        address: address.clone(),
        seat,
        back: args.back,
        looks_on: args.look_on,
        watching: None,
        gauges: Gauges::default(),
        views,
    };
    if let (Some(station), None, true) = (&args.station, &welcome.station, args.back) {
        io.tell(&format!("you hold no station; type `station {station}` to take it"));
    }
    if let Some(token) = &welcome.token {
        part.seat.token.clone_from(token);
    }
    LineMode::new(io, address, part, beside).run(link, &welcome).await
}

/// Without a seat: nothing to come back to but the code.
async fn look_on(address: &Address, args: &JoinArgs) -> Result<(Link, Box<WelcomeMessage>, Seat), Failure> {
    let code = args.code.clone().unwrap_or_default();
    let seat = Seat { code, name: "observer".to_owned(), token: String::new(), last_seq: 0 };
    let (link, welcome) =
        Link::open(address, &look_on_again(&seat)).await.map_err(|no| no.failure(address))?;
    Ok((link, welcome, seat))
}

fn look_on_again(seat: &Seat) -> ClientMessage {
    let identity = Identity::LookOn { code: seat.code.clone() };
    ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: Some(seat.last_seq) }
}

async fn with_token(address: &Address, seat: &Seat) -> Result<(Link, Box<WelcomeMessage>), NoLink> {
    Link::open(address, &hello_again(seat)).await
}

fn hello_again(seat: &Seat) -> ClientMessage {
    let identity = Identity::Token { token: seat.token.clone() };
    ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: Some(seat.last_seq) }
}

/// With code and name; who has this name already, from here, comes back.
async fn first_time(
    address: &Address,
    args: &JoinArgs,
    known: Option<Seat>,
) -> Result<(Link, Box<WelcomeMessage>, Seat), Failure> {
    let (Some(code), Some(name)) = (&args.code, args.name.as_ref().or(args.who.as_ref())) else {
        let text =
            "who are you? write `deadship join ADDRESS CODE --name NAME`, or `--back` for the seat you had";
        return Err(Failure::Asked(text.to_owned()));
    };
    let identity = Identity::Join { code: code.clone(), name: name.clone(), station: args.station.clone() };
    let hello = ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: None };
    match Link::open(address, &hello).await {
        Ok((link, welcome)) => {
            let last_seq = welcome.run.as_ref().map_or(0, |run| run.last_seq);
            let seat = Seat { code: code.clone(), name: name.clone(), token: String::new(), last_seq };
            Ok((link, welcome, seat))
        }
        Err(refused @ NoLink::Refused { code: ErrorCode::NameTaken, .. }) => {
            let Some(seat) = known.filter(|seat| seat.code == *code && seat.name == *name) else {
                return Err(refused.failure(address));
            };
            let (link, welcome) = with_token(address, &seat).await.map_err(|_| refused.failure(address))?;
            Ok((link, welcome, seat))
        }
        Err(no) => Err(no.failure(address)),
    }
}

struct Team {
    address: Address,
    seat: Seat,
    /// Was the brief read before?
    back: bool,
    /// Without a seat.
    looks_on: bool,
    /// The last line about gauges: a new link knows nothing of it.
    watching: Option<String>,
    gauges: Gauges,
    views: Views,
}

impl Team {
    fn save(&self, io: &mut Io) {
        if !self.looks_on {
            seat::save(io, &self.address, &self.seat);
        }
    }
}

impl Part for Team {
    fn hello(&self) -> ClientMessage {
        if self.looks_on {
            return look_on_again(&self.seat);
        }
        hello_again(&self.seat)
    }

    fn welcome(
        &mut self,
        io: &mut Io,
        welcome: &WelcomeMessage,
        again: bool,
    ) -> Result<Vec<ClientMessage>, Failure> {
        if let Some(token) = &welcome.token {
            self.seat.token.clone_from(token);
        }
        self.save(io);
        if again {
            let watching = self.watching.iter().cloned();
            return Ok(watching.map(|text| ClientMessage::Line { id: Uuid::new_v4(), text }).collect());
        }
        for paragraph in welcome.brief.split("\n\n").filter(|_| !self.back) {
            io.line(&wrap(paragraph, 0))?;
            io.line("")?;
        }
        if let Some(run) = &welcome.run {
            io.line(&show::state(run))?;
        }
        let stations: Vec<String> =
            welcome.stations.iter().map(|station| format!("{} ({})", station.name, station.title)).collect();
        match &welcome.station {
            Some(station) => io.line(&format!("you are {}, station {station}", welcome.name))?,
            None if self.looks_on => {
                io.tell("you look on: you see what the team is told; `quit` leaves");
                io.flush()?;
                return Ok(Vec::new());
            }
            None => io.line(&format!(
                "you are {}, without station; take one with `station NAME`: {}",
                welcome.name,
                stations.join(", ")
            ))?,
        }
        io.tell("`help` lists the words, `quit` leaves; your seat is kept for `--back`");
        io.flush()?;
        Ok(Vec::new())
    }

    fn typed(&mut self, io: &mut Io, text: &str) -> Result<Todo, Failure> {
        if text.chars().count() > LONGEST_LINE {
            io.line("refused: the line is too long")?;
            return Ok(Todo::Refused);
        }
        match text.split_whitespace().next() {
            Some("watch") => self.watching = Some(text.to_owned()),
            Some("unwatch") => self.watching = None,
            Some("show") => return show_view(io, &mut self.views, text),
            Some("help") if text.trim() == "help" => io.line(&beside(FORM.0, 46, FORM.1))?,
            _ => {}
        }
        Ok(Todo::Send(vec![ClientMessage::Line { id: Uuid::new_v4(), text: text.to_owned() }]))
    }

    fn heard(
        &mut self,
        io: &mut Io,
        message: ServerMessage,
        asked: Option<&ClientMessage>,
    ) -> Result<(bool, Vec<ClientMessage>), Failure> {
        let watched = self.watching.clone();
        let (message, more) = self.views.take(io, message, asked, &[], watched.as_deref())?;
        let Some(message) = message else { return Ok((true, more)) };
        let mut yes = true;
        match message {
            ServerMessage::Event(event) if event.seq > self.seat.last_seq => {
                self.seat.last_seq = event.seq;
                // One's own refusals come as answers, too.
                if event.kind != "act-refused" {
                    io.line(&show::event(None, &event))?;
                }
            }
            ServerMessage::Gauges(gauges) => self.gauges.show(io, &gauges)?,
            ServerMessage::State(state) => {
                // Hold, speed and end come as events; only what is no event is told here.
                if state.reached_speed.is_some() || state.failed.is_some() {
                    io.line(&show::state(&state))?;
                }
            }
            ServerMessage::Lagging { .. } => io.tell("the link is slow; what is missing comes again"),
            other => yes = show_answer(io, other, asked)?,
        }
        Ok((yes, Vec::new()))
    }

    fn has_shown(&self, seq: u64) -> bool {
        self.seat.last_seq >= seq && !self.views.is_waiting()
    }

    fn is_waiting(&self) -> bool {
        self.views.is_waiting()
    }

    fn left(&mut self, io: &mut Io) {
        self.save(io);
    }

    fn way_back(&self, address: &Address) -> String {
        match self.looks_on {
            true => format!("deadship join {address} {} --look-on", self.seat.code),
            false => format!("deadship join {address} --back"),
        }
    }
}

/// `show VIEW [NAME]`: what is to be asked for it.
pub(super) fn show_view(io: &mut Io, views: &mut Views, text: &str) -> Result<Todo, Failure> {
    let rest = text.trim().strip_prefix("show").unwrap_or_default().trim();
    match views.want(rest) {
        Ok(messages) => Ok(Todo::Send(messages)),
        Err(why) => {
            io.line(&format!("refused: {text}: {why}"))?;
            Ok(Todo::Refused)
        }
    }
}

/// Answers, refusals and errors, which look the same for everybody. Was it a yes?
pub(super) fn show_answer(
    io: &mut Io,
    message: ServerMessage,
    asked: Option<&ClientMessage>,
) -> Result<bool, Failure> {
    let text = match asked {
        Some(ClientMessage::Line { text, .. }) => text.as_str(),
        Some(ClientMessage::Open { .. }) => "open",
        Some(ClientMessage::Use { .. }) => "use",
        Some(ClientMessage::ClassLine { text, .. }) => text.as_str(),
        Some(ClientMessage::Hand { .. }) => "hand",
        _ => "",
    };
    match message {
        ServerMessage::Answer { lines, .. } => {
            for line in lines {
                io.line(&line)?;
            }
        }
        ServerMessage::Refused { reasons, .. } => {
            io.line(&show::refused(text, &reasons))?;
            return Ok(false);
        }
        ServerMessage::Error { code, text: what, remedy, .. } => {
            let before = if text.is_empty() { String::new() } else { format!("{text}: ") };
            io.line(&format!("refused: {before}{} ({code})", joined(&what, &remedy)))?;
            return Ok(false);
        }
        ServerMessage::Busy { .. } => {
            io.line(&format!("refused: {text}: the run has too much to do (busy)"))?;
            return Ok(false);
        }
        _ => {}
    }
    Ok(true)
}
