//! `deadship teach`: the instructor's line mode.

use super::address::Address;
use super::class::{class_answer, show_board};
use super::directing::{self, Known};
use super::follow::follow;
use super::join::{show_answer, show_view};
use super::line_mode::{LineMode, Part, Todo};
use super::link::Link;
use super::show::{self, Gauges};
use super::views::Views;
use crate::failure::Failure;
use crate::io::{Io, beside};
use crate::screen::{self, ClassScreen, Palette, Screen};
use deadship_plant::file::toml_reader::nearest;
use deadship_protocol::{
    BoardClass, ClientMessage, DrillInfo, EventMessage, Identity, OpenedRun, RunInfo, RunState,
    ServerMessage, VERSION, WelcomeMessage,
};
use std::collections::BTreeMap;
use tokio::sync::mpsc;
use uuid::Uuid;

/// Messages of other links that wait to be shown.
const ROOM: usize = 256;

/// The words that only this terminal knows, for `help`.
pub(crate) const WORDS: [(&str, &str); 12] = [
    (
        "open DRILL [TEAM …]",
        "open a class: a run for each team, on hold; also crew=NAME seed=NUMBER difficulty=high stress=low hold=no",
    ),
    (
        "again TEAM TIME [TEAM …]",
        "open a class that begins where a team's run was at a time, on hold: again Red 12:30 Red-2, Blue-2",
    ),
    ("use TEAM | use RUN", "the run that lines go to from now on"),
    ("all LINE", "the same line to every team of the class in use whose run is not over: all resume"),
    ("for TEAM, TEAM: LINE", "the same line to some of its teams: for Red, Blue: fault dg1.engine.seized"),
    ("board", "every team at a glance"),
    (
        "hand NAME",
        "another instructor holds the class in use from now on; one whose holder has left can be taken over",
    ),
    ("runs", "the runs, their teams, join codes and people"),
    ("drills", "the drills of the server"),
    super::views::FORM,
    ("wait TIME", "send nothing more for so long: for scripts"),
    ("quit", "leave; the runs go on"),
];

pub(super) async fn teach(
    io: &mut Io,
    address: Address,
    key: &str,
    name: Option<&str>,
    plain: bool,
) -> Result<u8, Failure> {
    if screen::wanted(plain) {
        let class = ClassScreen::new(address.clone(), key, name, Palette::from_environment());
        let opened = Link::open(&address, &class.hello()).await;
        let (link, welcome) = opened.map_err(|no| no.failure(&address))?;
        // The sender is kept, so that nothing ever comes and nothing is ever closed.
        let (_sender, beside) = mpsc::channel(1);
        return screen::work(&address, class, beside, link, &welcome).await;
    }
    let (sender, others) = mpsc::channel(ROOM);
    let part = Instructor {
        address: address.clone(),
        key: key.to_owned(),
        name: name.map(str::to_owned),
        who: String::new(),
        used: None,
        runs: Vec::new(),
        drills: Vec::new(),
        shown: BTreeMap::new(),
        followed: Vec::new(),
        sender,
        asked_by_hand: false,
        gauges: Gauges::default(),
        views: Views::new("", true),
        watching: None,
        board: None,
        shows_board: true,
    };
    let opened = Link::open(&address, &part.hello()).await;
    let (link, welcome) = opened.map_err(|no| no.failure(&address))?;
    LineMode::new(io, &address, part, others).run(link, &welcome).await
}

pub(super) struct Instructor {
    address: Address,
    key: String,
    /// Name that was asked for.
    name: Option<String>,
    /// The instructor as events name them.
    who: String,
    pub(super) used: Option<Uuid>,
    /// In the order of their opening, as far as known.
    pub(super) runs: Vec<Known>,
    drills: Vec<DrillInfo>,
    /// The last event of each run that was shown.
    shown: BTreeMap<Uuid, u64>,
    /// Runs that have a link of their own, so that their events come, too.
    followed: Vec<Uuid>,
    sender: mpsc::Sender<ServerMessage>,
    /// Lists that the terminal asked for itself are not shown.
    asked_by_hand: bool,
    gauges: Gauges,
    views: Views,
    /// The last line about gauges.
    watching: Option<String>,
    /// The board as it came last.
    board: Option<Vec<BoardClass>>,
    /// Is the board shown when it comes because it was asked for?
    shows_board: bool,
}

impl Part for Instructor {
    fn hello(&self) -> ClientMessage {
        let identity = Identity::Teach { key: self.key.clone(), name: self.name.clone() };
        let last_seq = self.used.and_then(|run| self.shown.get(&run).copied());
        ClientMessage::Hello { version: VERSION, identity, run: self.used, last_seq }
    }

    fn welcome(
        &mut self,
        io: &mut Io,
        welcome: &WelcomeMessage,
        again: bool,
    ) -> Result<Vec<ClientMessage>, Failure> {
        if !again {
            io.tell(&format!("you are the {} on {}, server {}", welcome.name, self.address, welcome.server));
            io.tell(
                "`help` lists the words; `open DRILL TEAM …` opens a class; `quit` leaves, the runs go on",
            );
        }
        self.who = format!("instructor {}", welcome.name);
        self.asked_by_hand = false;
        Ok(vec![ClientMessage::Drills {}, ClientMessage::Runs {}])
    }

