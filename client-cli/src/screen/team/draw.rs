//! How the screen of a team is drawn.

use super::{TeamScreen, View};
use crate::screen::colours::Ink;
use crate::screen::complete::{OWN_WORDS, is_directing};
use crate::screen::parts::{self, About, At, Row, Sheet};
use crate::screen::text::clean;
use crate::screen::views::{alerts, component, crew, orders, talk};
use ratatui::Frame;
use ratatui::layout::Rect;
use ratatui::text::Line;

/// From this width on there is a column with alerts, orders and talk beside the view.
const WIDE: u16 = 120;
/// And from this height on.
const HIGH: u16 = 30;

pub(super) fn draw(screen: &mut TeamScreen, frame: &mut Frame<'_>) {
    let area = frame.area();
    let palette = screen.desk.palette;
    frame.buffer_mut().set_style(area, palette.style(Ink::Plain));
    let mut sheet = Sheet { buffer: frame.buffer_mut(), palette };
    if screen.desk.too_small(&mut sheet, area) {
        return;
    }
    let rest = screen.desk.top(&mut sheet, area, "");
    let rest = screen.desk.standing(&mut sheet, rest, &who(screen));
    let rest = sheet.line(rest, &tabs(screen));
    let wide = area.width >= WIDE && area.height >= HIGH;
    let foot = if wide { 2 } else { 6 };
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

/// Who and where the person is.
fn who(screen: &TeamScreen) -> String {
    let model = &screen.desk.model;
    match model.me() {
        Some(me) => {
            let station = me.station.as_deref().unwrap_or("no station");
            format!(" {} ({station}): {}", clean(&me.name), crew::doing(model, me))
        }
        None if screen.keeper.looks_on => " you look on: you see what the team is told".to_owned(),
        None => format!(" {}, without a station", clean(&model.name)),
    }
}

/// The views with their keys, and what waits in them.
fn tabs(screen: &TeamScreen) -> Line<'static> {
    let model = &screen.desk.model;
    let waiting = model.situation.alerts.iter().filter(|alert| alert.waits).count();
    let mine = model.situation.orders.iter().filter(|order| orders::is_mine(model, order)).count();
    let views = View::ALL.iter().map(|(view, name)| {
        let count = match view {
            View::Alerts if waiting > 0 => format!("!{waiting}"),
            View::Orders if mine > 0 => format!("!{mine}"),
            _ => String::new(),
        };
        (*name, count, *view == screen.view)
    });
    parts::tabs(screen.desk.palette, views)
}

/// The view itself, with its pane, or help over it.
fn view(screen: &mut TeamScreen, sheet: &mut Sheet<'_>, area: Rect) {
    screen.desk.room = (usize::from(area.width) - 1, usize::from(area.height));
    if let Some((_, mut at)) = screen.help {
        let rows = screen.help_rows(usize::from(area.width) - 2);
        sheet.list(area, &rows, &mut at, false);
        if let Some(help) = &mut screen.help {
            help.1 = at;
        }
        return;
    }
    let has_pane = screen.view == View::Here && area.width >= 60;
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

/// Alerts, orders and talk beside the view.
fn beside(screen: &TeamScreen, sheet: &mut Sheet<'_>, area: Rect) {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let wide = usize::from(area.width) - 1;
    let parts = [
        ("ALERTS", alerts::rows(model, palette, wide), area.height * 2 / 5),
        ("ORDERS", orders::rows(model, palette, wide), area.height / 5),
    ];
    let mut rest = area;
    for (heading, rows, high) in parts {
        let high = high.min(rows.len() as u16 + 1);
        let inner = sheet.line(Rect { height: high, ..rest }, &Row::heading(palette, heading).line);
        sheet.list(inner, &rows, &mut At::default(), false);
        rest = Rect { y: rest.y + high, height: rest.height - high, ..rest };
    }
    let inner = sheet.line(rest, &Row::heading(palette, "TALK").line);
    let rows = talk::last(model, palette, wide, usize::from(inner.height));
    sheet.list(inner, &rows, &mut At::default(), false);
}

/// Two lines of alerts and two of talk, which are always seen.
fn strips(screen: &TeamScreen, sheet: &mut Sheet<'_>, area: Rect) -> Rect {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let wide = usize::from(area.width);
    let mut rest = area;
    let mut rows = alerts::strip(model, palette, wide, 2);
    rows.resize(2, Row::new(palette, About::Nothing, &[]));
    let mut said = talk::last(model, palette, wide, 2);
    said.resize(2, Row::new(palette, About::Nothing, &[]));
    for row in rows.iter().chain(&said) {
        rest = sheet.line(rest, &row.line);
    }
    rest
}

/// The keys that count in a view.
fn keys(screen: &TeamScreen) -> String {
    let keys = match screen.view {
        _ if screen.help.is_some() => "↑↓ scroll  any other key closes",
        View::Here if screen.in_pane => "↑↓ choose  Enter do  Space trend  ← back  ? help  type a command",
        View::Here => "↑↓ choose  Enter/→ work it  / find  ! acknowledge  ? help  type a command",
        View::Alerts => "↑↓ choose  Enter or ! acknowledge  type `silence`, `ack all`  ? help",
        View::Orders => "↑↓ choose  Enter read back or report  type `order STATION: TEXT`",
        View::Crew => "↑↓ choose a place  Enter walk there  type `say to STATION: TEXT`",
        View::Systems => return screen.desk.system_keys(),
        View::Trends => "↑↓ choose  Space no more of it  type `trend NAME`",
        View::List => "←→ other list  ↑↓ choose  Enter takes the command  Space ticks off",
        View::Talk => "↑↓ scroll  type `say TEXT`",
        View::Brief => "↑↓ scroll  1 to the ship  Tab next view  ? help on keys",
    };
    keys.to_owned()
}

impl TeamScreen {
    /// Help that lies over the view: on a component, or on keys and words.
    pub(super) fn help_rows(&self, wide: usize) -> Vec<Row> {
        if let Some((Some(chosen), _)) = self.help {
            return component::help(&self.desk.model, self.desk.palette, chosen, wide);
        }
        let mut rows = vec![Row::heading(self.desk.palette, "KEYS, while nothing is typed")];
        let words = deadship_run::words::WORDS.iter().chain(&OWN_WORDS);
        let words = words.filter(|(word, _, doc)| !is_directing(doc) && *word != "help");
        let typing = "Begin to type; Tab completes, Up and Down bring back what you typed before.";
        let between = [("", ""), ("WORDS", typing)];
        let all = KEYS.into_iter().chain(between).chain(words.map(|(_, form, doc)| (*form, *doc)));
        rows.extend(parts::entries(self.desk.palette, wide, all));
        rows
    }
}

/// What keys do, for help.
pub(super) const KEYS: [(&str, &str); 12] = [
    ("1 to 9, Tab", "the views: Here, Alerts, Orders, Places, Systems, Trends, List, Talk, Brief"),
    ("↑ ↓ PgUp PgDn Home End", "choose or scroll"),
    ("Enter", "work the chosen thing: do the act, walk there, read the order back, acknowledge the alert"),
    ("→ ←", "into what can be done and read, and back; other system, other list"),
    ("Space", "a reading's trend; tick a step off"),
    ("!", "acknowledge: the chosen alert, or the most urgent that waits"),
    ("/", "find things here by name"),
    ("?", "help on the chosen component, or this"),
    ("any letter", "begins a command"),
    ("Esc", "takes back: what is typed, the search, the pane"),
    ("Ctrl-P, Ctrl-N", "lines typed before"),
    ("Ctrl-C twice, or quit", "leave; your seat is kept"),
];
