//! How the screen of a team is drawn.

use super::{TeamScreen, View};
use crate::screen::browse::{Browse, Browsed};
use crate::screen::complete::{OWN_WORDS, is_directing};
use crate::screen::desk::Desk;
use crate::screen::parts::{self, About, At, Row, Sheet};
use crate::screen::text::clean;
use crate::screen::views::{alerts, asked, checklist, component, crew, here, orders, talk, trends};
use ratatui::layout::Rect;
use ratatui::text::Line;

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
    let mine = mine + asked::count(model);
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
fn strips(screen: &TeamScreen, wide: usize) -> Vec<Row> {
    let (model, palette) = (&screen.desk.model, screen.desk.palette);
    let mut rows = alerts::strip(model, palette, wide, 2);
    rows.resize(2, Row::new(palette, About::Nothing, &[]));
    rows.extend(talk::strip(model, palette, wide));
    rows
}

/// The keys that count in a view.
fn keys(screen: &TeamScreen) -> String {
    let keys = match screen.view {
        _ if screen.browse.help.is_some() => "↑↓ scroll  any other key closes",
        View::Here if screen.browse.in_pane => {
            "↑↓ choose  Enter do  Space trend  ← back  ? help  type a command"
        }
        View::Here => "↑↓ choose  Enter/→ work it  / find  ! acknowledge  ? help  type a command",
        View::Alerts => "↑↓ choose  Enter or ! acknowledge  type `silence`, `ack all`  ? help",
        View::Orders => "↑↓ choose  Enter answer, read back or report  type `order STATION: TEXT`",
        View::Crew => "↑↓ choose a place  Enter walk there  type `say to STATION: TEXT`",
        View::Systems => return screen.desk.system_keys(),
        View::Trends => "↑↓ choose  Space no more of it  type `trend NAME`",
        View::List => "←→ other list  ↑↓ choose  Enter takes the command  Space ticks off",
        View::Talk => "↑↓ scroll  type `say TEXT`",
        View::Brief => "↑↓ scroll  1 to the ship  Tab next view  ? help on keys",
    };
    keys.to_owned()
}

impl Browsed for TeamScreen {
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
            View::Here => here::rows(model, palette, &self.desk.filter, wide),
            View::Alerts => alerts::rows(model, palette, wide),
            View::Orders => orders::rows(model, palette, wide),
            View::Crew => crew::rows(model, palette, wide),
            View::Systems => self.desk.system_rows(wide),
            View::Trends => trends::rows(model, palette, wide),
            View::List => checklist::rows(model, palette, self.list, wide),
            View::Talk => talk::rows(model, palette, wide),
            View::Brief => self.brief_rows(wide),
        }
    }

    fn pane_rows(&self, wide: usize) -> Vec<Row> {
        let chosen = self.chosen_component();
        chosen.map_or_else(Vec::new, |chosen| {
            component::pane(&self.desk.model, self.desk.palette, chosen, wide)
        })
    }

    fn key_rows(&self, wide: usize) -> Vec<Row> {
        let mut rows = vec![Row::heading(self.desk.palette, "KEYS, while nothing is typed")];
        let words = deadship_run::words::WORDS.iter().chain(&OWN_WORDS);
        let words = words.filter(|(word, _, doc)| !is_directing(doc) && *word != "help");
        let typing = "Begin to type; Tab completes, Up and Down bring back what you typed before.";
        let between = [("", ""), ("WORDS", typing)];
        let all = KEYS.into_iter().chain(between).chain(words.map(|(_, form, doc)| (*form, *doc)));
        rows.extend(parts::entries(self.desk.palette, wide, all));
        rows
    }

    fn has_pane(&self) -> bool {
        self.view == View::Here
    }

    fn marks_rows(&self) -> bool {
        self.view != View::Systems
    }

    fn role(&self) -> &'static str {
        ""
    }

    fn standing(&self) -> String {
        who(self)
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
pub(super) const KEYS: [(&str, &str); 12] = [
    ("1 to 9, Tab", "the views: Here, Alerts, Orders, Places, Systems, Trends, List, Talk, Brief"),
    ("↑ ↓ PgUp PgDn Home End", "choose or scroll"),
    ("Enter", "work the chosen thing: do the act, walk there, read the order back, acknowledge the alert"),
    ("→ ←", "into what can be done and read, and back; other system, other list"),
    ("Space", "a reading's trend; tick a step off"),
    ("!", "acknowledge: the chosen alert, or the most urgent that waits"),
    ("/", "find things here by name"),
    ("?", "help on the chosen component or alert, or this"),
    ("any letter", "begins a command"),
    ("Esc", "takes back: what is typed, the search, the pane"),
    ("Ctrl-P, Ctrl-N", "lines typed before"),
    ("Ctrl-C twice, or quit", "leave; your seat is kept"),
];