    fn typed(&mut self, io: &mut Io, text: &str) -> Result<Todo, Failure> {
        let (word, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let rest = rest.trim();
        match word {
            "watch" => self.watching = Some(text.to_owned()),
            "unwatch" => self.watching = None,
            _ => {}
        }
        match word {
            "show" if rest == "teams" && self.board.is_none() => {
                let more = show_view(io, &mut self.views, text)?;
                let Todo::Send(mut messages) = more else { return Ok(more) };
                messages.insert(0, ClientMessage::Board { on: true });
                self.shows_board = false;
                Ok(Todo::Send(messages))
            }
            "show" => show_view(io, &mut self.views, text),
            "runs" | "drills" if rest.is_empty() => {
                self.asked_by_hand = true;
                let asked = if word == "runs" { ClientMessage::Runs {} } else { ClientMessage::Drills {} };
                Ok(Todo::Send(vec![asked]))
            }
            "use" => self.use_run(io, rest),
            "all" => self.class_line(io, text, &[], rest),
            "for" => self.some(io, text, rest),
            "hand" => self.hand(io, text, rest),
            "board" if rest.is_empty() => match &self.board {
                Some(classes) => {
                    show_board(io, classes)?;
                    Ok(Todo::Nothing)
                }
                None => Ok(Todo::Send(vec![ClientMessage::Board { on: true }])),
            },
            "open" if self.means_drill(rest) => match directing::open(rest) {
                Ok(message) => Ok(Todo::Send(vec![message])),
                Err(why) => {
                    io.line(&format!("refused: {why}"))?;
                    Ok(Todo::Refused)
                }
            },
            "again" => match directing::again(&self.runs, rest) {
                Ok(message) => Ok(Todo::Send(vec![message])),
                Err(why) => {
                    io.line(&format!("refused: {why}"))?;
                    Ok(Todo::Refused)
                }
            },
            "help" if rest.is_empty() => {
                for (form, doc) in WORDS {
                    io.line(&format!("{form:<46} {doc}"))?;
                }
                match self.used {
                    Some(_) => Ok(Todo::Send(vec![line(text)])),
                    None => Ok(Todo::Nothing),
                }
            }
            _ => Ok(Todo::Send(vec![line(text)])),
        }
    }

    fn heard(
        &mut self,
        io: &mut Io,
        message: ServerMessage,
        asked: Option<&ClientMessage>,
    ) -> Result<(bool, Vec<ClientMessage>), Failure> {
        let (watched, board) = (self.watching.clone(), self.board.clone().unwrap_or_default());
        let (message, mut more) = self.views.take(io, message, asked, &board, watched.as_deref())?;
        let Some(message) = message else { return Ok((true, more)) };
        let mut yes = true;
        match message {
            ServerMessage::Event(event) => self.event(io, &event)?,
            ServerMessage::Gauges(gauges) => self.gauges.show(io, &gauges)?,
            ServerMessage::State(state) => {
                self.keep(&state);
                let told = asked.is_some() || state.reached_speed.is_some() || state.failed.is_some();
                if matches!(asked, Some(ClientMessage::Use { .. })) {
                    self.used = Some(state.run);
                }
                if told {
                    io.line(&show::state(&state))?;
                }
            }
            ServerMessage::Drills { drills } => {
                self.drills = drills;
                self.show_drills(io)?;
            }
            ServerMessage::Runs { runs } => more = self.take_runs(io, &runs)?,
            ServerMessage::Board { classes } => {
                if asked.is_some() && std::mem::replace(&mut self.shows_board, true) {
                    show_board(io, &classes)?;
                }
                self.board = Some(classes);
            }
            ServerMessage::ClassAnswer { replies, .. } => yes = class_answer(io, replies, asked)?,
            ServerMessage::Handed { holder, .. } => io.line(&format!("{holder} holds the class now"))?,
            ServerMessage::Opened { class, title, runs, .. } => {
                let held = matches!(asked, Some(ClientMessage::Open { hold: true, .. }));
                io.line(&format!("{title} is open{}", if held { ", on hold until `resume`" } else { "" }))?;
                more = self.opened(io, class, &runs)?;
            }
            ServerMessage::Lagging { .. } => io.tell("the link is slow; what is missing comes again"),
            other => yes = show_answer(io, other, asked)?,
        }
        io.flush()?;
        Ok((yes, more))
    }

    fn has_shown(&self, seq: u64) -> bool {
        let shown = |run: Uuid| self.shown.get(&run).is_some_and(|shown| *shown >= seq);
        self.used.is_none_or(shown) && !self.views.is_waiting()
    }

    fn is_waiting(&self) -> bool {
        self.views.is_waiting()
    }

    fn left(&mut self, _: &mut Io) {}

    fn way_back(&self, address: &Address) -> String {
        format!("deadship teach {address} --key KEY")
    }
}

fn line(text: &str) -> ClientMessage {
    ClientMessage::Line { id: Uuid::new_v4(), text: text.to_owned() }
}

impl Instructor {
    /// `open` is also what hands do to valves: it opens a class when a drill is named.
    fn means_drill(&self, rest: &str) -> bool {
        let first = rest.split_whitespace().next().unwrap_or_default();
        let known = || self.drills.iter().map(|drill| drill.name.as_str());
        // Without a run there is nothing that hands could open.
        known().any(|name| name == first)
            || (!first.is_empty() && self.used.is_none())
            || (!first.contains('.') && nearest(first, known()).is_some())
    }

