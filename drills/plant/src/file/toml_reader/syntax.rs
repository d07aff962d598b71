//! What keeps a text from being TOML, all of it, in words for people who write ships and drills and know no parser.
//!
//! The parser tells the first mistake only. So the line of a mistake is taken out and the rest is looked at again, as long as that
//! can be done without making sense of something else: a text or a list that is not closed swallows what comes after it, and ends
//! the search.

use std::ops::Range;
use toml_edit::Document;

/// One mistake.
pub(super) struct Mistake {
    /// Byte at which.
    pub(super) at: usize,
    pub(super) message: String,
    pub(super) help: Option<String>,
}

/// Most that are looked for: by then it is another sort of file.
const MOST: usize = 20;

/// All mistakes of a text that is not well formed, the first of which is given.
pub(super) fn mistakes(text: &str, first: &toml_edit::TomlError) -> Vec<Mistake> {
    let mut rest = text.to_owned();
    let mut found = vec![mistake(text, first)];
    let mut at = found[0].at;
    while found.len() < MOST {
        let line = line_of(&rest, at);
        if !can_be_taken_out(&rest, &line) {
            break;
        }
        // Blanks keep every other byte where it is.
        rest.replace_range(line.clone(), &" ".repeat(line.len()));
        let Err(error) = Document::parse(rest.as_str()) else { break };
        let next = mistake(&rest, &error);
        if next.at <= line.start {
            break;
        }
        at = next.at;
        found.push(next);
    }
    found
}

/// The line in which a byte stands, without its end.
fn line_of(text: &str, at: usize) -> Range<usize> {
    let at = at.min(text.len());
    let bytes = text.as_bytes();
    let start = bytes[..at].iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    let end = bytes[at..].iter().position(|byte| *byte == b'\n').map_or(text.len(), |length| at + length);
    start..end
}

/// Is it a key with its value on one line? Without the head of a table its keys would be taken for those of the table above; a line
/// within a text or a list cannot be told from others.
fn can_be_taken_out(text: &str, line: &Range<usize>) -> bool {
    let written = text[line.clone()].trim();
    let is_pair = written.split_once(['=', ':']).is_some_and(|(key, _)| {
        !key.trim().is_empty() && key.chars().all(|c| c.is_alphanumeric() || " -_.\"'*".contains(c))
    });
    let opens = ["\"\"\"", "'''"].iter().any(|quote| written.matches(quote).count() % 2 == 1)
        || written.matches('[').count() != written.matches(']').count()
        || written.matches('{').count() != written.matches('}').count();
    (is_pair || written.starts_with("//")) && !opens
}

fn mistake(text: &str, error: &toml_edit::TomlError) -> Mistake {
    let at = error.span().map_or(0, |span| span.start);
    let line = line_of(text, at);
    let (message, help) = in_words(error.message(), text, at, &line);
    Mistake { at, message: format!("not well formed: {message}"), help }
}

/// The parser's message in other words, and what to do.
fn in_words(said: &str, text: &str, at: usize, line: &Range<usize>) -> (String, Option<String>) {
    let written = text[line.clone()].trim();
    let quotes = ['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}'];
    if written.contains(quotes) && !said.starts_with("dup") {
        return told("these quotes are those of a word processor", "write \" or '");
    }
    if written.starts_with("//") {
        return told("this is no key", "a comment begins with `#`");
    }
    let value = text[at..line.end].trim();
    match said.split(',').next().unwrap_or(said) {
        "string values must be quoted" => of_value(value),
        "key with no value" => of_key(written, &text[..line.start]),
        "unexpected key or value" => told("something stands behind the value", behind(written, value)),
        "invalid basic string" | "invalid literal string" => told(
            "the text is not closed",
            "its last quote is missing, or it goes on on the next line: then write three quotes",
        ),
        "invalid multi-line basic string" | "invalid multi-line literal string" => {
            let opened = last_opening(text);
            let help =
                format!("look for its last three quotes; it may be the one that begins on line {opened}");
            told("a text of several lines is not closed", &help)
        }
        "duplicate key" if written.starts_with('[') => {
            told("this table is there already", "write all its keys below one head")
        }
        "duplicate key" => told("this key stands twice in its table", "take one of them out"),
        "missing comma between array elements" if text[line.start..at].trim().is_empty() => {
            told("the list before this is not closed", "a `]` is missing at its end")
        }
        "missing comma between array elements" => {
            told("a comma is missing between two elements of a list", "write `,`")
        }
        "unclosed array" => told("a list is not closed", "a `]` is missing at its end"),
        "unclosed array table" => told("the head of the table is not closed", "it ends with `]]`"),
        "unclosed table" => told("the head of the table is not closed", "it ends with `]`"),
        "unclosed inline table" => told("a table in braces is not closed", "a `}` is missing at its end"),
        "unexpected leading zero" => told("a number begins with a zero", "leave it out"),
        "missing escaped value" => told(
            "a backslash in a text between double quotes begins an escape",
            "write two of them, or put the text between single quotes, '",
        ),
        _ => (said.to_owned(), None),
    }
}

fn told(message: &str, help: &str) -> (String, Option<String>) {
    (message.to_owned(), Some(help.to_owned()))
}

/// Something that is no value.
fn of_value(value: &str) -> (String, Option<String>) {
    match value {
        _ if value.is_empty() || value.starts_with('#') => {
            told("the value is missing", "it stands on the line of its key, behind the `=`")
        }
        "yes" | "on" | "True" | "TRUE" => told("this is no value", "write `true`"),
        "no" | "off" | "False" | "FALSE" => told("this is no value", "write `false`"),
        _ => told("a text stands between quotes", &format!("write `\"{}\"`", text_of(value))),
    }
}

/// A line that has no key with a value.
fn of_key(written: &str, before: &str) -> (String, Option<String>) {
    if before.trim_end().ends_with('=') {
        return told("a value stands alone here", "it stands on the line of its key, behind the `=`");
    }
    if written.split('=').next().is_some_and(|key| key.contains(':')) {
        return told("a key and its value are parted by `=`", "write `=` for `:`");
    }
    if written.contains('=') {
        return told("a key is one word", "join its parts by `-`, or put it between quotes");
    }
    let help = "write `key = value`; a text of several lines stands between three quotes, `\"\"\"`";
    told("this is no key with a value", help)
}

/// What to do about what stands behind a value.
fn behind(written: &str, rest: &str) -> &'static str {
    let begins = |is: fn(char) -> bool| rest.starts_with(is);
    if written.contains('"') && begins(char::is_alphanumeric) {
        "one key on a line; a text with \" in it stands between single quotes, '"
    } else if rest.starts_with(',') {
        "write decimals with a point, and lists between `[` and `]`"
    } else if begins(char::is_alphabetic) {
        "a number with a unit is a text: put it between quotes"
    } else {
        "one key with its value on a line"
    }
}

/// What the author may have meant as a text, as far as it goes.
fn text_of(value: &str) -> &str {
    value.split('#').next().unwrap_or(value).trim().trim_matches(['"', '\''])
}

/// Line of the last three quotes of a text.
fn last_opening(text: &str) -> usize {
    let at = text.rfind("\"\"\"").max(text.rfind("'''")).unwrap_or(0);
    text[..at].matches('\n').count() + 1
}
