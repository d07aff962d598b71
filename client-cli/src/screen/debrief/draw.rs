//! How the facilitator's screen is drawn.

use super::lanes::Window;
use super::page::Page;
use super::question::Ask;
use super::signs::Sign;
use super::{DebriefScreen, Input, SPEEDS, View};
use crate::screen::SMALLEST;
use crate::screen::colours::Ink;
use crate::screen::parts::{About, At, Row, Sheet, both_ends, ink};
use crate::screen::text::{clean, clock, cut, fit, width, wrap};
use crate::screen::views::crew;
use ratatui::Frame;
use ratatui::layout::{Position, Rect};
use ratatui::text::{Line, Span};

/// From this width on events and what was seen stand side by side.
const WIDE: u16 = 120;
/// From this height on the signs that are to be seen are explained, not only those at the cursor.
const HIGH: u16 = 40;
/// Lines for the legend then.
const LEGEND: u16 = 3;
/// Widest name of a lane.
const NAME: usize = 12;
/// Seconds between two times on the axis; the first that leaves room is taken.
const STEPS_S: [u64; 14] = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200];

pub(super) fn draw(screen: &mut DebriefScreen, frame: &mut Frame<'_>) {
    let area = frame.area();
    let palette = screen.palette;
    frame.buffer_mut().set_style(area, palette.style(Ink::Plain));
    let mut sheet = Sheet { buffer: frame.buffer_mut(), palette };
    if area.width < SMALLEST.0 || area.height < SMALLEST.1 {
        too_small(&mut sheet, area);
        return;
    }
    screen.look();
    let rest = top(screen, &mut sheet, area);
    let rest = lanes(screen, &mut sheet, rest);
    let rest = sheet.line(rest, &tabs(screen, usize::from(area.width)));
    let main = Rect { height: rest.height - 2, ..rest };
    let below = Rect { y: main.y + main.height, height: 2, ..rest };
    let view = screen.view;
    if let Some(mut at) = screen.help {
        screen.room = (usize::from(main.width) - 2, usize::from(main.height));
        let rows = screen.help_rows(screen.room.0);
        sheet.list(main, &rows, &mut at, false);
        screen.help = Some(at);
    } else if let Some((page, at)) = screen.pages.open {
        page_of(screen, &mut sheet, main, page, at);
    } else if area.width >= WIDE {
        // What was seen needs room for a list and the readings beside it.
        let left = main.width * 9 / 20;
        events(screen, &mut sheet, Rect { width: left, ..main });
        sheet.rule(Rect { x: left, width: 1, ..main });
        let right = Rect { x: left + 1, width: main.width - left - 1, ..main };
        seen(screen, &mut sheet, right, if view == View::Events { View::Here } else { view });
    } else if view == View::Events {
        events(screen, &mut sheet, main);
    } else {
        seen(screen, &mut sheet, main, view);
    }
    if let Some(cursor) = foot(screen, &mut sheet, below) {
        frame.set_cursor_position(cursor);
    }
}

fn too_small(sheet: &mut Sheet<'_>, area: Rect) {
    let text = format!(
        "this terminal has {} columns and {} lines; at least {} and {} are needed",
        area.width, area.height, SMALLEST.0, SMALLEST.1
    );
    let mut rest = area;
    for row in Row::text(sheet.palette, Ink::Plain, &text, usize::from(area.width)) {
        rest = sheet.line(rest, &row.line);
    }
}

