//! Rows of the views: what was at the cursor, as the chosen eyes saw it.

use super::{DebriefScreen, View};
use crate::screen::colours::Ink;
use crate::screen::parts::{About, At, Row};
use crate::screen::text::{clock, wrap};
use crate::screen::views::{alerts, checklist, component, crew, here, orders, trends};

impl DebriefScreen {
    /// Rows of the view that is chosen; of Events there are none, it is drawn around the cursor.
    pub(super) fn rows(&self, wide: usize) -> Vec<Row> {
        self.rows_of(self.view, wide)
    }

    /// Rows of a view.
    pub(super) fn rows_of(&self, view: View, wide: usize) -> Vec<Row> {
        let (model, palette) = (&self.model, self.palette);
        let mut rows = match view {
            View::Events => return Vec::new(),
            View::Report => return self.report_rows(wide),
            _ if self.unseen.is_some() => {
                return Row::text(palette, Ink::Caution, self.unseen.as_deref().unwrap_or_default(), wide);
            }
            View::Here => self.here_rows(wide),
            View::Alerts => alerts::rows(model, palette, wide),
            View::Orders if model.situation.orders.is_empty() => {
                Row::text(palette, Ink::Plain, "no order was open then", wide)
            }
            View::Orders => orders::rows(model, palette, wide),
            View::Crew => self.crew_rows(wide),
            View::Systems => self.system_rows(wide),
            View::Trends => self.trend_rows(wide),
            View::List => checklist::rows(model, palette, self.list, wide),
        };
        if let Some((tick, _)) = self.plant.difference().filter(|(tick, _)| *tick <= self.tick) {
            let text = format!(
                "computed anew: from {} on the record differs from this model, so it may not be what they saw",
                clock(tick)
            );
            rows.splice(0..0, Row::text(palette, Ink::Caution, &text, wide));
        }
        rows
    }

    /// The system that is shown, as those eyes saw it.
    fn system_rows(&self, wide: usize) -> Vec<Row> {
        let Some(systems) = &self.systems else { return Vec::new() };
        let lines = systems.lines(self.system, &self.model, self.palette, wide, self.watched);
        lines.into_iter().map(|(line, _)| Row::of(line)).collect()
    }

    /// What could be worked and read there.
    fn here_rows(&self, wide: usize) -> Vec<Row> {
        let rows = here::rows(&self.model, self.palette, "", wide);
        if rows.iter().any(Row::is_choice) {
            return rows;
        }
        let why = match self.model.me() {
            None => "not aboard then",
            Some(me) if me.station.is_none() => "without a station then, and so without anything to read",
            Some(_) if self.model.here().is_none() => "on the way then: nothing can be read there",
            Some(_) => "nothing can be worked or read there",
        };
        Row::text(self.palette, Ink::Plain, why, wide)
    }

    /// The crew and the places; nobody walks any more.
    fn crew_rows(&self, wide: usize) -> Vec<Row> {
        let mut rows = crew::rows(&self.model, self.palette, wide);
        let first = rows.iter().position(|row| matches!(row.about, About::Place(_)));
        if let Some(heading) = first.and_then(|first| rows.get_mut(first.checked_sub(1)?)) {
            *heading = Row::heading(self.palette, "PLACES");
        }
        rows
    }

    fn trend_rows(&self, wide: usize) -> Vec<Row> {
        if self.trends.is_empty() {
            let text = "no trends yet: in 1, choose a component, Enter, a reading, t";
            return Row::text(self.palette, Ink::Plain, text, wide);
        }
        trends::rows(&self.model, self.palette, wide)
    }

    fn report_rows(&self, wide: usize) -> Vec<Row> {
        let mut rows = Vec::new();
        for line in self.debrief.to_text().lines() {
            let margin = line.len() - line.trim_start().len();
            for (i, part) in wrap(line, wide.saturating_sub(margin + 2).max(10)).iter().enumerate() {
                let text = format!("{}{part}", " ".repeat(if i == 0 { margin } else { margin + 2 }));
                rows.extend([Row::new(self.palette, About::Nothing, &[(Ink::Plain, &text)])]);
            }
        }
        rows
    }

    /// Rows come and go with time and eyes: the component that is looked at stays chosen where it is among them.
    pub(super) fn keep_watch(&self, at: &mut At, rows: &[Row]) {
        if let Some(watched) = self.watched {
            at.find(rows, &About::Component(watched));
        }
        at.settle(rows);
    }

    /// The component that is chosen in Here.
    pub(super) fn chosen_component(&self) -> Option<usize> {
        let rows = self.rows_of(View::Here, self.room.0);
        let mut at = self.at[View::Here.index()];
        self.keep_watch(&mut at, &rows);
        match at.about(&rows) {
            About::Component(component) if self.unseen.is_none() => Some(*component),
            _ => None,
        }
    }

    /// What can be read of it, then what they could have done to it from there: here it is only looked at.
    pub(super) fn pane_rows(&self, wide: usize) -> Vec<Row> {
        let Some(chosen) = self.chosen_component() else { return Vec::new() };
        let rows = component::pane(&self.model, self.palette, chosen, wide);
        let (acts, mut rows): (Vec<Row>, Vec<Row>) =
            rows.into_iter().partition(|row| matches!(row.about, About::Do(..)));
        rows.extend(acts);
        rows
    }
}
