//! Help that lies over the view.

use super::DebriefScreen;
use super::seek::Plant;
use super::signs::Sign;
use crate::screen::colours::Ink;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clean, fit, wrap};

impl DebriefScreen {
    /// Help that lies over the view: what is to be known of this log, keys, signs.
    pub(super) fn help_rows(&self, wide: usize) -> Vec<Row> {
        let palette = self.palette;
        let mut rows = Vec::new();
        if let Plant::Cannot(why) = &self.plant {
            rows.push(Row::heading(palette, "THE PLANT CANNOT BE SHOWN; what was recorded stands"));
            rows.extend(Row::text(palette, Ink::Caution, &clean(why), wide));
        }
        if let Some((_, all)) = self.plant.difference() {
            rows.push(Row::heading(palette, "RECORD AND MODEL DIFFER; what was recorded stands"));
            rows.extend(Row::text(palette, Ink::Caution, &clean(&all), wide));
        }
        rows.push(Row::heading(palette, "KEYS"));
        for (keys, does) in KEYS {
            for (i, line) in wrap(does, wide.saturating_sub(22).max(10)).iter().enumerate() {
                let left = fit(if i == 0 { keys } else { "" }, 22);
                rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &left), (Ink::Plain, line)]));
            }
        }
        rows.push(Row::heading(palette, "SIGNS, the most telling first: of several in a cell it is shown"));
        for sign in Sign::all() {
            let words = format!("  {}", sign.words());
            rows.push(Row::new(palette, About::Nothing, &[(sign.ink(), sign.glyph()), (Ink::Plain, &words)]));
        }
        rows
    }
}

/// What keys do, for help.
pub(super) const KEYS: [(&str, &str); 18] = [
    ("← →", "a cell back or on; where something happened in it, to that"),
    ("PgUp PgDn Home End", "a tenth of the screen; start and end of the run"),
    ("n p", "the next mark, the one before: notes, expectations, faults set, alerts, trips, overdue orders"),
    ("N P", "the same, of notes and expectations alone"),
    ("+ -", "closer, down to two minutes; farther, up to the whole run"),
    ("Space, s", "play and stand; how fast: ×1, ×4, ×16"),
    ("g, /", "go to a time: 12:30; list only events with these words"),
    ("Tab Shift-Tab", "other eyes: everything there is, or what one of the team could see where they stood"),
    ("1 to 7", "what was then: Here, Alerts, Orders, Places, Systems, Trends, List"),
    ("8, 9", "events; the report of the whole run"),
    ("↑ ↓", "choose; an event takes the cursor with it"),
    (
        "Enter",
        "on an event: what the eyes saw of the thing it is about; on an alert or order: to when it came",
    ),
    (
        "w, v",
        "why the chosen event happened; what would have avoided it. On the answer Enter goes to when a line was, Esc \
         leaves it",
    ),
    ("o", "objectives: what the log shows of each, ratings, how far raters agree; Esc leaves them"),
    ("t", "a reading's trend"),
    ("a", "list all events, also needs, digests, cleared and hidden alerts"),
    ("[ ]", "in 5 and 7: the system or list before, the next"),
    ("?, Esc, q, Ctrl-C", "this help; back; leave: nothing is changed"),
];