/// The bar, and below it whose eyes, and what is to be known of the replay.
fn top(screen: &DebriefScreen, sheet: &mut Sheet<'_>, area: Rect) -> Rect {
    let wide = usize::from(area.width);
    let speed = SPEEDS[screen.speed];
    let plays = match (screen.plays, speed) {
        (true, _) => format!("plays ×{speed}"),
        (false, 1) => "stands".to_owned(),
        (false, _) => format!("stands (×{speed})"),
    };
    let left = format!(" debrief · {}", clean(&screen.title()));
    let right = format!("{} of {}  {plays} ", clock(screen.tick), clock(screen.lanes.last));
    let rest = sheet.bar(area, Ink::Bar, &both_ends(&left, &right, wide));
    let (i, right) = match (screen.plant.percent(), screen.plant.difference(), &screen.plant) {
        (Some(percent), ..) => (Ink::Caution, format!("replaying: {percent} % ")),
        (_, Some((tick, _)), _) => {
            (Ink::Caution, format!("differs from this model from {} on: ? ", clock(tick)))
        }
        (.., super::Plant::Cannot(_)) => (Ink::Caution, "no plant: ? ".to_owned()),
        _ => (Ink::Strong, screen.working().unwrap_or_default()),
    };
    sheet.bar(rest, i, &both_ends(&format!(" {}", whose(screen)), &right, wide))
}

/// Whose eyes, and where they are.
fn whose(screen: &DebriefScreen) -> String {
    let model = &screen.model;
    let label = screen.eyes.get(screen.eye).map_or_else(String::new, |eyes| eyes.label(None));
    match (screen.eye, model.me().filter(|_| screen.unseen.is_none())) {
        (0, _) => "eyes: everything there is, also what nobody could see".to_owned(),
        (_, Some(me)) => {
            let station = me.station.as_deref().unwrap_or("no station");
            let station = if label.contains(station) { String::new() } else { format!(" ({station})") };
            format!("eyes of {}{station}: {}", clean(&label), crew::doing(model, me))
        }
        (_, None) if screen.unseen.is_none() => format!("eyes of {}: not aboard then", clean(&label)),
        (_, None) => format!("eyes of {}", clean(&label)),
    }
}

/// Axis, lanes and legend.
fn lanes(screen: &mut DebriefScreen, sheet: &mut Sheet<'_>, area: Rect) -> Rect {
    let names = &screen.lanes.names;
    let name = names.iter().map(|name| width(name)).max().unwrap_or(0).min(NAME) + 1;
    screen.cells = usize::from(area.width).saturating_sub(name).max(1);
    let window = screen.window();
    let cursor = window.cell(screen.tick).unwrap_or(0);
    let legend = if area.height >= HIGH { LEGEND } else { 1 };
    // Tabs, two lines for keys, and some of the view stay.
    let room = usize::from(area.height.saturating_sub(1 + legend + 1 + 2 + 3)).max(1);
    let shown = lanes_shown(screen, room);
    let rest = sheet.line(area, &axis(screen, window, name, cursor));
    let cells = screen.lanes.cells(window);
    let mut line_area = rest;
    let own = screen.model.me().and_then(|me| me.station.clone());
    for lane in shown.clone() {
        let title = &screen.lanes.names[lane];
        let i = if own.as_ref() == Some(title) { Ink::Strong } else { Ink::Plain };
        let mut spans = vec![ink(sheet.palette, i, fit(&clean(title), name - 1) + " ")];
        spans.extend(cells[lane].iter().enumerate().map(|(cell, sign)| {
            let (i, glyph) = sign.map_or((Ink::Faint, " "), |sign| (sign.ink(), sign.glyph()));
            ink(sheet.palette, if cell == cursor { Ink::Chosen } else { i }, glyph)
        }));
        line_area = sheet.line(line_area, &Line::from(spans));
    }
    let here: Vec<Sign> = shown.filter_map(|lane| cells[lane][cursor]).collect();
    let all: Vec<Sign> = cells.iter().flatten().flatten().copied().collect();
    legend_lines(sheet, Rect { height: legend, ..line_area }, &here, &all);
    Rect { y: line_area.y + legend, height: line_area.height - legend, ..line_area }
}

/// The lanes that there is room for, with that of the chosen event among them.
fn lanes_shown(screen: &DebriefScreen, room: usize) -> std::ops::Range<usize> {
    let count = screen.lanes.names.len();
    if count <= room {
        return 0..count;
    }
    let lane = screen.listed_item(screen.item).and_then(|item| item.drawn).map_or(0, |drawn| drawn.0);
    let first = (lane + 1).saturating_sub(room);
    first..first + room
}

