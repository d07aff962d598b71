//! From the text of a condition to CEL over generated names.

use super::{DEEPEST, LONGEST, MOST_OPERATORS, Names, Source, Wrong};
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::unit::{Dimension, parse_quantity, to_display};

/// A condition in CEL, and what its names stand for.
#[derive(Debug)]
pub(super) struct Translated {
    pub(super) cel: String,
    pub(super) binds: Vec<(String, Source)>,
    /// Of each of them, where it stands first and how it is written there.
    pub(super) written: Vec<(usize, String)>,
    /// Decisions, each with its words.
    pub(super) decisions: Vec<(String, Vec<String>)>,
}

/// A number with a unit, to be checked against the dimensions of the condition.
struct Unit {
    at: usize,
    text: String,
    dimension: Dimension,
}

/// What stands before the next thing: two values need something between them, and an operator needs a value after it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Last {
    /// Nothing, or a parenthesis that opens.
    Nothing,
    Operator,
    Value,
    /// A value that is wrong, so that nothing can be said about what joins it.
    Wrong,
}

struct Translator<'a> {
    text: Vec<char>,
    at: usize,
    names: &'a Names<'a>,
    out: Translated,
    units: Vec<Unit>,
    /// Where the parentheses that are open began.
    open: Vec<usize>,
    operators: usize,
    last: Last,
    wrongs: Vec<Wrong>,
}

/// Turns a condition into CEL.
pub(super) fn translate(text: &str, names: &Names<'_>) -> Result<Translated, Vec<Wrong>> {
    let text: Vec<char> = text.chars().collect();
    if text.len() > LONGEST {
        let message = format!("the condition is longer than {LONGEST} characters");
        return Err(vec![Wrong { at: 0, message, help: None }]);
    }
    let out = Translated {
        cel: String::new(),
        binds: Vec::new(),
        written: Vec::new(),
        decisions: names.decisions.to_vec(),
    };
    let mut translator = Translator {
        text,
        at: 0,
        names,
        out,
        units: Vec::new(),
        open: Vec::new(),
        operators: 0,
        last: Last::Nothing,
        wrongs: Vec::new(),
    };
    translator.walk();
    translator.check_units();
    if translator.wrongs.is_empty() { Ok(translator.out) } else { Err(translator.wrongs) }
}

