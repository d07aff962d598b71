//! Where commands read and write: results on one side, talk on the other.

use crate::failure::Failure;
use std::borrow::Cow;
use std::env;
use std::io::{self, BufRead, BufReader, IsTerminal, Write};
use std::path::PathBuf;

/// Widest line of running text.
pub const WIDTH: usize = 100;

/// What a command has of the world.
pub struct Io {
    /// What is typed.
    pub input: Box<dyn BufRead + Send>,
    /// Results.
    pub out: Box<dyn Write + Send>,
    /// Everything said to people beside results.
    pub talk: Box<dyn Write + Send>,
    /// Does a person type, or a script?
    pub interactive: bool,
    /// Folder for what is to be remembered from one call to the next; `None`: nothing is.
    pub state_folder: Option<PathBuf>,
}

impl Io {
    /// Those of the process.
    pub fn standard() -> Io {
        Io {
            input: Box::new(BufReader::new(io::stdin())),
            out: Box::new(io::BufWriter::new(io::stdout())),
            talk: Box::new(io::stderr()),
            interactive: io::stdin().is_terminal(),
            state_folder: state_folder(),
        }
    }

    /// A line of the result.
    ///
    /// # Errors
    /// When nobody reads any more.
    pub fn line(&mut self, text: &str) -> Result<(), Failure> {
        writeln!(self.out, "{}", printable(text)).map_err(Failure::Output)
    }

    /// A line of the result that is to be seen at once.
    ///
    /// # Errors
    /// When nobody reads any more.
    pub fn line_now(&mut self, text: &str) -> Result<(), Failure> {
        self.line(text)?;
        self.flush()
    }

    /// Writes out what is held back.
    ///
    /// # Errors
    /// When nobody reads any more.
    pub fn flush(&mut self) -> Result<(), Failure> {
        self.out.flush().map_err(Failure::Output)
    }

    /// A line to people. That nobody listens is no reason to stop.
    pub fn tell(&mut self, text: &str) {
        let _ = writeln!(self.talk, "{}", printable(text));
    }
}

/// Text from servers and archives cannot command the terminal: of control characters only line ends and tabs are let
/// through, and marks that turn the direction of writing are not.
pub(crate) fn printable(text: &str) -> Cow<'_, str> {
    match text.contains(commands_terminals) {
        true => Cow::Owned(text.replace(commands_terminals, "\u{FFFD}")),
        false => Cow::Borrowed(text),
    }
}

/// Could this character move, colour or turn what stands on a terminal?
pub(crate) fn commands_terminals(c: char) -> bool {
    (c.is_control() && c != '\n' && c != '\t')
        || matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Where the system keeps such things for a person.
fn state_folder() -> Option<PathBuf> {
    let given = |name| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let home = || given("HOME").map(|home| home.join(".local/state"));
    let folder = given("XDG_STATE_HOME").or_else(|| given("LOCALAPPDATA")).or_else(home)?;
    Some(folder.join("deadship"))
}

/// Breaks running text at spaces so that it fits; every line begins with the indent.
pub fn wrap(text: &str, indent: usize) -> String {
    let margin = " ".repeat(indent);
    let lines = wrap_to(text, WIDTH.saturating_sub(indent));
    lines.iter().map(|line| format!("{margin}{line}")).collect::<Vec<_>>().join("\n")
}

/// Running text in lines that are no wider than that, but for longer words; always one at least.
pub fn wrap_to(text: &str, columns: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let width = line.chars().count();
        if width > 0 && width + 1 + word.chars().count() > columns {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

/// Breaks only the lines that are too long, each at its own margin.
pub fn wrap_long_lines(text: &str) -> String {
    let line = |line: &str| {
        let margin = line.len() - line.trim_start().len();
        match line.chars().count() > WIDTH {
            true => format!("{}{}", " ".repeat(margin), wrap(line, margin + 4).trim_start()),
            false => line.to_owned(),
        }
    };
    text.lines().map(line).collect::<Vec<_>>().join("\n")
}

/// Name and text side by side, the text wrapped at its own margin.
pub fn beside(name: &str, column: usize, text: &str) -> String {
    let width = name.chars().count();
    let wrapped = wrap(text, column);
    if width + 2 > column {
        return format!("{name}\n{wrapped}");
    }
    let margin: String = " ".repeat(column - width);
    format!("{name}{margin}{}", wrapped.trim_start())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_of_others_cannot_command_the_terminal() {
        assert_eq!(printable("a\tb\nc é"), "a\tb\nc é");
        assert_eq!(
            printable("\u{1b}[2J\u{7}x\r\u{9b}y\u{202e}"),
            "\u{fffd}[2J\u{fffd}x\u{fffd}\u{fffd}y\u{fffd}"
        );
    }

    #[test]
    fn text_is_broken_at_spaces() {
        let long = "word ".repeat(40);
        let wrapped = wrap(&long, 4);
        assert!(wrapped.lines().all(|line| line.chars().count() <= WIDTH && line.starts_with("    word")));
        assert_eq!(wrapped.split_whitespace().count(), 40);
        let told = wrap_long_lines(&format!("  a   b\n  {long}"));
        assert!(told.starts_with("  a   b\n  word word") && told.contains("\n      word"), "{told}");
        assert_eq!(beside("a", 4, "text"), "a   text");
        assert_eq!(beside("abcd", 4, "text"), "abcd\n    text");
    }
}