/// Times above the lanes, and the cursor's place.
fn axis(screen: &DebriefScreen, window: Window, name: usize, cursor: usize) -> Line<'static> {
    let ticks_a_cell = (window.span / window.cells as u64).max(1);
    let step = STEPS_S.iter().map(|step| step * 20).find(|step| step / ticks_a_cell >= 11);
    let step = step.unwrap_or(STEPS_S[STEPS_S.len() - 1] * 20);
    let mut text: Vec<char> = vec![' '; window.cells];
    let mut put = |cell: usize, label: &str| {
        for (i, letter) in label.chars().enumerate() {
            if let Some(place) = text.get_mut(cell + i) {
                *place = letter;
            }
        }
    };
    // The cursor has its own time beside it, before it where there is no room behind.
    let now = clock(screen.tick);
    let own = if cursor + now.len() < window.cells { cursor } else { cursor.saturating_sub(now.len()) };
    let own = own..own + now.len() + 1;
    let mut tick = window.from.div_ceil(step) * step;
    while let Some(cell) = window.cell(tick) {
        let label = format!("╷{}", clock(tick));
        let end = cell + label.chars().count();
        if end <= window.cells && (end < own.start || cell > own.end) {
            put(cell, &label);
        }
        tick += step;
    }
    put(if own.start == cursor { cursor + 1 } else { own.start }, &now);
    let palette = screen.palette;
    let cells =
        |range: std::ops::Range<usize>| text.get(range).unwrap_or_default().iter().collect::<String>();
    let whole = window.span > screen.lanes.last;
    let shown = if whole { "whole run".to_owned() } else { format!("{} shown", clock(window.span)) };
    let (begin, end) = (own.start.min(cursor), own.end.min(window.cells));
    Line::from(vec![
        ink(palette, Ink::Faint, fit(&shown, name - 1) + " "),
        ink(palette, Ink::Faint, cells(0..begin)),
        ink(palette, Ink::Strong, cells(begin..cursor)),
        ink(palette, Ink::Strong, "▼"),
        ink(palette, Ink::Strong, cells(cursor + 1..end.max(cursor + 1).min(window.cells.max(cursor + 1)))),
        ink(palette, Ink::Faint, cells(end.max(cursor + 1)..window.cells.max(cursor + 1))),
    ])
}

/// Signs and their words, as many as there is room for: those at the cursor, then the others that are to be seen.
fn legend_lines(sheet: &mut Sheet<'_>, area: Rect, here: &[Sign], all: &[Sign]) {
    let palette = sheet.palette;
    let mark = if here.is_empty() { "  " } else { "▼ " };
    let (mut rest, mut used) = (area, 2);
    let mut spans: Vec<Span<'static>> = vec![ink(palette, Ink::Strong, mark)];
    for sign in Sign::all()
        .filter(|sign| here.contains(sign))
        .chain(Sign::all().filter(|sign| all.contains(sign) && !here.contains(sign)))
    {
        let words = format!(" {}  ", sign.words());
        let more = width(&words) + 1;
        if used + more > usize::from(area.width) + 2 {
            if rest.height == 1 {
                break;
            }
            rest = sheet.line(rest, &Line::from(std::mem::take(&mut spans)));
            spans.push(ink(palette, Ink::Plain, "  "));
            used = 2;
        }
        used += more;
        spans.push(ink(palette, sign.ink(), sign.glyph()));
        let i = if here.contains(&sign) { Ink::Plain } else { Ink::Faint };
        spans.push(ink(palette, i, words));
    }
    sheet.line(rest, &Line::from(spans));
}

fn tabs(screen: &DebriefScreen, wide: usize) -> Line<'static> {
    let whole: usize = View::ALL.iter().map(|(_, _, name)| name.len() + 3).sum();
    let spans = View::ALL.iter().map(|(view, key, name)| {
        let name = if whole > wide { name.get(..4).unwrap_or(name) } else { name };
        let chosen = *view == screen.view;
        let (open, close) = if chosen { ("[", "]") } else { (" ", " ") };
        let style = if chosen { Ink::Chosen } else { Ink::Faint };
        ink(screen.palette, style, format!("{open}{key}{name}{close}"))
    });
    Line::from(spans.collect::<Vec<_>>())
}

