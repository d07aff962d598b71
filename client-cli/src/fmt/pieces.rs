//! A TOML text taken apart into lines, and values into the parts that may stand on lines of their own. Everything that is not white
//! space is kept to the letter.

use toml_parser::Source;
use toml_parser::lexer::{Token, TokenKind};

/// A line of a file, and whether blank lines stand before it. A value that is written over several lines is one line here.
pub(super) struct Line<'t> {
    pub(super) blank_before: bool,
    pub(super) what: What<'t>,
}

/// What a line is.
pub(super) enum What<'t> {
    /// A comment with its indentation.
    Comment { indent: &'t str, text: &'t str },
    /// The head of a table.
    Header { text: String, path: Vec<&'t str>, of_list: bool, remark: Option<Remark<'t>> },
    /// A key with its value.
    Pair { pair: Pair<'t>, remark: Option<Remark<'t>> },
}

/// A comment behind something, and the gap before it.
#[derive(Clone, Copy)]
pub(super) struct Remark<'t> {
    pub(super) gap: &'t str,
    pub(super) text: &'t str,
}

/// A key, without spaces round its dots, and its value.
pub(super) struct Pair<'t> {
    pub(super) key: String,
    pub(super) value: Value<'t>,
}

/// A value.
pub(super) enum Value<'t> {
    /// As written.
    Plain(String),
    /// A list or a table in braces.
    Group(Group<'t>),
}

/// A list or a table in braces.
pub(super) struct Group<'t> {
    pub(super) is_table: bool,
    /// Do line ends stand in it, outside of the groups within?
    pub(super) is_broken: bool,
    /// A comment behind the bracket that opens it.
    pub(super) remark: Option<Remark<'t>>,
    pub(super) items: Vec<Item<'t>>,
}

/// What stands in a group.
pub(super) struct Item<'t> {
    pub(super) blank_before: bool,
    pub(super) part: Part<'t>,
    pub(super) remark: Option<Remark<'t>>,
}

/// One part of a group.
pub(super) enum Part<'t> {
    /// An element of a list.
    Value(Value<'t>),
    /// An entry of a table in braces.
    Pair(Pair<'t>),
    /// A comment on a line of its own.
    Comment(&'t str),
}

/// Every comment of a text, in order, without the white space behind it.
pub(super) fn comments(text: &str) -> Vec<&str> {
    let source = Source::new(text);
    let comments = source.lex().filter(|token| token.kind() == TokenKind::Comment);
    comments.map(|token| without_end(&text[token.span().start()..token.span().end()])).collect()
}

/// How the first line ends; the others are written so too.
pub(super) fn line_end(text: &str) -> &'static str {
    let first = Source::new(text).lex().find(|token| token.kind() == TokenKind::Newline);
    match first {
        Some(token) if text[token.span().start()..].starts_with('\r') => "\r\n",
        _ => "\n",
    }
}

/// The lines of a text that is well formed.
pub(super) fn lines(text: &str) -> Vec<Line<'_>> {
    let mut cursor = Cursor { text, tokens: Source::new(text).lex().collect(), at: 0 };
    let mut lines = Vec::new();
    let mut blank_before = false;
    loop {
        let indent = cursor.space();
        let what = match cursor.kind() {
            TokenKind::Eof => return lines,
            TokenKind::Newline => {
                cursor.take();
                blank_before = true;
                continue;
            }
            TokenKind::Comment => What::Comment { indent, text: without_end(cursor.take()) },
            TokenKind::LeftSquareBracket => cursor.header(),
            _ => {
                let pair = cursor.pair();
                What::Pair { pair, remark: cursor.remark() }
            }
        };
        lines.push(Line { blank_before, what });
        blank_before = false;
        cursor.space();
        if cursor.kind() == TokenKind::Newline {
            cursor.take();
        }
    }
}

fn without_end(text: &str) -> &str {
    text.trim_end_matches([' ', '\t'])
}

struct Cursor<'t> {
    text: &'t str,
    tokens: Vec<Token>,
    at: usize,
}

