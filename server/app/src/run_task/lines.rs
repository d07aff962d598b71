//! Lines: orders and questions of the run, and the few words of the server itself.

use super::RunTask;
use super::clients::ClientId;
use super::turn::Turn;
use crate::fault::Fault;
use crate::{clock, convert};
use deadship_plant::file::toml_reader::matches;
use deadship_protocol::{Reason, ServerMessage};
use deadship_run::answer::answer;
use deadship_run::words::{Line, Question, Vocabulary, parse};
use deadship_run::{Command, Outcome, Role, Who};
use uuid::Uuid;

/// Most readings that a client can watch.
const MOST_WATCHED: usize = 4_000;

/// The words of the server, as `help` lists them.
pub(crate) const SERVER_WORDS: [(&str, &str, &str); 2] = [
    (
        "watch",
        "watch PATTERN…",
        "be sent readings as they change, when you can see them: watch dg1.* *.level",
    ),
    ("unwatch", "unwatch", "be sent no more readings"),
];

impl RunTask {
    /// Does a line and gives its reply, to be sent once what it brought is kept.
    pub(super) fn line(
        &mut self,
        client: Option<ClientId>,
        who: &Who,
        id: Uuid,
        text: &str,
        turn: &mut Turn,
    ) -> ServerMessage {
        if let Some(fault) = &self.broken {
            return fault.message(Some(id));
        }
        let text = text.trim();
        if text.chars().any(|c| c.is_control() && c != '\t') {
            // They would move the cursors of others' terminals, or look like lines of others.
            let text = "a line is one line of text, without control characters".to_owned();
            return ServerMessage::Refused {
                id,
                reasons: vec![Reason { code: "wrong-form".to_owned(), text }],
            };
        }
        let words: Vec<&str> = text.split_whitespace().collect();
        match (words.as_slice(), client) {
            (["watch", patterns @ ..], Some(client)) => return self.watch(client, who, id, patterns),
            (["unwatch"], Some(client)) => return self.unwatch(client, id),
            (["help", word], _) if SERVER_WORDS.iter().any(|known| known.0 == *word) => {
                return ServerMessage::Answer { id, lines: help(Some(word)) };
            }
            _ => {}
        }
        let run = self.recorder.run();
        match parse(text, &Vocabulary::from(&*run.setup)) {
            Err(error) => ServerMessage::Refused { id, reasons: vec![convert::words_reason(&error)] },
            Ok(Line::Question(question)) => {
                let mut lines = answer(run, who, &question);
                if question == Question::Help(None) {
                    lines.extend(help(None));
                }
                ServerMessage::Answer { id, lines }
            }
            Ok(Line::Command(command)) if self.is_held_by_another(who, &command) => {
                let fault = Fault::not_your_class(&self.holder);
                let reason = Reason { code: fault.code.to_string(), text: fault.to_string() };
                ServerMessage::Refused { id, reasons: vec![reason] }
            }
            Ok(Line::Command(command)) => {
                let outcome = self.recorder.command(&command, who, Some(id), &clock::now());
                let reply = outcome_reply(id, &outcome);
                if !outcome.repeated {
                    turn.envelopes.extend(outcome.envelopes);
                }
                reply
            }
        }
    }

    /// Two instructors who direct one class would work against each other: the one who holds it does. The other can
    /// look, speak, note and mark.
    fn is_held_by_another(&self, who: &Who, command: &Command) -> bool {
        let harmless = command.notes() || matches!(command, Command::Say { .. });
        who.role() == Role::Instructor && who.key().is_some_and(|name| name != self.holder) && !harmless
    }

    /// Readings are chosen by pattern over full names; what cannot be seen now is shown once it can be.
    fn watch(&mut self, client: ClientId, who: &Who, id: Uuid, patterns: &[&str]) -> ServerMessage {
        let run = self.recorder.run();
        if patterns.is_empty() {
            let reasons =
                vec![Reason { code: "wrong-form".to_owned(), text: "write `watch PATTERN…`".to_owned() }];
            return ServerMessage::Refused { id, reasons };
        }
        let mut watched = Vec::new();
        for (c, component) in run.setup.compiled.spec.components.iter().enumerate() {
            for r in 0..component.kind.readings.len() {
                let full = run.setup.compiled.reading_name((c, r));
                let named = |pattern: &&str| component.name == **pattern || matches(pattern, &full);
                if patterns.iter().any(named) && may_ever_see(who, component.kind.readings[r].seen) {
                    watched.push((c, r));
                }
            }
        }
        if watched.is_empty() {
            let text = format!("nothing is called {}; `look` and `read` show names", patterns.join(" or "));
            return ServerMessage::Refused {
                id,
                reasons: vec![Reason { code: "unknown-name".to_owned(), text }],
            };
        }
        let more = watched.len().saturating_sub(MOST_WATCHED);
        watched.truncate(MOST_WATCHED);
        let mut lines = vec![format!("watching {} readings", watched.len())];
        if more > 0 {
            lines.push(format!("{more} more are left out: name them more closely"));
        }
        if let Some(client) = self.clients.get_mut(client) {
            client.watch(watched);
        }
        self.gauges.hurry();
        ServerMessage::Answer { id, lines }
    }

    fn unwatch(&mut self, client: ClientId, id: Uuid) -> ServerMessage {
        if let Some(client) = self.clients.get_mut(client) {
            client.watched.clear();
        }
        ServerMessage::Answer { id, lines: vec!["watching nothing".to_owned()] }
    }
}

/// Names of readings that no gauge shows are not given away.
fn may_ever_see(who: &Who, seen: deadship_plant::kind::Seen) -> bool {
    convert::is_staff(who.role()) || seen != deadship_plant::kind::Seen::Hidden
}

fn outcome_reply(id: Uuid, outcome: &Outcome) -> ServerMessage {
    match (&outcome.refusal, outcome.envelopes.first()) {
        (Some(refusal), _) => ServerMessage::Refused { id, reasons: convert::reasons(refusal) },
        (None, first) => ServerMessage::Accepted { id, seq: first.map_or(0, |envelope| envelope.seq) },
    }
}

fn help(word: Option<&str>) -> Vec<String> {
    let known = SERVER_WORDS.iter().filter(|known| word.is_none_or(|word| known.0 == word));
    known.map(|(_, form, doc)| format!("{form:<46} {doc}")).collect()
}
