//! What happened and was said.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::{Model, Sort, Talk};
use crate::screen::parts::{About, Row};
use crate::screen::text::{clock, wrap};

/// One line of talk as rows, wrapped.
pub(crate) fn talk_rows(palette: Palette, talk: &Talk, wide: usize) -> Vec<Row> {
    let ink = match talk.sort {
        Sort::Said => Ink::Strong,
        Sort::Event | Sort::Answer => Ink::Plain,
        Sort::Refused => Ink::Refused,
    };
    let head = format!("{:>6} ", clock(talk.tick));
    let text = if talk.who.is_empty() { talk.text.clone() } else { format!("{}: {}", talk.who, talk.text) };
    let lines = wrap(&text, wide.saturating_sub(head.len()).max(10));
    let row = |(i, line): (usize, &String)| {
        let head = if i == 0 { head.clone() } else { " ".repeat(head.len()) };
        Row::new(palette, About::Nothing, &[(Ink::Faint, &head), (ink, line)])
    };
    lines.iter().enumerate().map(row).collect()
}

/// All of it, the newest last.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    model.talk.iter().flat_map(|talk| talk_rows(palette, talk, wide)).collect()
}

/// The last rows, as many as there is room for.
pub(crate) fn last(model: &Model, palette: Palette, wide: usize, most: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for talk in model.talk.iter().rev() {
        let these = talk_rows(palette, talk, wide);
        if rows.len() + these.len() > most {
            let room = most - rows.len();
            rows.splice(0..0, these.into_iter().take(room));
            break;
        }
        rows.splice(0..0, these);
    }
    rows
}