    fn team(&self, run: Uuid) -> &str {
        self.runs.iter().find(|known| known.run == run).map_or("?", |known| &known.team)
    }

    /// Every event once, whichever link brings it first: each link is complete and in order.
    fn event(&mut self, io: &mut Io, event: &EventMessage) -> Result<(), Failure> {
        let shown = self.shown.entry(event.run).or_insert(0);
        if event.seq <= *shown {
            return Ok(());
        }
        *shown = event.seq;
        if event.kind == "run-ended" {
            self.runs.iter_mut().filter(|known| known.run == event.run).for_each(|known| known.over = true);
        }
        // One's own refusals come as answers, too.
        if event.kind == "act-refused" && event.who == self.who {
            return Ok(());
        }
        io.line(&show::event(Some(self.team(event.run)), event))
    }

    fn keep(&mut self, state: &RunState) {
        let over = state.ended.is_some() || state.failed.is_some();
        match self.runs.iter_mut().find(|known| known.run == state.run) {
            Some(known) => known.over = over,
            None => self.runs.push(Known { run: state.run, class: None, team: state.team.clone(), over }),
        }
    }

    fn use_run(&mut self, io: &mut Io, name: &str) -> Result<Todo, Failure> {
        match directing::find(&self.runs, name) {
            Ok(one) => {
                let last_seq = self.shown.get(&one.run).copied();
                Ok(Todo::Send(vec![ClientMessage::Use { run: one.run, last_seq }]))
            }
            Err(why) => {
                io.line(&format!("refused: {why}"))?;
                Ok(Todo::Refused)
            }
        }
    }

    fn show_drills(&mut self, io: &mut Io) -> Result<(), Failure> {
        if !std::mem::take(&mut self.asked_by_hand) {
            return Ok(());
        }
        for drill in &self.drills {
            let stations: Vec<&str> = drill.stations.iter().map(|station| station.name.as_str()).collect();
            let crews = if drill.crews.is_empty() { "none".to_owned() } else { drill.crews.join(", ") };
            let about = format!(
                "{} (on {}; stations {}; robot crews {crews})",
                drill.title,
                drill.ship,
                stations.join(", ")
            );
            io.line(&beside(&drill.name, 28, &about))?;
        }
        Ok(())
    }

    fn take_runs(&mut self, io: &mut Io, runs: &[RunInfo]) -> Result<Vec<ClientMessage>, Failure> {
        self.runs.clear();
        for info in runs {
            self.keep(&info.state);
            if let Some(known) = self.runs.last_mut() {
                known.class = info.class_id;
            }
            self.follow(info.state.run, info.state.last_seq, info.state.ended.is_some());
        }
        if std::mem::take(&mut self.asked_by_hand) {
            show::runs(runs).iter().try_for_each(|line| io.line(line))?;
        }
        let live: Vec<&Known> = self.runs.iter().filter(|known| !known.over).collect();
        match (self.used, live.as_slice()) {
            (None, [one]) => Ok(vec![ClientMessage::Use { run: one.run, last_seq: None }]),
            _ => Ok(Vec::new()),
        }
    }

    /// A fresh class: its codes are told, its first run is used.
    fn opened(
        &mut self,
        io: &mut Io,
        class: Uuid,
        runs: &[OpenedRun],
    ) -> Result<Vec<ClientMessage>, Failure> {
        for opened in runs {
            let (run, team) = (opened.run, opened.team.clone());
            self.runs.push(Known { run, class: Some(class), team, over: false });
            self.follow(opened.run, 0, false);
            io.line(&format!("{}: join code {}, run {}", opened.team, opened.code, opened.run))?;
        }
        let first = runs.first().map(|first| ClientMessage::Use { run: first.run, last_seq: None });
        Ok(first.into_iter().collect())
    }

    /// Opens a link beside the instructor's own, through which the events of this run come, whichever is used.
    fn follow(&mut self, run: Uuid, last_seq: u64, over: bool) {
        if over || self.followed.contains(&run) {
            return;
        }
        self.followed.push(run);
        self.shown.entry(run).or_insert(last_seq);
        tokio::spawn(follow(self.address.clone(), self.key.clone(), run, last_seq, self.sender.clone()));
    }
}
