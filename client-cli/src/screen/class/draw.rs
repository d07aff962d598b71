//! How the instructor's screen is drawn.

use super::keys::marks;
use super::rank::{Needs, middle, needs};
use super::{ClassScreen, View};
use crate::screen::browse::{Browse, Browsed};
use crate::screen::desk::Desk;
use crate::screen::parts::{self, About, At, Row, Sheet};
use crate::screen::text::clean;
use crate::screen::views::{alerts, component, crew, faults, here, plan, talk, teams, trends};
use ratatui::layout::Rect;
use ratatui::text::Line;

/// The team that needs someone most, wherever one looks.
fn who_needs(screen: &ClassScreen) -> String {
    let mut most: Option<(Needs, String)> = None;
    for class in &screen.board {
        let middle = middle(&class.teams);
        for team in &class.teams {
            let (needs, why) = needs(team, middle);
            let sooner = most.as_ref().is_none_or(|(known, _)| needs < *known);
            if needs < Needs::Ahead && sooner {
                let (sign, word) = needs.word();
                let why = why.first().cloned().unwrap_or_default();
                most = Some((needs, format!(" {sign} {} {word}: {}", clean(&team.state.team), clean(&why))));
            }
        }
    }
    match (most, screen.board.is_empty()) {
        (Some((_, text)), _) => text,
        (None, true) if screen.used.is_none() => " no class is open".to_owned(),
        (None, true) => String::new(),
        (None, false) => " ○ nobody needs you".to_owned(),
    }
}

fn tabs(screen: &ClassScreen) -> Line<'static> {
    let now = &screen.desk.model.situation;
    let waiting = now.alerts.iter().filter(|alert| alert.waits).count();
    let views = View::ALL.iter().map(|(view, name)| {
        let count = match view {
            View::Alerts if waiting > 0 => format!("!{waiting}"),
            View::Faults if !now.faults.is_empty() => format!("✖{}", now.faults.len()),
            _ => String::new(),
        };
        (*name, count, *view == screen.view)
    });
    parts::tabs(screen.desk.palette, views)
}

/// Alerts and talk of the team in use, beside the view.
fn beside(screen: &ClassScreen, sheet: &mut Sheet<'_>, area: Rect) {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let wide = usize::from(area.width) - 1;
    let rows = alerts::rows(model, palette, wide);
    let high = (area.height / 2).min(rows.len() as u16 + 1);
    let inner = sheet.line(Rect { height: high, ..area }, &Row::heading(palette, "ALERTS OF THIS TEAM").line);
    sheet.list(inner, &rows, &mut At::default(), false);
    let rest = Rect { y: area.y + high, height: area.height - high, ..area };
    let inner = sheet.line(rest, &Row::heading(palette, "TALK").line);
    let rows = talk::last(model, palette, wide, usize::from(inner.height));
    sheet.list(inner, &rows, &mut At::default(), false);
}

/// One line of alerts and two of talk of the team in use.
fn strips(screen: &ClassScreen, wide: usize) -> Vec<Row> {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let mut rows = alerts::strip(model, palette, wide, 1);
    rows.resize(1, Row::new(palette, About::Nothing, &[]));
    rows.extend(talk::strip(model, palette, wide));
    rows
}

fn keys(screen: &ClassScreen) -> String {
    let keys = match screen.view {
        _ if screen.browse.help.is_some() => "↑↓ scroll  any other key closes",
        View::Teams => "Enter look at it  [ ] next team  = hold  + - speed  F2-F6 marks  ? help",
        View::Plant if screen.browse.in_pane => "↑↓ choose  Enter do  Space trend  ← back",
        View::Plant => "Enter/→ work it  / find  ? help on it  [ ] next team",
        View::Faults => "Enter look, Enter again set or lift  * all teams  Space into the line  / find",
        View::Systems => return screen.desk.system_keys(),
        View::Plan => "↑↓ Enter: a hint into the line  [ ] next team",
        View::Crew => "\" speak as the bridge  type `say to STATION: TEXT`",
        View::Trends => "Space no more of it  type `trend NAME`",
        _ => "↑↓ scroll  [ ] next team  \" as the bridge  ; words to the last mark  ? help",
    };
    keys.to_owned()
}

