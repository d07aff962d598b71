//! What happened and was said.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::{Model, Sort, Talk};
use crate::screen::parts::{About, Row, ink};
use crate::screen::text::{clock, wrap};

/// One line of talk as rows, wrapped.
pub(crate) fn talk_rows(palette: Palette, talk: &Talk, wide: usize) -> Vec<Row> {
    let body = match talk.sort {
        Sort::Said => Ink::Strong,
        Sort::Event | Sort::Answer => Ink::Plain,
        Sort::Refused => Ink::Refused,
    };
    let head = format!("{:>6} ", clock(talk.tick));
    let text = if talk.who.is_empty() { talk.text.clone() } else { format!("{}: {}", talk.who, talk.text) };
    let lines = wrap(&text, wide.saturating_sub(head.len()).max(10));
    let row = |(i, line): (usize, &String)| {
        let head = if i == 0 { head.clone() } else { " ".repeat(head.len()) };
        Row::new(palette, About::Nothing, &[(Ink::Faint, &head), (body, line)])
    };
    lines.iter().enumerate().map(row).collect()
}

/// The beginning of a line of talk that there is no room for, with a sign that there is more of it.
fn begun(palette: Palette, talk: &Talk, wide: usize, most: usize) -> Vec<Row> {
    let mut rows = talk_rows(palette, talk, wide.saturating_sub(1));
    rows.truncate(most);
    if let Some(last) = rows.last_mut() {
        last.line.push_span(ink(palette, Ink::Faint, "…"));
    }
    rows
}

/// All of it, the newest last.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    model.talk.iter().flat_map(|talk| talk_rows(palette, talk, wide)).collect()
}

/// Rows of the strip that is always seen.
const STRIP: usize = 2;

/// Most rows that a refusal takes there.
const MOST_OF_A_REFUSAL: usize = 6;

/// The last rows, for the strip that is always seen. A refusal stands there in full until something newer comes: what to do
/// instead is said at its end.
pub(crate) fn strip(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let newest = model.talk.back().filter(|talk| talk.sort == Sort::Refused);
    let mut rows = newest.map_or_else(Vec::new, |refused| talk_rows(palette, refused, wide));
    if rows.len() > MOST_OF_A_REFUSAL {
        rows.truncate(MOST_OF_A_REFUSAL - 1);
        let more = " ".repeat(7) + "… 8 shows all of it";
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &more)]));
    }
    if rows.len() <= STRIP {
        rows = last(model, palette, wide, STRIP);
        rows.resize(STRIP, Row::new(palette, About::Nothing, &[]));
    }
    rows
}

/// The last rows, as many as there is room for.
pub(crate) fn last(model: &Model, palette: Palette, wide: usize, most: usize) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for talk in model.talk.iter().rev() {
        let these = talk_rows(palette, talk, wide);
        if rows.len() + these.len() > most {
            rows.splice(0..0, begun(palette, talk, wide, most - rows.len()));
            break;
        }
        rows.splice(0..0, these);
    }
    rows
}
