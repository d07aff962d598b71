//! What screens of views have in common: a view of rows, a pane beside it, help over it, and the page around them.

use super::colours::Ink;
use super::desk::Desk;
use super::parts::{About, At, Row, Sheet};
use super::views::{alerts, component};
use ratatui::Frame;
use ratatui::crossterm::event::{KeyCode, KeyEvent};
use ratatui::layout::Rect;
use ratatui::text::Line;

/// Views of a screen: one for each key from 1 to 9.
const VIEWS: usize = 9;

/// From this size on there is a column beside the view.
const WIDE: (u16, u16) = (120, 30);

/// Width for which the rows of the pane are made when only what they are about is asked.
const PANE: usize = 30;

/// Where someone is.
#[derive(Default)]
pub(crate) struct Browse {
    /// In each view.
    at: [At; VIEWS],
    /// Do keys go to the pane beside the list?
    pub(crate) in_pane: bool,
    /// In the pane.
    pub(crate) pane_at: At,
    /// Help that lies over the view.
    pub(crate) help: Option<(Topic, At)>,
}

/// What help is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Topic {
    /// Keys and words.
    Keys,
    /// A component.
    Component(usize),
    /// An occurrence of an alert.
    Alert(u64),
}

/// A screen of views.
pub(crate) trait Browsed {
    /// What is known, and the command line.
    fn desk(&self) -> &Desk;
    /// The same, to be changed.
    fn desk_mut(&mut self) -> &mut Desk;
    /// Where someone is.
    fn browse(&self) -> &Browse;
    /// The same, to be changed.
    fn browse_mut(&mut self) -> &mut Browse;
    /// Which view is shown, from 0.
    fn slot(&self) -> usize;
    /// Rows of the view that is shown.
    fn rows(&self, wide: usize) -> Vec<Row>;
    /// Rows of the pane beside it.
    fn pane_rows(&self, wide: usize) -> Vec<Row>;
    /// Rows of help on keys and words.
    fn key_rows(&self, wide: usize) -> Vec<Row>;
    /// Has this view a pane?
    fn has_pane(&self) -> bool;
    /// Is the chosen row marked? In a drawing the part itself is.
    fn marks_rows(&self) -> bool;
    /// What stands first in the bar at the top.
    fn role(&self) -> &'static str;
    /// The line below it.
    fn standing(&self) -> String;
    /// The views with their keys.
    fn tabs(&self) -> Line<'static>;
    /// The keys that count now.
    fn keys(&self) -> String;
    /// What stands beside the view where there is room.
    fn beside(&self, sheet: &mut Sheet<'_>, area: Rect);
    /// Rows that are always seen below the view where there is none.
    fn strips(&self, wide: usize) -> Vec<Row>;

    /// Where one is in the view that is shown.
    fn here(&mut self) -> &mut At {
        let slot = self.slot();
        &mut self.browse_mut().at[slot]
    }

    /// What the chosen row is about, in the pane or in the view.
    fn about(&self) -> About {
        match self.browse().in_pane {
            true => chosen(&self.pane_rows(PANE), self.browse().pane_at),
            false => self.about_in_view(),
        }
    }

    /// What the chosen row of the view is about.
    fn about_in_view(&self) -> About {
        chosen(&self.rows(self.desk().room.0), self.browse().at[self.slot()])
    }

    /// The component that the chosen row is about.
    fn chosen_component(&self) -> Option<usize> {
        match self.about_in_view() {
            About::Component(component) => Some(component),
            _ => None,
        }
    }

    /// Help on what is chosen; where that is nothing, on keys and words.
    fn ask_help(&mut self) {
        let topic = match self.about_in_view() {
            About::Component(component) => Topic::Component(component),
            About::Alert(number) => Topic::Alert(number),
            _ => Topic::Keys,
        };
        self.browse_mut().help = Some((topic, At::default()));
    }

    /// Rows of the help over the view.
    fn help_rows(&self, wide: usize) -> Vec<Row> {
        let desk = self.desk();
        match self.browse().help {
            Some((Topic::Component(component), _)) => {
                component::help(&desk.model, desk.palette, component, wide)
            }
            Some((Topic::Alert(number), _)) => alerts::help(&desk.model, desk.palette, number, wide),
            _ => self.key_rows(wide),
        }
    }

    /// A key that changes what is typed or the search; `true`: it was one. While rows come and go, the chosen one stays chosen.
    fn edit(&mut self, key: KeyEvent) -> bool
    where
        Self: Sized,
    {
        if !self.desk().filtering {
            return self.desk_mut().edit(key);
        }
        self.with_filter(|desk| desk.edit(key))
    }

    /// Changes the search; the row that was chosen stays so, where it is still there, else the first is.
    fn with_filter<T>(&mut self, change: impl FnOnce(&mut Desk) -> T) -> T
    where
        Self: Sized,
    {
        let text = |rows: &[Row], row: usize| rows.get(row).map(|row| row.line.to_string());
        let rows = self.rows(self.desk().room.0);
        let mut at = *self.here();
        at.settle(&rows);
        let chosen = text(&rows, at.row);
        let done = change(self.desk_mut());
        let rows = self.rows(self.desk().room.0);
        let same = (0..rows.len()).find(|&row| rows[row].is_choice() && text(&rows, row) == chosen);
        self.here().row = same.unwrap_or(0);
        done
    }

    /// Moves by so many choices, in the pane or in the view.
    fn go_rows(&mut self, by: isize) {
        if self.browse().in_pane {
            let rows = self.pane_rows(PANE);
            self.browse_mut().pane_at.go(&rows, by);
        } else {
            let rows = self.rows(self.desk().room.0);
            self.here().go(&rows, by);
            self.browse_mut().pane_at = At::default();
        }
    }

    /// Keys scroll help; any other closes it. `true`: there was help.
    fn key_on_help(&mut self, code: KeyCode) -> bool {
        if self.browse().help.is_none() {
            return false;
        }
        let (wide, high) = self.desk().room;
        let rows = self.help_rows(wide);
        let help = &mut self.browse_mut().help;
        if !help.as_mut().is_some_and(|(_, at)| at.scrolls(&rows, high, code)) {
            *help = None;
        }
        true
    }

    /// Draws the whole page.
    fn draw_page(&mut self, frame: &mut Frame<'_>) {
        let area = frame.area();
        let palette = self.desk().palette;
        frame.buffer_mut().set_style(area, palette.style(Ink::Plain));
        let mut sheet = Sheet { buffer: frame.buffer_mut(), palette };
        if self.desk().too_small(&mut sheet, area) {
            return;
        }
        let rest = self.desk().top(&mut sheet, area, self.role());
        let rest = self.desk().standing(&mut sheet, rest, &self.standing());
        let rest = sheet.line(rest, &self.tabs());
        let is_wide = area.width >= WIDE.0 && area.height >= WIDE.1;
        let strips = if is_wide { Vec::new() } else { self.strips(usize::from(area.width)) };
        // The command line and the line of keys stand below.
        let foot = strips.len() as u16 + 2;
        let main = Rect { height: rest.height - foot, ..rest };
        let mut below = Rect { y: main.y + main.height, height: foot, ..rest };
        if is_wide {
            let left = main.width * 3 / 5;
            self.draw_view(&mut sheet, Rect { width: left, ..main });
            sheet.rule(Rect { x: left, width: 1, ..main });
            self.beside(&mut sheet, Rect { x: left + 1, width: main.width - left - 1, ..main });
        } else {
            self.draw_view(&mut sheet, main);
        }
        for row in &strips {
            below = sheet.line(below, &row.line);
        }
        let cursor = self.desk().command_line(&mut sheet, below, &self.keys());
        frame.set_cursor_position(cursor);
    }

    /// Draws the view with its pane, or help over it.
    fn draw_view(&mut self, sheet: &mut Sheet<'_>, area: Rect) {
        self.desk_mut().room = (usize::from(area.width) - 1, usize::from(area.height));
        if self.browse().help.is_some() {
            let rows = self.help_rows(usize::from(area.width) - 2);
            if let Some((_, at)) = &mut self.browse_mut().help {
                sheet.list(area, &rows, at, false);
            }
            return;
        }
        let has_pane = self.has_pane() && area.width >= 60;
        let pane = if has_pane { (area.width * 2 / 5).min(46) } else { 0 };
        let list = Rect { width: area.width - pane, ..area };
        self.desk_mut().room.0 = usize::from(list.width) - 1;
        let rows = self.rows(self.desk().room.0);
        let in_pane = self.browse().in_pane;
        let held = !in_pane && self.marks_rows();
        sheet.list(list, &rows, self.here(), held);
        if has_pane {
            sheet.rule(Rect { x: list.width, width: 1, ..area });
            let pane_area = Rect { x: list.width + 1, width: pane - 1, ..area };
            let rows = self.pane_rows(usize::from(pane_area.width) - 1);
            sheet.list(pane_area, &rows, &mut self.browse_mut().pane_at, in_pane);
        }
    }
}

/// What the chosen row is about, where the choice stands once rows have come and gone.
fn chosen(rows: &[Row], mut at: At) -> About {
    at.settle(rows);
    at.about(rows).clone()
}
