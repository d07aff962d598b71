//! How the instructor's screen is drawn.

use super::keys::marks;
use super::rank::{Needs, middle, needs};
use super::{ClassScreen, View};
use crate::screen::colours::Ink;
use crate::screen::parts::{self, About, At, Row, Sheet};
use crate::screen::text::clean;
use crate::screen::views::{alerts, component, talk};
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

/// From this size on the team in use stands beside the view.
const WIDE: (u16, u16) = (120, 30);

pub(super) fn draw(screen: &mut ClassScreen, frame: &mut Frame<'_>) {
    let area = frame.area();
    let palette = screen.desk.palette;
    frame.buffer_mut().set_style(area, palette.style(Ink::Plain));
    let mut sheet = Sheet { buffer: frame.buffer_mut(), palette };
    if screen.desk.too_small(&mut sheet, area) {
        return;
    }
    let rest = screen.desk.top(&mut sheet, area, "instructor");
    let rest = screen.desk.standing(&mut sheet, rest, &who_needs(screen));
    let rest = sheet.line(rest, &tabs(screen));
    let wide = area.width >= WIDE.0 && area.height >= WIDE.1;
    let foot = if wide { 2 } else { 5 };
    let main = Rect { height: rest.height - foot, ..rest };
    let below = Rect { y: main.y + main.height, height: foot, ..rest };
    match wide {
        true => {
            let left = main.width * 3 / 5;
            view(screen, &mut sheet, Rect { width: left, ..main });
            sheet.rule(Rect { x: left, width: 1, ..main });
            beside(screen, &mut sheet, Rect { x: left + 1, width: main.width - left - 1, ..main });
        }
        false => view(screen, &mut sheet, main),
    }
    let below = if wide { below } else { strips(screen, &mut sheet, below) };
    let cursor = screen.desk.command_line(&mut sheet, below, &keys(screen));
    frame.set_cursor_position(cursor);
}

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

fn view(screen: &mut ClassScreen, sheet: &mut Sheet<'_>, area: Rect) {
    screen.desk.room = (usize::from(area.width) - 1, usize::from(area.height));
    if let Some((_, mut at)) = screen.help {
        let rows = screen.help_rows(usize::from(area.width) - 2);
        sheet.list(area, &rows, &mut at, false);
        if let Some(help) = &mut screen.help {
            help.1 = at;
        }
        return;
    }
    let has_pane = matches!(screen.view, View::Plant | View::Faults) && area.width >= 60;
    let pane = if has_pane { (area.width * 2 / 5).min(46) } else { 0 };
    let list = Rect { width: area.width - pane, ..area };
    screen.desk.room.0 = usize::from(list.width) - 1;
    let rows = screen.rows(screen.desk.room.0);
    // In a system the part itself is marked.
    let held = !screen.in_pane && screen.view != View::Systems;
    sheet.list(list, &rows, screen.here(), held);
    if has_pane {
        sheet.rule(Rect { x: list.width, width: 1, ..area });
        let pane_area = Rect { x: list.width + 1, width: pane - 1, ..area };
        let rows = screen.pane_rows(usize::from(pane_area.width) - 1);
        let mut at = screen.pane_at;
        sheet.list(pane_area, &rows, &mut at, screen.in_pane);
        screen.pane_at = at;
    }
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
fn strips(screen: &ClassScreen, sheet: &mut Sheet<'_>, area: Rect) -> Rect {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let wide = usize::from(area.width);
    let mut rows = alerts::strip(model, palette, wide, 1);
    let mut said = talk::last(model, palette, wide, 2);
    said.resize(2, Row::new(palette, About::Nothing, &[]));
    rows.extend(said);
    let mut rest = area;
    for row in &rows {
        rest = sheet.line(rest, &row.line);
    }
    rest
}

fn keys(screen: &ClassScreen) -> String {
    let keys = match screen.view {
        _ if screen.help.is_some() => "↑↓ scroll  any other key closes",
        View::Teams => "Enter look at it  [ ] next team  = hold  + - speed  F2-F6 marks  ? help",
        View::Plant if screen.in_pane => "↑↓ choose  Enter do  Space trend  ← back",
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

impl ClassScreen {
    /// Help that lies over the view.
    pub(super) fn help_rows(&self, wide: usize) -> Vec<Row> {
        let palette = self.desk.palette;
        if let Some((Some(chosen), _)) = self.help {
            return component::help(&self.desk.model, palette, chosen, wide);
        }
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
    ("?", "help on the chosen component, or this"),
    ("Esc", "takes back: what is typed, the search, the pane"),
    ("Ctrl-C twice, or quit", "leave; the runs go on"),
];
