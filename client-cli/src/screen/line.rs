//! The command line: what is typed, what was typed before.

use super::text::{clean, width};
use deadship_protocol::LONGEST_LINE;

/// Lines that are remembered.
const MOST_REMEMBERED: usize = 200;

/// A line being typed.
#[derive(Clone, Debug, Default)]
pub(crate) struct TypedLine {
    letters: Vec<char>,
    cursor: usize,
    /// Lines typed before, the newest last.
    past: Vec<String>,
    /// Which of them is shown, counted from the newest.
    back: usize,
}

impl TypedLine {
    /// What stands there.
    pub(crate) fn text(&self) -> String {
        self.letters.iter().collect()
    }

    /// Is there nothing?
    pub(crate) fn is_empty(&self) -> bool {
        self.letters.is_empty()
    }

    /// What stands before the cursor.
    pub(crate) fn before(&self) -> String {
        self.letters[..self.cursor].iter().collect()
    }

    /// A letter.
    pub(crate) fn put(&mut self, letter: char) {
        if self.letters.len() < LONGEST_LINE {
            self.letters.insert(self.cursor, letter);
            self.cursor += 1;
        }
    }

    /// Pasted text, as one line: never done by itself, line ends and all.
    pub(crate) fn paste(&mut self, text: &str) {
        let one_line = text.split(['\r', '\n']).map(str::trim).filter(|part| !part.is_empty());
        for letter in clean(&one_line.collect::<Vec<_>>().join(" ")).chars() {
            self.put(letter);
        }
    }

    /// Takes the letter before the cursor away.
    pub(crate) fn rub(&mut self) {
        if self.cursor > 0 {
            self.cursor -= 1;
            self.letters.remove(self.cursor);
        }
    }

    /// Takes the letter at the cursor away.
    pub(crate) fn delete(&mut self) {
        if self.cursor < self.letters.len() {
            self.letters.remove(self.cursor);
        }
    }

    /// Takes the word before the cursor away.
    pub(crate) fn rub_word(&mut self) {
        while self.cursor > 0 && self.letters[self.cursor - 1] == ' ' {
            self.rub();
        }
        while self.cursor > 0 && self.letters[self.cursor - 1] != ' ' {
            self.rub();
        }
    }

    /// Moves the cursor.
    pub(crate) fn go(&mut self, by: isize) {
        self.cursor = self.cursor.saturating_add_signed(by).min(self.letters.len());
    }

    /// To the beginning or the end.
    pub(crate) fn go_end(&mut self, end: bool) {
        self.cursor = if end { self.letters.len() } else { 0 };
    }

    /// Something else stands there now.
    pub(crate) fn set(&mut self, text: &str) {
        self.letters = text.chars().take(LONGEST_LINE).collect();
        self.cursor = self.letters.len();
    }

    /// Empties it.
    pub(crate) fn clear(&mut self) {
        self.set("");
        self.back = 0;
    }

    /// Takes the line out and remembers it.
    pub(crate) fn take(&mut self) -> String {
        let text = self.text().trim().to_owned();
        self.clear();
        if !text.is_empty() && self.past.last() != Some(&text) {
            self.past.push(text.clone());
            if self.past.len() > MOST_REMEMBERED {
                self.past.remove(0);
            }
        }
        text
    }

    /// Shows an older line (`true`) or a newer one.
    pub(crate) fn remember(&mut self, older: bool) {
        self.back = if older { (self.back + 1).min(self.past.len()) } else { self.back.saturating_sub(1) };
        let text = match self.back {
            0 => String::new(),
            back => self.past[self.past.len() - back].clone(),
        };
        let back = self.back;
        self.set(&text);
        self.back = back;
    }

    /// The part that is shown in so many cells, so that the cursor is in it; and the cursor's cell.
    pub(crate) fn window(&self, wide: usize) -> (String, usize) {
        let mut from = 0;
        let shown = |from: usize| width(&self.letters[from..self.cursor].iter().collect::<String>());
        while from < self.cursor && shown(from) + 1 > wide {
            from += 1;
        }
        let text: String = self.letters[from..].iter().collect();
        (super::text::cut(&text, wide), shown(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_pasted_is_one_line_and_harmless() {
        let mut line = TypedLine::default();
        line.paste("open a\r\nclose b\n\u{1b}[2Jend");
        assert_eq!(line.text(), "open a close b \u{fffd}[2Jend");
        line.paste(&"x".repeat(5_000));
        assert_eq!(line.text().chars().count(), LONGEST_LINE);
    }

    #[test]
    fn older_lines_come_back() {
        let mut line = TypedLine::default();
        for text in ["one", "two"] {
            line.set(text);
            line.take();
        }
        line.remember(true);
        line.remember(true);
        assert_eq!(line.text(), "one");
        line.remember(false);
        assert_eq!(line.text(), "two");
        line.remember(false);
        assert!(line.is_empty());
    }

    #[test]
    fn words_and_letters_are_taken_away() {
        let mut line = TypedLine::default();
        line.set("open dg1.valvé");
        line.rub();
        line.go(-3);
        line.delete();
        assert_eq!(line.text(), "open dg1.vlv");
        line.go_end(true);
        line.rub_word();
        assert_eq!(line.text(), "open ");
    }

    #[test]
    fn the_cursor_stays_in_the_window() {
        let mut line = TypedLine::default();
        line.set("0123456789");
        assert_eq!(line.window(5), ("6789".to_owned(), 4));
        line.go_end(false);
        assert_eq!(line.window(5), ("0123…".to_owned(), 0));
    }
}