/// The events around the cursor, the chosen one in full.
fn events(screen: &DebriefScreen, sheet: &mut Sheet<'_>, area: Rect) {
    let (high, wide) = (usize::from(area.height), usize::from(area.width) - 1);
    let first = screen.item.saturating_sub(high / 2);
    let mut rows = Vec::new();
    let mut at = At::default();
    for place in first..(first + high).min(screen.listed.len()) {
        if place == screen.item {
            at.row = rows.len();
        }
        rows.extend(event_rows(screen, place, wide));
    }
    if rows.is_empty() {
        let text =
            if screen.filter.is_empty() { "nothing happened in this run" } else { "no event has that" };
        rows = Row::text(screen.palette, Ink::Plain, text, wide);
    }
    rows.truncate(high.max(at.row + 1));
    let held = screen.view == View::Events && screen.pages.open.is_none();
    sheet.list(area, &rows, &mut at, held);
    if !held && !screen.listed.is_empty() {
        // Keys go elsewhere; where the cursor stands is to be seen all the same.
        sheet.buffer.set_string(area.x, area.y + at.row as u16, "▹", sheet.palette.style(Ink::Strong));
    }
}

fn event_rows(screen: &DebriefScreen, place: usize, wide: usize) -> Vec<Row> {
    let Some(item) = screen.listed_item(place) else { return Vec::new() };
    let (i, glyph) = item.drawn.map_or((Ink::Faint, " "), |(_, sign)| (sign.ink(), sign.glyph()));
    let later = item.tick > screen.tick;
    let body = match (later, place == screen.item) {
        (true, _) => Ink::Faint,
        (false, true) => Ink::Strong,
        (false, false) => Ink::Plain,
    };
    let head = format!("{:>7} ", clock(item.tick));
    let text = format!("{}: {}", clean(&item.who), clean(&item.text));
    let room = wide.saturating_sub(head.len() + 2).max(10);
    let lines = if place == screen.item { wrap(&text, room) } else { vec![cut(&text, room)] };
    let row = |(n, line): (usize, &String)| match n {
        0 => Row::new(
            screen.palette,
            About::Item(place),
            &[(Ink::Faint, &head), (i, glyph), (body, " "), (body, line)],
        ),
        _ => Row::new(
            screen.palette,
            About::Nothing,
            &[(body, &format!("{}{line}", " ".repeat(head.len() + 2)))],
        ),
    };
    lines.iter().enumerate().map(row).collect()
}

/// A view of what was at the cursor.
fn seen(screen: &mut DebriefScreen, sheet: &mut Sheet<'_>, area: Rect, view: View) {
    let held = screen.view == view;
    let has_pane = view == View::Here && area.width >= 60 && screen.unseen.is_none();
    let pane = if has_pane { (area.width * 2 / 5).min(46) } else { 0 };
    let list = Rect { width: area.width - pane, ..area };
    screen.room = (usize::from(list.width) - 1, usize::from(area.height));
    let rows = screen.rows_of(view, screen.room.0);
    let held_here = held && !screen.in_pane;
    let mut at = screen.at[view.index()];
    if view == View::Here {
        screen.keep_watch(&mut at, &rows);
    }
    sheet.list(list, &rows, &mut at, held_here);
    screen.at[view.index()] = at;
    if has_pane {
        let x = area.x + list.width;
        sheet.rule(Rect { x, width: 1, ..area });
        let pane_area = Rect { x: x + 1, width: pane - 1, ..area };
        let rows = screen.pane_rows(usize::from(pane_area.width) - 1);
        sheet.list(pane_area, &rows, &mut screen.pane_at, held && screen.in_pane);
    }
}

