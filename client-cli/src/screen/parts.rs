//! What all views are drawn with: rows, lists that scroll, headings.

use super::colours::{Ink, Palette};
use super::text::{cut, fit, width};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::{Position, Rect};
use ratatui::text::{Line, Span};

/// What a row is about: what Enter or Space does with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum About {
    /// Nothing: it is passed over.
    Nothing,
    /// A component.
    Component(usize),
    /// Something to do with a component: the line, and whether a value is still to be typed.
    Do(String, bool),
    /// A reading, by full name.
    Reading(String),
    /// An occurrence of an alert.
    Alert(u64),
    /// An order.
    Order(u64),
    /// A place.
    Place(usize),
    /// A step of a procedure: list and step.
    Step(usize, usize),
    /// A team, by its index.
    Team(usize),
    /// Something else of the view's own, by number.
    Item(usize),
}

/// A row.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// What is drawn.
    pub(crate) line: Line<'static>,
    /// What it is about.
    pub(crate) about: About,
}

/// Text in an ink.
pub(crate) fn ink(palette: Palette, ink: Ink, text: impl Into<String>) -> Span<'static> {
    Span::styled(text.into(), palette.style(ink))
}

impl Row {
    /// A row of parts.
    pub(crate) fn new(palette: Palette, about: About, parts: &[(Ink, &str)]) -> Row {
        let spans: Vec<Span<'static>> = parts.iter().map(|(i, text)| ink(palette, *i, *text)).collect();
        Row { line: Line::from(spans), about }
    }

    /// A line that is passed over.
    pub(crate) fn of(line: Line<'static>) -> Row {
        Row { line, about: About::Nothing }
    }

    /// A heading, which is passed over.
    pub(crate) fn heading(palette: Palette, text: &str) -> Row {
        Row::new(palette, About::Nothing, &[(Ink::Strong, text)])
    }

    /// Running text, which is passed over.
    pub(crate) fn text(palette: Palette, i: Ink, text: &str, wide: usize) -> Vec<Row> {
        let lines = super::text::wrap(text, wide);
        lines.iter().map(|line| Row::new(palette, About::Nothing, &[(i, line)])).collect()
    }

    /// Can it be chosen?
    pub(crate) fn is_choice(&self) -> bool {
        self.about != About::Nothing
    }
}

/// Where someone is in a list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct At {
    /// The chosen row, or the first shown where none can be chosen.
    pub(crate) row: usize,
    /// The first row shown.
    top: usize,
}

impl At {
    /// Moves by so many choices; without choices the list scrolls.
    pub(crate) fn go(&mut self, rows: &[Row], by: isize) {
        let choices: Vec<usize> = (0..rows.len()).filter(|&row| rows[row].is_choice()).collect();
        if choices.is_empty() {
            self.row = self.row.saturating_add_signed(by).min(rows.len().saturating_sub(1));
            return;
        }
        let now = choices.iter().position(|&row| row >= self.row).unwrap_or(choices.len() - 1);
        self.row = choices[now.saturating_add_signed(by).min(choices.len() - 1)];
    }

    /// Moves by the keys that scroll. `false`: it was another one.
    pub(crate) fn scrolls(&mut self, rows: &[Row], high: usize, code: KeyCode) -> bool {
        let by = match code {
            KeyCode::Up => -1,
            KeyCode::Down => 1,
            KeyCode::PageUp => -(high as isize),
            KeyCode::PageDown | KeyCode::Char(' ') => high as isize,
            _ => return false,
        };
        self.go(rows, by);
        true
    }

    /// To the row that is about this, if there is one.
    pub(crate) fn find(&mut self, rows: &[Row], about: &About) {
        if let Some(row) = rows.iter().position(|row| row.about == *about) {
            self.row = row;
        }
    }

    /// Puts the choice where there is one: rows come and go.
    pub(crate) fn settle(&mut self, rows: &[Row]) {
        self.row = self.row.min(rows.len().saturating_sub(1));
        if rows.get(self.row).is_some_and(|row| !row.is_choice()) && rows.iter().any(Row::is_choice) {
            let after = (self.row..rows.len()).find(|&row| rows[row].is_choice());
            let before = || (0..self.row).rev().find(|&row| rows[row].is_choice());
            self.row = after.or_else(before).unwrap_or(self.row);
        }
    }

    /// What the chosen row is about.
    pub(crate) fn about<'r>(&self, rows: &'r [Row]) -> &'r About {
        rows.get(self.row).map_or(&About::Nothing, |row| &row.about)
    }
}

/// Where and how to draw.
pub(crate) struct Sheet<'b> {
    /// The cells.
    pub(crate) buffer: &'b mut Buffer,
    /// With or without colour.
    pub(crate) palette: Palette,
}