impl Browsed for ClassScreen {
    fn desk(&self) -> &Desk {
        &self.desk
    }

    fn desk_mut(&mut self) -> &mut Desk {
        &mut self.desk
    }

    fn browse(&self) -> &Browse {
        &self.browse
    }

    fn browse_mut(&mut self) -> &mut Browse {
        &mut self.browse
    }

    fn slot(&self) -> usize {
        self.view.index()
    }

    fn rows(&self, wide: usize) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        match self.view {
            View::Teams => teams::rows(&self.board, &self.codes, model, &self.drills, palette, wide),
            View::Plant => here::rows(model, palette, &self.desk.filter, wide),
            View::Alerts => alerts::rows(model, palette, wide),
            View::Crew => crew::rows(model, palette, wide),
            View::Systems => self.desk.system_rows(wide),
            View::Faults => faults::rows(model, palette, &self.desk.filter, wide).0,
            View::Plan => plan::rows(model, palette, wide),
            View::Talk => talk::rows(model, palette, wide),
            View::Trends => trends::rows(model, palette, wide),
        }
    }

    fn pane_rows(&self, wide: usize) -> Vec<Row> {
        let (model, palette) = (&self.desk.model, self.desk.palette);
        match self.view {
            View::Plant => self
                .chosen_component()
                .map_or_else(Vec::new, |chosen| component::pane(model, palette, chosen, wide)),
            View::Faults => self
                .looked_at
                .clone()
                .or_else(|| self.chosen_fault())
                .map_or_else(Vec::new, |fault| faults::preview(model, palette, &fault, wide)),
            _ => Vec::new(),
        }
    }

    fn key_rows(&self, wide: usize) -> Vec<Row> {
        let palette = self.desk.palette;
        let mut rows = vec![Row::heading(palette, "KEYS, while nothing is typed")];
        let marks: Vec<(String, String)> = marks()
            .map(|(key, category)| {
                (format!("F{key}"), format!("mark for the team in use, ten seconds back: {category}"))
            })
            .collect();
        let marks = marks.iter().map(|(key, does)| (key.as_str(), does.as_str()));
        let words = deadship_run::words::WORDS.iter().filter(|(word, ..)| *word != "help");
        let all = KEYS
            .into_iter()
            .chain(marks)
            .chain([("", ""), ("WORDS", "Begin to type; Tab completes.")])
            .chain(crate::online::TEACH_WORDS)
            .chain(words.map(|(_, form, doc)| (*form, *doc)));
        rows.extend(parts::entries(palette, wide, all));
        rows
    }

    fn has_pane(&self) -> bool {
        matches!(self.view, View::Plant | View::Faults)
    }

    fn marks_rows(&self) -> bool {
        self.view != View::Systems
    }

    fn role(&self) -> &'static str {
        "instructor"
    }

    fn standing(&self) -> String {
        who_needs(self)
    }

    fn tabs(&self) -> Line<'static> {
        tabs(self)
    }

    fn keys(&self) -> String {
        keys(self)
    }

    fn beside(&self, sheet: &mut Sheet<'_>, area: Rect) {
        beside(self, sheet, area);
    }

    fn strips(&self, wide: usize) -> Vec<Row> {
        strips(self, wide)
    }
}

/// What keys do, for help.
const KEYS: [(&str, &str); 13] = [
    ("1 to 9, Tab", "the views: Teams, Plant, Alerts, Crew, Systems, Faults, Plan, Talk, Trends"),
    ("[ ]", "the team before, the next team"),
    (
        "Enter",
        "on a team: look at it; on a fault: what it does, again: set or lift it; on a hint: into the line",
    ),
    ("*", "the fault looked at, for every team; else begins a line for all"),
    ("Space", "a fault or a team into the line; a reading's trend"),
    ("=", "hold, or let go on"),
    ("+ -", "faster, slower"),
    ("\"", "speak as the bridge"),
    (";", "words for the last mark, or a note"),
    ("/", "find in Plant or Faults"),
    ("?", "help on the chosen component or alert, or this"),
    ("Esc", "takes back: what is typed, the search, the pane"),
    ("Ctrl-C twice, or quit", "leave; the runs go on"),
];