impl Translator<'_> {
    fn walk(&mut self) {
        while let Some(c) = self.peek(0) {
            match c {
                '(' | ')' => self.parenthesis(c),
                c if c.is_whitespace() => self.take(' '),
                '<' | '>' | '=' | '!' | '&' | '|' | '+' | '-' | '*' | '/' | '?' | ':' => self.operator(c),
                '[' | '"' | '\'' | '0'..='9' | 'a'..='z' | 'A'..='Z' | '_' => self.value(c),
                c => {
                    self.wrong(self.at, format!("`{c}` has no meaning in a condition"), None);
                    self.last = Last::Wrong;
                    self.at += 1;
                }
            }
        }
        match (self.last, self.text.len()) {
            (Last::Nothing, _) if self.wrongs.is_empty() => {
                let help = "e.g. `[NAME.READING] > 3 bar && time > 60`".to_owned();
                self.wrong(0, "nothing is asked".to_owned(), Some(help));
            }
            (Last::Operator, end) => self.wrong(end, "a value is missing at the end".to_owned(), None),
            _ => {}
        }
        for at in std::mem::take(&mut self.open) {
            self.wrong(at, "this `(` is not closed".to_owned(), None);
        }
        if self.operators > MOST_OPERATORS {
            self.wrong(0, format!("more than {MOST_OPERATORS} operators"), None);
        }
    }

    fn peek(&self, ahead: usize) -> Option<char> {
        self.text.get(self.at + ahead).copied()
    }

    fn take(&mut self, c: char) {
        self.out.cel.push(c);
        self.at += 1;
    }

    fn wrong(&mut self, at: usize, message: String, help: Option<String>) {
        self.wrongs.push(Wrong { at, message, help });
    }

    fn skip_spaces(&mut self) {
        while self.peek(0).is_some_and(char::is_whitespace) {
            self.at += 1;
        }
    }

    /// A reading, a number, a text, a word.
    fn value(&mut self, c: char) {
        self.begin_value();
        let before = self.wrongs.len();
        match c {
            '[' => self.reading(),
            '0'..='9' => self.number(),
            '"' | '\'' => {
                if let Some(text) = self.quoted() {
                    self.out.cel.push_str(&format!("{text:?}"));
                }
            }
            _ => self.word(),
        }
        self.last = if self.wrongs.len() > before { Last::Wrong } else { Last::Value };
    }

    fn begin_value(&mut self) {
        // Who writes `and` for `&&` is told that.
        let word: String = self.text[self.at..].iter().take_while(|c| c.is_alphanumeric()).collect();
        if self.last == Last::Value && meant_operator(&word).is_none() {
            let help = "write `&&` or `||` between them".to_owned();
            self.wrong(self.at, "nothing joins this to what stands before it".to_owned(), Some(help));
        }
    }

    fn operator(&mut self, c: char) {
        let before = self.at.checked_sub(1).and_then(|at| self.text.get(at).copied());
        let after = self.peek(1);
        let double = match c {
            '=' if after != Some('=') && !matches!(before, Some('=' | '!' | '<' | '>')) => "==",
            '&' if after != Some('&') && before != Some('&') => "&&",
            '|' if after != Some('|') && before != Some('|') => "||",
            _ => "",
        };
        if !double.is_empty() {
            self.wrong(
                self.at,
                format!("one `{c}` has no meaning in a condition"),
                Some(format!("write `{double}`")),
            );
        }
        self.operators += 1;
        self.last = if double.is_empty() { Last::Operator } else { Last::Wrong };
        self.take(c);
    }

    fn parenthesis(&mut self, c: char) {
        if c == '(' {
            self.begin_value();
            self.open.push(self.at);
            if self.open.len() == DEEPEST + 1 {
                self.wrong(self.at, format!("parentheses are nested deeper than {DEEPEST}"), None);
            }
            self.last = Last::Nothing;
        } else {
            if self.open.pop().is_none() {
                self.wrong(self.at, "this `)` closes nothing".to_owned(), None);
            } else if matches!(self.last, Last::Nothing | Last::Operator) {
                self.wrong(self.at, "a value is missing before this `)`".to_owned(), None);
            }
            self.last = if self.last == Last::Wrong { Last::Wrong } else { Last::Value };
        }
        self.take(c);
    }

    /// The text between quotes. Backslashes have no meaning: words and names need none.
    fn quoted(&mut self) -> Option<String> {
        let (start, quote) = (self.at, self.peek(0)?);
        let length = self.text[start + 1..].iter().position(|c| *c == quote);
        let Some(length) = length else {
            self.wrong(start, "this quote is not closed".to_owned(), None);
            self.at = self.text.len();
            return None;
        };
        self.at = start + length + 2;
        Some(self.text[start + 1..=start + length].iter().collect())
    }

    /// Puts a name for what was read since `start`.
    fn bind(&mut self, start: usize, source: Source) {
        let found = self.out.binds.iter().position(|(_, known)| *known == source);
        let index = found.unwrap_or(self.out.binds.len());
        let name = format!("x{index}");
        self.out.cel.push_str(&name);
        if found.is_none() {
            self.out.binds.push((name, source));
            let written: String = self.text[start..self.at].iter().collect();
            self.out.written.push((start, written.trim().to_owned()));
        }
    }

    fn reading(&mut self) {
        let start = self.at;
        let Some(length) = self.text[start..].iter().position(|c| *c == ']') else {
            self.wrong(start, "this `[` is not closed".to_owned(), None);
            self.at = self.text.len();
            return;
        };
        self.at = start + length + 1;
        let name: String = self.text[start + 1..start + length].iter().collect();
        let name = name.trim();
        let compiled = self.names.compiled;
        let Some((component, reading)) = compiled.reading(name) else {
            let help = near_reading(name, self.names);
            self.wrong(start + 1, format!("there is no reading `{name}`"), help);
            self.out.cel.push('0');
            return;
        };
        let def = &compiled.spec.components[component].kind.readings[reading];
        let flat = compiled.flat_reading((component, reading));
        self.bind(start, Source::Reading { flat, dimension: def.dimension, words: def.words });
    }

    /// A number, always given to CEL as one with decimals: it does not mix whole numbers with others.
    fn number(&mut self) {
        let start = self.at;
        while self.peek(0).is_some_and(|c| c.is_ascii_digit() || c == '.') {
            self.at += 1;
        }
        let exponent = matches!(self.peek(0), Some('e' | 'E'))
            && match self.peek(1) {
                Some('+' | '-') => self.peek(2).is_some_and(|c| c.is_ascii_digit()),
                next => next.is_some_and(|c| c.is_ascii_digit()),
            };
        if exponent {
            self.at += 2;
            while self.peek(0).is_some_and(|c| c.is_ascii_digit()) {
                self.at += 1;
            }
        }
        let text: String = self.text[start..self.at].iter().collect();
        let Some(value) = text.parse::<f64>().ok().filter(|value| value.is_finite()) else {
            self.wrong(start, format!("`{text}` is not a number"), None);
            return;
        };
        let (after, mut unit) = (self.at, String::new());
        self.skip_spaces();
        while let Some(c) = self.peek(0).filter(|c| c.is_ascii_alphanumeric() || "/%°²³".contains(*c)) {
            unit.push(c);
            self.at += 1;
        }
        let is_word = ["time", "true", "false", "alert", "fault", "done", "decided"].contains(&unit.as_str());
        match unit.chars().next() {
            // A division: no unit begins so. A word that follows a number is told as what it is.
            None | Some('/') => self.at = after,
            Some(_) if is_word || meant_operator(&unit).is_some() => self.at = after,
            Some(_) => {
                if let Some(number) = self.with_unit(start, &text, &unit) {
                    return self.bind(start, number);
                }
            }
        }
        self.out.cel.push_str(&format!("{value:?}"));
    }

    /// The number in the displayed unit of the dimension that this unit is of.
    fn with_unit(&mut self, at: usize, number: &str, unit: &str) -> Option<Source> {
        let text = format!("{number} {unit}");
        let found = Dimension::ALL.into_iter().filter(|dimension| *dimension != Dimension::None);
        let fits: Vec<_> = found.filter_map(|d| Some((d, parse_quantity(&text, d).ok()?))).collect();
        let used: Vec<Dimension> = self.dimensions();
        // A unit may be of several dimensions (K): one that the condition has so far is meant, else the first.
        let Some(&(dimension, value)) =
            fits.iter().find(|(dimension, _)| used.contains(dimension)).or(fits.first())
        else {
            let taken = used
                .iter()
                .find_map(|dimension| dimension.units().find(|known| known.eq_ignore_ascii_case(unit)));
            let help = match (taken, used.as_slice()) {
                (Some(known), _) => Some(format!("did you mean `{known}`?")),
                (None, []) => None,
                (None, [.., last]) => {
                    Some(format!("{} takes {}", last.name(), last.units().collect::<Vec<_>>().join(", ")))
                }
            };
            self.wrong(at, format!("`{unit}` is not a unit known here"), help);
            return None;
        };
        self.units.push(Unit { at, text, dimension });
        Some(Source::Number { value: to_display(value, dimension), dimension })
    }

    fn dimensions(&self) -> Vec<Dimension> {
        let of = |source: &Source| match source {
            Source::Reading { dimension, words: [], .. } => Some(*dimension),
            Source::Time => Some(Dimension::Time),
            _ => None,
        };
        self.out.binds.iter().filter_map(|(_, source)| of(source)).collect()
    }

    fn check_units(&mut self) {
        let used = self.dimensions();
        for unit in std::mem::take(&mut self.units) {
            if !used.contains(&unit.dimension) && self.wrongs.is_empty() {
                let message =
                    format!("`{}`: nothing in the condition is a {}", unit.text, unit.dimension.name());
                self.wrong(unit.at, message, None);
            }
        }
    }

    fn word(&mut self) {
        let start = self.at;
        while self.peek(0).is_some_and(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '.' | '-')) {
            // A minus belongs to a name only between letters and digits, as in `standby-pump`.
            let joined = |c: Option<char>| c.is_some_and(|c| c.is_ascii_alphanumeric());
            if self.peek(0) == Some('-') && !joined(self.peek(1)) {
                break;
            }
            self.at += 1;
        }
        let word: String = self.text[start..self.at].iter().collect();
        match word.as_str() {
            "true" | "false" => self.out.cel.push_str(&word),
            "time" => self.bind(start, Source::Time),
            "alert" | "fault" | "done" | "decided" => self.call(start, &word),
            _ if self.names.compiled.reading(&word).is_some() => {
                let help = format!("write `[{word}]`");
                self.wrong(start, "readings are written in square brackets".to_owned(), Some(help));
            }
            _ => {
                let message = format!("`{word}` has no meaning in a condition");
                if let Some(help) = self.meant(&word) {
                    return self.wrong(start, message, Some(help));
                }
                let help = "readings stand in square brackets; besides there are time, alert(\"…\"), \
                            fault(\"…\"), done(\"…\"), decided(\"…\")";
                self.wrong(start, message, Some(help.to_owned()));
            }
        }
    }

    /// What a word without a meaning stands for in other languages, or as a text.
    fn meant(&self, word: &str) -> Option<String> {
        if let Some(operator) = meant_operator(word) {
            return Some(format!("write `{operator}`"));
        }
        let of_reading =
            |source: &Source| matches!(source, Source::Reading { words, .. } if words.contains(&word));
        let is_text = self.out.binds.iter().any(|(_, source)| of_reading(source));
        is_text.then(|| format!("words of readings stand between quotes: `\"{word}\"`"))
    }

    /// `alert("name")` and its like.
    fn call(&mut self, start: usize, word: &str) {
        self.skip_spaces();
        let opened = self.peek(0) == Some('(');
        self.at += usize::from(opened);
        self.skip_spaces();
        let at = self.at + 1;
        let name = if opened && matches!(self.peek(0), Some('"' | '\'')) { self.quoted() } else { None };
        self.skip_spaces();
        let (Some(name), Some(')')) = (name, self.peek(0)) else {
            self.wrong(start, format!("`{word}` needs one name in quotes: `{word}(\"…\")`"), None);
            // What stands there instead is part of this mistake.
            let rest = self.text.get(self.at..).unwrap_or_default();
            if let Some(length) = rest.iter().position(|c| *c == ')').filter(|_| opened) {
                self.at += length + 1;
            }
            return;
        };
        self.at += 1;
        match self.look_up(word, &name) {
            Ok(source) => self.bind(start, source),
            Err(help) => {
                let what = match word {
                    "done" => "expectation",
                    "decided" => "decision",
                    other => other,
                };
                self.wrong(at, format!("there is no {what} `{name}`"), help);
            }
        }
    }

    fn look_up(&self, word: &str, name: &str) -> Result<Source, Option<String>> {
        let spec = &self.names.compiled.spec;
        let help = |near: Option<&str>| near.map(|near| format!("did you mean `{near}`?"));
        match word {
            "alert" => {
                let found = spec.alerts.iter().position(|alert| alert.name == name);
                let known = spec.alerts.iter().map(|alert| alert.name.as_str());
                found.map(Source::Alert).ok_or_else(|| help(nearest(name, known)))
            }
            "done" => {
                let found = self.names.dones.iter().position(|done| done == name);
                let known = self.names.dones.iter().map(String::as_str);
                found.map(Source::Done).ok_or_else(|| help(nearest(name, known)))
            }
            "decided" => {
                let decisions = self.names.decisions;
                let found = decisions.iter().position(|(decision, _)| decision == name);
                let known = decisions.iter().map(|(decision, _)| decision.as_str());
                found.map(Source::Decided).ok_or_else(|| help(nearest(name, known)))
            }
            _ => find_fault(self.names, name)
                .map(|(component, fault)| Source::Fault(component, fault))
                .ok_or_else(|| near_fault(name, self.names)),
        }
    }
}

