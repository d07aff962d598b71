//! What people type, as commands and questions.

mod instructor;
mod notes;
mod orders;
mod team;

use crate::command::Command;
use crate::drill::Drill;
use crate::procedure::Procedure;
use crate::setup::Setup;
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::kind::ActDef;
use deadship_plant::spec::{ComponentSpec, ShipSpec};

/// Longest line that is looked at, characters.
pub const LONGEST_LINE: usize = 600;

/// Does a character show nothing: a control, or a mark that is only seen in what it does to others? With them a name
/// could look like somebody else's.
pub fn is_unseen(c: char) -> bool {
    let mark = matches!(
        c,
        '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{180B}'..='\u{180F}'
            | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{3164}'
            | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}' | '\u{FFF0}'..='\u{FFFB}' | '\u{E0000}'..='\u{E0FFF}'
    );
    c.is_control() || mark
}

/// What a line means.
#[derive(Clone, Debug, PartialEq)]
pub enum Line {
    /// Changes the run, or is refused.
    Command(Command),
    /// Only looks.
    Question(Question),
}

/// What someone wants to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Question {
    /// Readings: a component, a full name, or a pattern with `*`.
    Read(String),
    /// What is at my place: all of it, or names that fit a pattern (`dg1`, `*valve*`).
    Look(Option<String>),
    /// Who is where.
    Who,
    /// The list of alerts.
    Alerts,
    /// The open orders.
    Orders,
    /// What the drill asks now.
    Asked,
    /// The checklists, or one of them.
    Procedure(Option<String>),
    /// The words, or one of them.
    Help(Option<String>),
}

/// The names that a line can use.
#[derive(Clone, Copy)]
pub struct Vocabulary<'a> {
    /// Ship.
    pub spec: &'a ShipSpec,
    /// Drill.
    pub drill: Option<&'a Drill>,
    /// Procedures.
    pub procedures: &'a [Procedure],
}

impl<'a> From<&'a Setup> for Vocabulary<'a> {
    fn from(setup: &'a Setup) -> Vocabulary<'a> {
        Vocabulary { spec: &setup.compiled.spec, drill: Some(&setup.drill), procedures: &setup.procedures }
    }
}

/// Why a line means nothing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WordsError {
    /// Nothing was typed.
    #[error("nothing typed; `help` lists the words")]
    Empty,
    /// Too much was typed.
    #[error("the line is longer than {LONGEST_LINE} characters")]
    TooLong,
    /// The first word is not known.
    #[error("`{word}` is not a word known here{}; `help` lists them", hint(.near))]
    UnknownWord {
        /// As typed.
        word: String,
        /// What is meant, perhaps.
        near: Vec<String>,
    },
    /// The word wants something else after it.
    #[error("write `{form}`")]
    Form {
        /// How it is written.
        form: String,
    },
    /// A name of nothing.
    #[error("there is no {what} `{name}`{}", hint(.near))]
    UnknownName {
        /// `component`, `place`, `alert`.
        what: &'static str,
        /// As typed.
        name: String,
        /// What is meant, perhaps.
        near: Vec<String>,
    },
    /// A value that the setting does not take.
    #[error("{0}")]
    Value(String),
}

fn hint(near: &[String]) -> String {
    match near {
        [] => String::new(),
        [one] => format!(" (did you mean `{one}`?)"),
        many => format!(" (it could be: {})", many.join(", ")),
    }
}

/// The words: how each is written, and what it does.
pub const WORDS: [(&str, &str, &str); 40] = [
    ("station", "station NAME", "take a station"),
    ("leave", "leave", "give the station back"),
    ("go", "go PLACE", "walk there; takes the ship's walking time"),
    ("open", "open COMPONENT", "open a valve, a breaker, a damper"),
    ("close", "close COMPONENT", "close it"),
    ("start", "start COMPONENT", "start a machine"),
    ("stop", "stop COMPONENT", "stop it"),
    ("reset", "reset COMPONENT", "put back what latched"),
    ("blow-clear", "blow-clear COMPONENT", "blow a sea chest clear with steam or air"),
    ("vent", "vent COMPONENT", "let the air out at its vent cock"),
    (
        "set",
        "set COMPONENT [SETTING] VALUE",
        "give a setting a value, with its unit: set dg1.generator voltage 440 V",
    ),
    ("read", "read NAME", "readings of a component, one reading (component.reading), or a pattern with *"),
    (
        "look",
        "look [NAME]",
        "what is at your place, and what can be done to it: all of it, or `look dg1`, `look *valve*`",
    ),
    ("alerts", "alerts", "the list of alerts"),
    ("ack", "ack NUMBER | ack all", "acknowledge an alert; resets nothing in the plant"),
    ("silence", "silence", "silence the sound of alerts"),
    (
        "shelve",
        "shelve ALERT [for TIME]",
        "take an alert off the list for a time: 30 min unless said, at most 8 h",
    ),
    ("unshelve", "unshelve ALERT", "put it back on the list"),
    ("say", "say [to STATION:] TEXT", "tell the others something"),
    (
        "order",
        "order STATION [within TIME]: TEXT",
        "give a station an order, or `all`; it gets a number and is open until it is reported",
    ),
    ("repeat", "repeat NUMBER [TEXT]", "read an order back that was given to your station"),
    (
        "report",
        "report NUMBER [TEXT] | report to STATION: TEXT",
        "report that an order is done, which closes it; or report what nobody has ordered",
    ),
    ("orders", "orders", "the open orders: since when, and whether they were read back"),
    ("asked", "asked", "what the drill asks you now, and what can be answered"),
    ("answer", "answer [NAME] WORD", "answer it: the first that waits for you, unless it is named"),
    ("who", "who", "who is where"),
    ("procedure", "procedure [NAME]", "the checklists, or one of them"),
    ("tick", "tick STEP", "tick off a step of a checklist"),
    ("skip", "skip STEP", "mark a step of a checklist as not done"),
    (
        "fault",
        "fault COMPONENT.FAULT [SEVERITY %] [over TIME] [every TIME for TIME] [when CONDITION]",
        "set a fault, now or once a condition is true: fault pump.seized when [pump.running] == \"yes\" (instructor)",
    ),
    ("lift", "lift COMPONENT.FAULT", "lift it; one that is planned does not come (instructor)"),
    ("hold", "hold", "put the run on hold (instructor)"),
    ("resume", "resume", "let it go on (instructor)"),
    ("speed", "speed FACTOR", "how fast it goes against the clock (instructor)"),
    (
        "note",
        "note TEXT | note on NUMBER: TEXT",
        "note something for the debrief, or add to an earlier note or mark, by the number of its event \
         (instructor, facilitator)",
    ),
    (
        "mark",
        "mark CATEGORY [TIME ago] [TEXT]",
        "mark something for the debrief, up to 10 min back; CATEGORY is well-done, slip, unsafe, communication or \
         discuss (instructor, facilitator)",
    ),
    (
        "rate",
        "rate OBJECTIVE LEVEL [TEXT]",
        "rate how far an objective of the drill was reached, in a word of its scale; your last rating counts \
         (instructor, facilitator)",
    ),
    (
        "bridge",
        "bridge say | order | repeat | report …",
        "speak as the bridge: bridge order engine: TEXT (instructor)",
    ),
    ("end", "end", "end the run (instructor)"),
    ("help", "help [WORD]", "this list, or one word of it"),
];