impl Sheet<'_> {
    /// A line at the top of an area that it is cut to; gives what is left of the area.
    pub(crate) fn line(&mut self, area: Rect, line: &Line<'_>) -> Rect {
        if area.height == 0 {
            return area;
        }
        self.buffer.set_line(area.x, area.y, line, area.width);
        Rect { y: area.y + 1, height: area.height - 1, ..area }
    }

    /// A whole line in one ink, filled to the end.
    pub(crate) fn bar(&mut self, area: Rect, i: Ink, text: &str) -> Rect {
        let filled = fit(text, usize::from(area.width));
        let span = ink(self.palette, i, filled);
        self.line(area, &Line::from(span))
    }

    /// A list, with the chosen row marked by sign and ink. `held`: do keys go to it?
    pub(crate) fn list(&mut self, area: Rect, rows: &[Row], at: &mut At, held: bool) {
        let high = usize::from(area.height);
        at.settle(rows);
        let choosable = rows.iter().any(Row::is_choice);
        // Headings above the first choice are to be seen as well.
        if at.row < at.top + usize::from(at.top > 0) || !choosable {
            at.top = if choosable { at.row.saturating_sub(1) } else { at.row };
        }
        if choosable && at.row >= at.top + high.saturating_sub(usize::from(rows.len() > at.top + high)) {
            at.top = at.row + 2 - high.min(at.row + 2);
        }
        at.top = at.top.min(rows.len().saturating_sub(high));
        let chosen = choosable.then_some(at.row);
        for (i, row) in rows.iter().enumerate().skip(at.top).take(high) {
            let y = area.y + (i - at.top) as u16;
            let mark = if chosen == Some(i) && held { "▸" } else { " " };
            let mark = ink(self.palette, Ink::Strong, mark);
            self.buffer.set_span(area.x, y, &mark, 1);
            self.buffer.set_line(area.x + 1, y, &row.line, area.width.saturating_sub(1));
            if chosen == Some(i) && held {
                let style = self.palette.style(Ink::Chosen);
                self.buffer.set_style(
                    Rect { x: area.x + 1, y, width: area.width.saturating_sub(1), height: 1 },
                    style,
                );
            }
        }
        self.more(area, at.top > 0, at.top + high < rows.len());
    }

    /// Signs that there is more above or below.
    fn more(&mut self, area: Rect, above: bool, below: bool) {
        if area.width == 0 || area.height == 0 {
            return;
        }
        let style = self.palette.style(Ink::Strong);
        let x = area.x + area.width - 1;
        for (more, y, sign) in [(above, area.y, "↑"), (below, area.y + area.height - 1, "↓")] {
            if more && let Some(cell) = self.buffer.cell_mut(Position { x, y }) {
                cell.set_symbol(sign).set_style(style);
            }
        }
    }

    /// A line between two parts of a screen, downwards.
    pub(crate) fn rule(&mut self, area: Rect) {
        let style = self.palette.style(Ink::Faint);
        for y in area.y..area.y + area.height {
            if let Some(cell) = self.buffer.cell_mut(Position { x: area.x, y }) {
                cell.set_symbol("│").set_style(style);
            }
        }
    }
}

/// The next of so many, round and round, or the one before; 0 where there are none.
pub(crate) fn round(now: usize, count: usize, forward: bool) -> usize {
    match (count, forward) {
        (0, _) => 0,
        (_, true) => (now + 1) % count,
        (_, false) => (now + count - 1) % count,
    }
}

/// The views with their keys: the chosen one between brackets, what waits in them behind their names.
pub(crate) fn tabs<'n>(
    palette: Palette,
    views: impl Iterator<Item = (&'n str, String, bool)>,
) -> Line<'static> {
    let tab = |(i, (name, waiting, chosen)): (usize, (&str, String, bool))| {
        let (open, close) = if chosen { ("[", "]") } else { (" ", " ") };
        let style = match (chosen, waiting.is_empty()) {
            (true, _) => Ink::Chosen,
            (false, false) => Ink::Caution,
            (false, true) => Ink::Faint,
        };
        ink(palette, style, format!("{open}{}{name}{waiting}{close}", i + 1))
    };
    Line::from(views.enumerate().map(tab).collect::<Vec<_>>())
}

/// Names, each with what it means beside it.
pub(crate) fn entries<'e>(
    palette: Palette,
    wide: usize,
    entries: impl Iterator<Item = (&'e str, &'e str)>,
) -> Vec<Row> {
    let column = 26.min(wide / 2);
    let mut rows = Vec::new();
    for (name, means) in entries {
        for (i, line) in super::text::wrap(means, wide.saturating_sub(column).max(10)).iter().enumerate() {
            let name = fit(if i == 0 { name } else { "" }, column);
            rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &name), (Ink::Plain, line)]));
        }
    }
    rows
}

/// Two texts at both ends of a line of this width; the left one is cut first.
pub(crate) fn both_ends(left: &str, right: &str, wide: usize) -> String {
    let right = cut(right, wide);
    let room = wide.saturating_sub(width(&right) + 1);
    format!("{} {right}", fit(left, room))
}