/// The operator for which other languages have a word.
fn meant_operator(word: &str) -> Option<&'static str> {
    match word {
        "and" | "AND" => Some("&&"),
        "or" | "OR" => Some("||"),
        "not" | "NOT" => Some("!"),
        _ => None,
    }
}

/// Component and fault of `component.fault`.
fn find_fault(names: &Names<'_>, name: &str) -> Option<(usize, usize)> {
    let (component, fault) = name.rsplit_once('.')?;
    let component = names.compiled.component(component)?;
    let faults = names.compiled.spec.components[component].kind.faults;
    Some((component, faults.iter().position(|known| known.name == fault)?))
}

fn near_fault(name: &str, names: &Names<'_>) -> Option<String> {
    let components = &names.compiled.spec.components;
    let known: Vec<String> = components
        .iter()
        .flat_map(|c| c.kind.faults.iter().map(move |fault| format!("{}.{}", c.name, fault.name)))
        .collect();
    nearest(name, known.iter().map(String::as_str)).map(|near| format!("did you mean `{near}`?"))
}

/// The nearest reading, or the readings of the component where that is right.
fn near_reading(name: &str, names: &Names<'_>) -> Option<String> {
    let components = &names.compiled.spec.components;
    let known: Vec<String> = components
        .iter()
        .flat_map(|c| c.kind.readings.iter().map(move |reading| format!("{}.{}", c.name, reading.name)))
        .collect();
    let alone = names.compiled.component(name);
    if let (None, Some(near)) = (alone, nearest(name, known.iter().map(String::as_str))) {
        return Some(format!("did you mean `{near}`?"));
    }
    let component = alone.or_else(|| names.compiled.component(name.rsplit_once('.')?.0))?;
    let readings: Vec<&str> =
        components[component].kind.readings.iter().map(|reading| reading.name).collect();
    Some(format!("it has: {}", readings.join(", ")))
}
