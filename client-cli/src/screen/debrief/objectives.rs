//! What a drill is to teach, what the log shows of it, how it was rated, and how far the raters agree.

use super::page::{Inks, Lines, Place};
use crate::screen::Palette;
use crate::screen::colours::Ink;
use crate::screen::parts::Row;
use crate::screen::text::clean;
use deadship_run::debrief::{Debrief, Mark, ObjectiveCourse, Outcome, Rating};
use deadship_run::timeline::clock;

/// How ratings are given: this screen has no link to a run that takes them.
const HOW: &str = "To rate, while the class is open, also when the run is over: `rate OBJECTIVE LEVEL WORDS` in the \
                   instructor's terminal. Your last rating counts.";

/// The page: expectations and ratings lead to their events.
pub(super) fn lines(debrief: &Debrief, palette: Palette, wide: usize) -> Lines {
    let mut lines = Lines::default();
    if debrief.objectives.is_empty() {
        lines.rows = Row::text(palette, Ink::Plain, "this drill names no objectives", wide);
        return lines;
    }
    for course in &debrief.objectives {
        objective(&mut lines, course, &debrief.marks, palette, wide);
    }
    if !debrief.raters.is_empty() {
        lines.rows.push(Row::heading(palette, "HOW FAR THE RATERS AGREE"));
        for raters in &debrief.raters {
            let text = format!("{} and {}: {}", raters.first, raters.second, raters.said());
            lines.add(Inks { palette, ink: Ink::Plain }, 0, &text, wide, Some(Place::default()));
        }
    }
    lines.add(Inks { palette, ink: Ink::Faint }, 0, HOW, wide, Some(Place::default()));
    lines
}

fn objective(lines: &mut Lines, course: &ObjectiveCourse, marks: &[Mark], palette: Palette, wide: usize) {
    let inks = |ink| Inks { palette, ink };
    let known = &course.objective;
    lines.rows.push(Row::heading(palette, &clean(&known.name)));
    lines.add(inks(Ink::Plain), 1, &known.text, wide, None);
    if !known.stcw.is_empty() {
        lines.add(inks(Ink::Faint), 1, &known.stcw, wide, None);
    }
    let marks = course.marks(marks);
    if marks.is_empty() {
        lines.add(inks(Ink::Faint), 1, "nothing of it can be ticked by the log", wide, None);
    }
    for mark in marks {
        let (ink, sign) = match mark.outcome {
            Outcome::Met => (Ink::Live, "☑ met"),
            Outcome::Missed => (Ink::Warning, "☒ missed"),
            Outcome::Open => (Ink::Faint, "· open when the log ends"),
        };
        let when = mark.tick.map_or_else(String::new, |tick| format!(" {}", clock(tick).trim()));
        let place = Some(Place::at(mark.tick, mark.seq));
        lines.add(inks(ink), 1, &format!("{sign}{when}: {}", mark.text), wide, place);
    }
    for rating in &course.ratings {
        let place = Some(Place::at(Some(rating.tick), Some(rating.seq)));
        lines.add(inks(Ink::Strong), 1, &rated(rating), wide, place);
    }
    let scale = known.words().join(", ");
    let text = match course.ratings.is_empty() {
        true => format!("not rated yet, on the scale: {scale}"),
        false => format!("the scale: {scale}"),
    };
    lines.add(inks(Ink::Faint), 1, &text, wide, None);
}

fn rated(rating: &Rating) -> String {
    let words = if rating.text.is_empty() { String::new() } else { format!(": {}", rating.text) };
    format!("{} by {}{words}", rating.level, rating.by)
}
