//! The facilitator's screen: a run that is over, as lanes over time with one cursor, and the plant at the cursor as one of
//! the team saw it.

mod draw;
mod help;
mod keys;
pub(crate) mod lanes;
mod objectives;
mod page;
mod question;
mod rows;
pub(crate) mod seek;
mod show;
pub(crate) mod signs;
#[cfg(test)]
mod tests;

pub(crate) use show::show;

use super::colours::Palette;
use super::line::TypedLine;
use super::model::Model;
use super::parts::At;
use super::systems::Systems;
use deadship_run::Envelope;
use deadship_run::debrief::Debrief;
use lanes::{Item, Lanes, Window};
use page::Pages;
use seek::{Eyes, Plant};

/// Shortest stretch of time that is shown: two minutes.
const SHORTEST: u64 = 2_400;

/// How fast it plays.
const SPEEDS: [u32; 3] = [1, 4, 16];

/// Ticks of ship's time in a second.
const TICKS_PER_S: f64 = 20.0;

/// The views of what was at the cursor, by the keys that they have on the screen of a team.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum View {
    Here,
    Alerts,
    Orders,
    Crew,
    Systems,
    Trends,
    List,
    Events,
    Report,
}

impl View {
    pub(super) const ALL: [(View, char, &'static str); 9] = [
        (View::Here, '1', "Here"),
        (View::Alerts, '2', "Alerts"),
        (View::Orders, '3', "Orders"),
        (View::Crew, '4', "Places"),
        (View::Systems, '5', "Systems"),
        (View::Trends, '6', "Trends"),
        (View::List, '7', "List"),
        (View::Events, '8', "Events"),
        (View::Report, '9', "Report"),
    ];

    fn index(self) -> usize {
        View::ALL.iter().position(|known| known.0 == self).unwrap_or(0)
    }
}

/// What is typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Input {
    /// A time to go to.
    Time,
    /// Words that events are to have.
    Find,
}

/// The screen.
pub(crate) struct DebriefScreen {
    pub(super) palette: Palette,
    /// Drill, and ship as the log names her.
    title: (String, String),
    /// What there is to report of the whole run.
    pub(super) debrief: Debrief,
    pages: Pages,
    pub(super) lanes: Lanes,
    /// Indices of the items that are listed.
    pub(super) listed: Vec<usize>,
    /// Is all listed?
    pub(super) lists_all: bool,
    /// The chosen one of the listed.
    pub(super) item: usize,
    /// Where the cursor is.
    pub(super) tick: u64,
    /// Ticks that the lanes show, and the first of them.
    pub(super) span: u64,
    pub(super) from: u64,
    /// Cells of a lane when it was drawn last.
    pub(super) cells: usize,
    pub(super) plays: bool,
    pub(super) speed: usize,
    /// Part of a tick that playing has not made whole yet.
    rest: f64,
    pub(super) plant: Plant,
    pub(super) eyes: Vec<Eyes>,
    pub(super) eye: usize,
    /// What was seen at the cursor; why there is nothing.
    pub(super) model: Model,
    pub(super) unseen: Option<String>,
    /// For which tick and eyes the model was filled.
    filled: Option<(u64, usize)>,
    pub(super) trends: Vec<String>,
    pub(super) view: View,
    pub(super) at: [At; View::ALL.len()],
    /// The component that is looked at, also while it cannot be seen.
    pub(super) watched: Option<usize>,
    pub(super) in_pane: bool,
    pub(super) pane_at: At,
    pub(super) list: usize,
    /// The systems of the ship, once the plant is there.
    pub(super) systems: Option<Systems>,
    /// The one that is shown.
    pub(super) system: usize,
    /// A time or words, while they are typed.
    pub(super) typed: Option<(Input, TypedLine)>,
    /// Words that the listed have.
    pub(super) filter: String,
    pub(super) hint: String,
    pub(super) help: Option<At>,
    /// Room of the view when it was drawn last.
    pub(super) room: (usize, usize),
}

