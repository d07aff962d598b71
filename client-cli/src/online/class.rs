//! What the instructor's terminal does with a whole class.

use super::directing;
use super::join::show_answer;
use super::line_mode::Todo;
use super::show;
use super::teach::Instructor;
use crate::failure::Failure;
use crate::io::{Io, wrap};
use deadship_protocol::{BoardClass, BoardTeam, ClientMessage, ServerMessage, TeamReply};
use uuid::Uuid;

impl Instructor {
    /// The class of the run in use; without one, the only class there is.
    fn class(&self) -> Option<Uuid> {
        let used = self.runs.iter().find(|known| Some(known.run) == self.used);
        let mut live: Vec<Uuid> =
            self.runs.iter().filter(|known| !known.over).filter_map(|known| known.class).collect();
        live.dedup();
        match (used.and_then(|known| known.class), live.as_slice()) {
            (Some(class), _) => Some(class),
            (None, [one]) => Some(*one),
            _ => None,
        }
    }

    /// The same line to teams of the class in use; to all where none is named.
    pub(super) fn class_line(
        &mut self,
        io: &mut Io,
        typed: &str,
        teams: &[String],
        text: &str,
    ) -> Result<Todo, Failure> {
        match self.class() {
            _ if text.is_empty() => no(io, typed, "write `all LINE`, or `for TEAM, TEAM: LINE`"),
            None => no(io, typed, "no class is in use; `use TEAM` chooses one"),
            Some(class) => {
                let (id, teams, text) = (Uuid::new_v4(), teams.to_vec(), text.to_owned());
                Ok(Todo::Send(vec![ClientMessage::ClassLine { id, class, teams, text }]))
            }
        }
    }

    /// `for TEAM, TEAM: LINE`.
    pub(super) fn some(&mut self, io: &mut Io, typed: &str, rest: &str) -> Result<Todo, Failure> {
        match directing::some(rest) {
            Ok((teams, text)) => self.class_line(io, typed, &teams, &text),
            Err(why) => no(io, typed, &why),
        }
    }

    /// `hand NAME`.
    pub(super) fn hand(&mut self, io: &mut Io, typed: &str, to: &str) -> Result<Todo, Failure> {
        match self.class() {
            _ if to.is_empty() => no(io, typed, "name the instructor who takes the class over: `hand NAME`"),
            None => no(io, typed, "no class is in use; `use TEAM` chooses one"),
            Some(class) => {
                Ok(Todo::Send(vec![ClientMessage::Hand { id: Uuid::new_v4(), class, to: to.to_owned() }]))
            }
        }
    }
}

fn no(io: &mut Io, typed: &str, why: &str) -> Result<Todo, Failure> {
    io.line(&format!("refused: {typed}: {why}"))?;
    Ok(Todo::Refused)
}

/// What each team answered. Was it a yes of all?
pub(super) fn class_answer(
    io: &mut Io,
    replies: Vec<TeamReply>,
    asked: Option<&ClientMessage>,
) -> Result<bool, Failure> {
    let text = match asked {
        Some(ClientMessage::ClassLine { text, .. }) => text.as_str(),
        _ => "",
    };
    if replies.is_empty() {
        io.line(&format!("refused: {text}: no run of this class is left"))?;
        return Ok(false);
    }
    let mut yes = true;
    for TeamReply { team, reply, .. } in replies {
        match *reply {
            ServerMessage::Accepted { .. } => io.line(&format!("{team}: done"))?,
            ServerMessage::Refused { reasons, .. } => {
                io.line(&format!("{team}: {}", show::refused(text, &reasons)))?;
                yes = false;
            }
            other => {
                io.line(&format!("{team}:"))?;
                yes &= show_answer(io, other, asked)?;
            }
        }
    }
    Ok(yes)
}

/// Every team at a glance: one line for how its run is, one for what is the matter.
pub(super) fn show_board(io: &mut Io, classes: &[BoardClass]) -> Result<(), Failure> {
    if classes.is_empty() {
        return io.line("no run is open");
    }
    for class in classes {
        io.line(&format!("{}, held by {}", class.title, class.holder))?;
        for team in &class.teams {
            io.line(&wrap(&show::state(&team.state), 2))?;
            io.line(&wrap(&pulse(team), 6))?;
        }
    }
    Ok(())
}

/// What is the matter, in words.
fn pulse(team: &BoardTeam) -> String {
    let pulse = &team.pulse;
    let mut parts = Vec::new();
    match &pulse.worst_text {
        Some(text) => parts.push(format!(
            "{} alerts, {} unacknowledged, worst: {} ({})",
            pulse.alerts,
            pulse.unacknowledged,
            text,
            pulse.worst.as_deref().unwrap_or("?")
        )),
        None => parts.push("no alerts".to_owned()),
    }
    if !pulse.faults.is_empty() {
        parts.push(format!("faults: {}", pulse.faults.join(", ")));
    }
    parts.push(format!("expected: {} met, {} missed, {} open", pulse.met, pulse.missed, pulse.open));
    if pulse.aim {
        parts.push("AIM REACHED".to_owned());
    }
    match pulse.idle_s {
        Some(idle_s) => parts.push(format!("last act {} min {} s ago", idle_s / 60, idle_s % 60)),
        None => parts.push("no act yet".to_owned()),
    }
    if pulse.refused > 0 {
        parts.push(format!("{} refused of late", pulse.refused));
    }
    if !team.people.is_empty() {
        parts.push(team.people.join(", "));
    }
    if let Some(latest) = &pulse.latest {
        parts.push(format!("latest: {latest}"));
    }
    parts.join("; ")
}