/// Reads a line. Names are checked, never guessed; whether it may be done is [`crate::decide()`]'s business.
///
/// # Errors
/// What is wrong with the line, with the nearest known names.
pub fn parse(line: &str, names: &Vocabulary<'_>) -> Result<Line, WordsError> {
    if line.chars().count() > LONGEST_LINE {
        return Err(WordsError::TooLong);
    }
    let line = line.trim();
    let (word, rest) = match line.split_once(char::is_whitespace) {
        Some((word, rest)) => (word, rest.trim()),
        None => (line, ""),
    };
    if word.is_empty() {
        return Err(WordsError::Empty);
    }
    let word = word.to_lowercase();
    let Some((word, form, _)) = WORDS.iter().find(|known| known.0 == word) else {
        return Err(unknown_word(word));
    };
    let said = Said { word, form, rest, names };
    match team::read(&said)? {
        Some(line) => Ok(line),
        None => instructor::read(&said).map(Line::Command),
    }
}

fn unknown_word(word: String) -> WordsError {
    let known = || WORDS.iter().map(|known| known.0);
    let mut near: Vec<String> = known().filter(|known| known.starts_with(&word)).map(str::to_owned).collect();
    if near.is_empty() {
        near.extend(nearest(&word, known()).map(str::to_owned));
    }
    WordsError::UnknownWord { word, near }
}

/// A line whose first word is known.
struct Said<'a> {
    word: &'static str,
    form: &'static str,
    rest: &'a str,
    names: &'a Vocabulary<'a>,
}

impl<'a> Said<'a> {
    fn form(&self) -> WordsError {
        WordsError::Form { form: self.form.to_owned() }
    }

    /// The whole rest as one word.
    fn one(&self) -> Result<&'a str, WordsError> {
        if self.rest.is_empty() || self.rest.contains(char::is_whitespace) {
            Err(self.form())
        } else {
            Ok(self.rest)
        }
    }

    /// Nothing may follow.
    fn alone(&self) -> Result<(), WordsError> {
        if self.rest.is_empty() { Ok(()) } else { Err(self.form()) }
    }

    fn text(&self) -> Result<String, WordsError> {
        if self.rest.is_empty() { Err(self.form()) } else { Ok(self.rest.to_owned()) }
    }

    fn component(&self, name: &str) -> Result<&'a ComponentSpec, WordsError> {
        let components = &self.names.spec.components;
        components.iter().find(|known| known.name == name).ok_or_else(|| {
            unknown("component", name, &components.iter().map(|c| c.name.as_str()).collect::<Vec<_>>())
        })
    }
}

/// An unknown name with what it could be: names that begin or end with it, else the nearest.
fn unknown(what: &'static str, name: &str, known: &[&str]) -> WordsError {
    const FEW: usize = 8;
    let parts = |known: &str| {
        known.starts_with(&format!("{name}."))
            || known.ends_with(&format!(".{name}"))
            || known.contains(&format!(".{name}."))
    };
    let mut near: Vec<String> =
        known.iter().filter(|known| parts(known)).map(|known| (*known).to_owned()).collect();
    if near.is_empty() && name.len() >= 2 {
        near.extend(known.iter().filter(|known| known.starts_with(name)).map(|known| (*known).to_owned()));
    }
    if near.is_empty() {
        near.extend(nearest(name, known.iter().copied()).map(str::to_owned));
    }
    if near.is_empty() && known.len() <= FEW {
        near.extend(known.iter().map(|known| (*known).to_owned()));
    }
    if near.len() > FEW {
        near.truncate(FEW);
        near.push("…".to_owned());
    }
    WordsError::UnknownName { what, name: name.to_owned(), near }
}

/// How an act is typed: `set position VALUE`, `open`.
pub(crate) fn form_of(act: &ActDef) -> String {
    match act.setting {
        "" => act.verb.word().to_owned(),
        setting => format!("{} {setting}", act.verb.word()),
    }
}

#[cfg(test)]
mod tests;