impl DebriefScreen {
    /// The screen of a log, at its start.
    pub(crate) fn new(log: Vec<Envelope>, palette: Palette) -> DebriefScreen {
        let report = Debrief::of(&log);
        let title = (report.drill.clone(), report.ship.clone());
        let lanes = Lanes::of(&log);
        let last = lanes.last;
        let mut screen = DebriefScreen {
            palette,
            title,
            debrief: report,
            pages: Pages::default(),
            listed: Vec::new(),
            lists_all: false,
            item: 0,
            tick: 0,
            span: last + 1,
            from: 0,
            cells: 60,
            plays: false,
            speed: 0,
            rest: 0.0,
            eyes: Eyes::in_log(&log),
            eye: 0,
            model: Model::of("", true),
            unseen: None,
            filled: None,
            trends: Vec::new(),
            view: View::Events,
            at: [At::default(); View::ALL.len()],
            watched: None,
            in_pane: false,
            pane_at: At::default(),
            list: 0,
            systems: None,
            system: 0,
            typed: None,
            filter: String::new(),
            hint: String::new(),
            help: None,
            room: (78, 8),
            plant: Plant::NotYet(log),
            lanes,
        };
        screen.list_again();
        screen.go_to(0);
        screen
    }

    /// Begins at this time, with these eyes.
    pub(crate) fn begin_at(&mut self, tick: u64, eyes: &Eyes) {
        self.go_to(tick);
        self.eye = self.eyes.iter().position(|known| known == eyes).unwrap_or(0);
    }

    /// One part more of the replay; `true`: there is more to come.
    pub(crate) fn load(&mut self) -> bool {
        let more = self.plant.load();
        if !more && let Some((tick, _)) = self.plant.difference() {
            let at = deadship_run::timeline::clock(tick);
            self.hint = format!("from {} on the record differs from this model; ? tells more", at.trim());
        }
        more
    }

    /// Does the cursor go on by itself?
    pub(crate) fn plays(&self) -> bool {
        self.plays
    }

    /// Time has passed while it plays.
    pub(crate) fn pass(&mut self, seconds: f64) {
        let ticks = self.rest + seconds * TICKS_PER_S * f64::from(SPEEDS[self.speed]);
        self.rest = ticks.fract();
        self.go_to(self.tick + ticks as u64);
        self.plays &= self.tick < self.lanes.last;
    }

    /// Drill and ship, for the bar.
    pub(super) fn title(&self) -> String {
        let ship = self.model.chart.as_ref().map_or(self.title.1.as_str(), |chart| chart.ship.as_str());
        let parts = [self.title.0.as_str(), ship];
        parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
    }

    pub(super) fn window(&self) -> Window {
        Window { from: self.from, span: self.span, cells: self.cells.max(1) }
    }

    /// The item at a place of the list.
    pub(super) fn listed_item(&self, place: usize) -> Option<&Item> {
        self.listed.get(place).and_then(|item| self.lanes.items.get(*item))
    }

    /// Lists what is to be listed, with the same event chosen; where that is not listed, the last before it.
    pub(super) fn list_again(&mut self) {
        let chosen = self.listed.get(self.item).copied();
        let words: Vec<String> = self.filter.split_whitespace().map(str::to_lowercase).collect();
        let has_all = |item: &Item| {
            let text = format!("{}: {}", item.who, item.text).to_lowercase();
            words.iter().all(|word| text.contains(word))
        };
        let items = self.lanes.items.iter().enumerate();
        let kept = items.filter(|(_, item)| (self.lists_all || !item.is_minor) && has_all(item));
        self.listed = kept.map(|(i, _)| i).collect();
        let same = chosen.filter(|item| self.lanes.items[*item].tick == self.tick);
        let same = same.and_then(|chosen| self.listed.iter().position(|item| *item == chosen));
        self.item = same.unwrap_or_else(|| self.last_listed(self.tick));
    }

    /// The last of the list at or before a tick.
    fn last_listed(&self, tick: u64) -> usize {
        let after = self.listed.partition_point(|item| self.lanes.items[*item].tick <= tick);
        after.saturating_sub(1)
    }

    /// Puts the cursor at a time.
    pub(super) fn go_to(&mut self, tick: u64) {
        self.tick = tick.min(self.lanes.last);
        self.item = self.last_listed(self.tick);
        self.reveal();
    }

    /// Puts the cursor at one of the list.
    pub(super) fn go_to_item(&mut self, place: usize) {
        if let Some(tick) = self.listed_item(place).map(|item| item.tick) {
            (self.item, self.tick) = (place, tick.min(self.lanes.last));
            self.reveal();
        }
    }

    /// To a cell so many away: to the most telling that is in it, else to its beginning.
    pub(super) fn go_cells(&mut self, by: isize) {
        let window = self.window();
        let now = window.cell(self.tick).unwrap_or(0) as isize;
        let cell = now + by;
        let target = match usize::try_from(cell) {
            Ok(cell) => window.start(cell).min(self.lanes.last),
            Err(_) => {
                let back = u128::from(window.span) * cell.unsigned_abs() as u128 / window.cells as u128;
                window.from.saturating_sub(back as u64)
            }
        };
        self.go_to(target);
        let window = self.window();
        let cell = window.cell(self.tick).unwrap_or(0);
        let end = window.start(cell + 1);
        let begin = window.start(cell);
        if let Some(place) = self.most_telling(begin, end) {
            self.go_to_item(place);
        }
    }