impl<'t> Cursor<'t> {
    /// What comes next; at the end, always the end.
    fn kind(&self) -> TokenKind {
        self.tokens.get(self.at).map_or(TokenKind::Eof, Token::kind)
    }

    fn take(&mut self) -> &'t str {
        let Some(token) = self.tokens.get(self.at) else { return "" };
        self.at += 1;
        &self.text[token.span().start()..token.span().end()]
    }

    /// Spaces and tabs that come next, if any.
    fn space(&mut self) -> &'t str {
        if self.kind() == TokenKind::Whitespace { self.take() } else { "" }
    }

    /// A comment on the same line.
    fn remark(&mut self) -> Option<Remark<'t>> {
        let before = self.at;
        let gap = self.space();
        if self.kind() == TokenKind::Comment {
            return Some(Remark { gap, text: without_end(self.take()) });
        }
        self.at = before;
        None
    }

    fn header(&mut self) -> What<'t> {
        let (mut text, mut path) = (String::new(), Vec::new());
        while !matches!(self.kind(), TokenKind::Newline | TokenKind::Comment | TokenKind::Eof) {
            let kind = self.kind();
            let raw = self.take();
            match kind {
                TokenKind::Whitespace => continue,
                TokenKind::Dot | TokenKind::LeftSquareBracket | TokenKind::RightSquareBracket => {}
                _ => path.push(raw),
            }
            text.push_str(raw);
        }
        // The gap before a comment was passed over: it stands right before it.
        if self.at > 0 && self.tokens[self.at - 1].kind() == TokenKind::Whitespace {
            self.at -= 1;
        }
        let of_list = text.starts_with("[[");
        What::Header { text, path, of_list, remark: self.remark() }
    }

    fn pair(&mut self) -> Pair<'t> {
        let mut key = String::new();
        while !matches!(self.kind(), TokenKind::Equals | TokenKind::Eof) {
            if self.space().is_empty() {
                key.push_str(self.take());
            }
        }
        self.take();
        self.space();
        Pair { key, value: self.value() }
    }

    fn value(&mut self) -> Value<'t> {
        match self.kind() {
            TokenKind::LeftSquareBracket => Value::Group(self.group(false)),
            TokenKind::LeftCurlyBracket => Value::Group(self.group(true)),
            _ => Value::Plain(self.plain()),
        }
    }

    /// A text, a number, a date: the space within a date is the only one that belongs to it.
    fn plain(&mut self) -> String {
        let mut plain = String::new();
        loop {
            let space = self.space();
            match self.kind() {
                TokenKind::Newline
                | TokenKind::Comment
                | TokenKind::Comma
                | TokenKind::RightSquareBracket
                | TokenKind::RightCurlyBracket
                | TokenKind::Eof => {
                    self.at -= usize::from(!space.is_empty());
                    return plain;
                }
                _ => {
                    plain.push_str(space);
                    plain.push_str(self.take());
                }
            }
        }
    }

    fn group(&mut self, is_table: bool) -> Group<'t> {
        self.take();
        let mut group = Group { is_table, is_broken: false, remark: self.remark(), items: Vec::new() };
        // Line ends since the last part: none, one, or more, which is a blank line.
        let mut ends = 0_usize;
        loop {
            let gap = self.space();
            let part = match self.kind() {
                TokenKind::Newline => {
                    self.take();
                    group.is_broken = true;
                    ends += 1;
                    continue;
                }
                TokenKind::Comma => {
                    self.take();
                    continue;
                }
                TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket | TokenKind::Eof => {
                    self.take();
                    return group;
                }
                TokenKind::Comment => {
                    let text = without_end(self.take());
                    let beside = group.items.last_mut().filter(|item| ends == 0 && item.remark.is_none());
                    if let Some(item) = beside {
                        item.remark = Some(Remark { gap, text });
                        continue;
                    }
                    Part::Comment(text)
                }
                _ if is_table => Part::Pair(self.pair()),
                _ => Part::Value(self.value()),
            };
            group.items.push(Item { blank_before: ends > 1, part, remark: None });
            ends = 0;
        }
    }
}