/// A page, beside the events where there is room.
fn page_of(screen: &mut DebriefScreen, sheet: &mut Sheet<'_>, area: Rect, page: Page, mut at: At) {
    let mut right = area;
    if area.width >= WIDE {
        let left = area.width * 9 / 20;
        events(screen, sheet, Rect { width: left, ..area });
        sheet.rule(Rect { x: left, width: 1, ..area });
        right = Rect { x: left + 1, width: area.width - left - 1, ..area };
    }
    screen.room = (usize::from(right.width) - 2, usize::from(right.height));
    let lines = screen.page_lines(page, screen.room.0);
    sheet.list(right, &lines.rows, &mut at, true);
    screen.pages.open = Some((page, at));
}

/// What is typed, and the keys that count.
fn foot(screen: &DebriefScreen, sheet: &mut Sheet<'_>, area: Rect) -> Option<Position> {
    let palette = screen.palette;
    let wide = usize::from(area.width);
    let (line, cursor) = match &screen.typed {
        Some((input, typed)) => {
            let (text, cell) = typed.window(wide.saturating_sub(10));
            let what = if *input == Input::Time { "go to: " } else { "find: " };
            let line = Line::from(vec![ink(palette, Ink::Strong, what), ink(palette, Ink::Typed, text)]);
            (line, Some(Position { x: area.x + (what.len() + cell) as u16, y: area.y }))
        }
        None => {
            let keys = if screen.pages.open.is_some() { TIME_KEYS_BY_A_PAGE } else { TIME_KEYS };
            (Line::from(ink(palette, Ink::Faint, cut(&format!(" {keys}"), wide))), None)
        }
    };
    let rest = sheet.line(area, &line);
    let hint = if screen.hint.is_empty() { keys(screen) } else { &screen.hint };
    let i = if screen.hint.is_empty() { Ink::Faint } else { Ink::Strong };
    sheet.line(rest, &Line::from(ink(palette, i, format!(" {}", cut(&clean(hint), wide - 1)))));
    cursor
}

const TIME_KEYS: &str = "←→ PgUp PgDn time  n p marks  + - zoom  Space play  s speed  g go to  / find";

/// A page that is open takes the keys for pages.
const TIME_KEYS_BY_A_PAGE: &str =
    "←→ time  n p marks  + - zoom  Space play  g go to  / find  PgUp PgDn lines";

fn keys(screen: &DebriefScreen) -> &'static str {
    match screen.view {
        _ if matches!(screen.typed, Some((Input::Find, _))) => {
            "words that an event has; Enter lists only those"
        }
        _ if screen.typed.is_some() => "a time as 12:30 or 12m30s; Enter goes there, Esc does not",
        _ if screen.help.is_some() => "↑↓ scroll  any other key closes",
        _ if screen.pages.open.is_some() => page_keys(screen),
        View::Events if !screen.filter.is_empty() => "↑↓ events that have what you look for  Esc all again",
        View::Events => "↑↓ events  Enter what they saw  w why  o objectives  Tab eyes  ? help  q leave",
        View::Here if screen.in_pane => "↑↓ choose  t trend of a reading  Esc back  ? help",
        View::Here => "↑↓ choose  Enter its readings  Tab other eyes  8 events  ? help  q leave",
        View::Alerts | View::Orders => "↑↓ choose  Enter to when it came  Tab other eyes  8 events  ? help",
        View::Systems => "[ ] other system  ↑↓ scroll  Tab other eyes  8 events  ? help",
        View::List => "[ ] other list  ↑↓ choose  Tab other eyes  8 events  ? help",
        _ => "↑↓ scroll  Tab other eyes  8 events  ? help  q leave",
    }
}

fn page_keys(screen: &DebriefScreen) -> &'static str {
    match screen.pages.open {
        Some((Page::Answer(Ask::Why, _), _)) => {
            "↑↓ choose  Enter to when it was  v what would avoid it  Esc back  ? help"
        }
        Some((Page::Answer(Ask::Avoid, _), _)) => "↑↓ choose  Enter to when it was  w why  Esc back  ? help",
        _ => "↑↓ choose  Enter to when it was  Esc back  ? help  q leave",
    }
}

impl DebriefScreen {
    /// Draws all of it.
    pub(crate) fn draw(&mut self, frame: &mut Frame<'_>) {
        draw(self, frame);
    }
}