    /// Of the listed from a tick on and before another, the one that a cell shows.
    fn most_telling(&self, begin: u64, end: u64) -> Option<usize> {
        let first = self.listed.partition_point(|item| self.lanes.items[*item].tick < begin);
        let last = self.listed.partition_point(|item| self.lanes.items[*item].tick < end);
        (first..last.max(first))
            .filter(|place| self.rank(*place) < usize::MAX)
            .min_by_key(|place| self.rank(*place))
    }

    /// How telling one of the list is, the most telling first; what is not drawn is last.
    fn rank(&self, place: usize) -> usize {
        self.listed_item(place).and_then(|item| item.drawn).map_or(usize::MAX, |(_, sign)| sign.rank())
    }

    /// To the next mark of another time, or the one before; `own`: only what stands in the lane of marks.
    pub(super) fn go_mark(&mut self, on: bool, own: bool) -> bool {
        let lane = self.lanes.names.len() - 1;
        let is_own = |item: &Item| item.drawn.is_some_and(|drawn| drawn.0 == lane);
        let is_mark = |place: &usize| {
            self.listed_item(*place).is_some_and(|item| item.is_mark && (!own || is_own(item)))
        };
        let tick_of = |place: usize| self.listed_item(place).map_or(0, |item| item.tick);
        let found = match on {
            true => (0..self.listed.len()).filter(is_mark).find(|place| tick_of(*place) > self.tick),
            false => (0..self.listed.len()).rev().filter(is_mark).find(|place| tick_of(*place) < self.tick),
        };
        let Some(tick) = found.map(tick_of) else { return false };
        let of_that_time = (0..self.listed.len()).filter(|place| tick_of(*place) == tick && is_mark(place));
        let telling = of_that_time.min_by_key(|place| self.rank(*place));
        self.go_to_item(telling.unwrap_or(0));
        true
    }

    /// Shows twice as much time, or half; the cursor stays where it is on the screen.
    pub(super) fn zoom(&mut self, closer: bool) {
        let whole = self.lanes.last + 1;
        let span = if closer { self.span / 2 } else { self.span * 2 };
        let span = span.clamp(SHORTEST.min(whole), whole);
        let share = u128::from(self.tick - self.from.min(self.tick)) * u128::from(span)
            / u128::from(self.span.max(1));
        self.span = span;
        self.from = self.tick.saturating_sub(share as u64).min(whole - span);
        self.reveal();
    }

    /// Moves the window so that the cursor is in it, with a quarter of it before or after the cursor.
    fn reveal(&mut self) {
        let (whole, span) = (self.lanes.last + 1, self.span);
        if self.tick < self.from {
            self.from = self.tick.saturating_sub(span * 3 / 4);
        } else if self.tick >= self.from + span {
            self.from = self.tick.saturating_sub(span / 4);
        }
        self.from = self.from.min(whole.saturating_sub(span));
    }

    /// Fills the model for the cursor and the eyes, where that has not been done. While events are gone through, the
    /// component that is looked at goes with them.
    pub(super) fn look(&mut self) {
        self.fill();
        let chart = self.model.chart.as_ref().filter(|_| self.view == View::Events);
        let name = self.listed_item(self.item).and_then(|item| item.component.as_ref());
        if let Some(component) = chart.zip(name).and_then(|(chart, name)| chart.component(name)) {
            self.watched = Some(component);
        }
    }

    fn fill(&mut self) {
        let wanted = (self.tick, self.eye);
        if self.filled == Some(wanted) && self.unseen.is_none() {
            return;
        }
        match self.plant.at(self.tick) {
            Ok(reel) => {
                let eyes = self.eyes.get(self.eye).unwrap_or(&Eyes::All);
                seek::fill(&mut self.model, reel, eyes, &self.trends);
                (self.filled, self.unseen) = (Some(wanted), None);
                if self.systems.is_none() {
                    self.systems = self.model.chart.as_ref().map(Systems::new);
                }
            }
            Err(why) => self.unseen = Some(why),
        }
    }

    /// What was filled is not what is to be shown any more.
    pub(super) fn look_again(&mut self) {
        self.filled = None;
    }
}
