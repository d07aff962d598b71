//! Every team of every class at a glance, those who need someone first.

use crate::screen::class::rank::{Needs, middle, needs};
use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clean, clock, fit, wrap};
use deadship_protocol::{BoardClass, BoardTeam, DrillInfo};
use std::collections::BTreeMap;

/// Teams of all classes, each by its place on the board.
pub(crate) fn all_teams(board: &[BoardClass]) -> Vec<&BoardTeam> {
    board.iter().flat_map(|class| &class.teams).collect()
}

/// All teams, those who need someone first.
pub(crate) fn rows(
    board: &[BoardClass],
    codes: &BTreeMap<uuid::Uuid, String>,
    model: &Model,
    drills: &[DrillInfo],
    palette: Palette,
    wide: usize,
) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut first = 0;
    for class in board {
        let title = format!("{}, held by {}", clean(&class.title), clean(&class.holder));
        rows.push(Row::heading(palette, &title));
        let middle = middle(&class.teams);
        let mut ranked: Vec<(usize, &BoardTeam, Needs, Vec<String>)> = Vec::new();
        for (i, team) in class.teams.iter().enumerate() {
            let (needs, why) = needs(team, middle);
            ranked.push((first + i, team, needs, why));
        }
        first += class.teams.len();
        ranked.sort_by_key(|(place, _, needs, _)| (*needs, *place));
        if ranked.iter().all(|(_, _, needs, _)| *needs >= Needs::Ahead) {
            rows.push(Row::new(palette, About::Nothing, &[(Ink::Live, "○ nobody needs you")]));
        }
        for (place, team, needs, why) in ranked {
            rows.extend(team_rows(palette, place, team, needs, &why, codes, model, wide));
        }
    }
    if board.is_empty() {
        let text = "no class is open; type `open DRILL TEAM, TEAM` (Tab completes), for example `open first-light Red, Blue`";
        rows.extend(Row::text(palette, Ink::Plain, text, wide));
        for drill in drills {
            let stations: Vec<&str> = drill.stations.iter().map(|station| station.name.as_str()).collect();
            let about =
                format!("  {}: {} (on {}; {})", drill.name, drill.title, drill.ship, stations.join(", "));
            rows.extend(Row::text(palette, Ink::Faint, &about, wide));
        }
    }
    rows
}

#[allow(clippy::too_many_arguments, reason = "a row is made of what a row shows")]
fn team_rows(
    palette: Palette,
    place: usize,
    team: &BoardTeam,
    needs: Needs,
    why: &[String],
    codes: &BTreeMap<uuid::Uuid, String>,
    model: &Model,
    wide: usize,
) -> Vec<Row> {
    let (state, pulse) = (&team.state, &team.pulse);
    let used = model.state.as_ref().is_some_and(|used| used.run == state.run);
    let (sign, word) = needs.word();
    let mark = if used { "*" } else { " " };
    let head = format!("{sign} {word:<8}");
    let alerts = match (pulse.alerts, pulse.unacknowledged) {
        (0, _) => String::new(),
        (all, 0) => format!("{all} alerts"),
        (all, waiting) => format!("{all} alerts, {waiting} waiting"),
    };
    let met = pulse.met + pulse.missed + pulse.open;
    let speed = if state.speed == 1.0 { String::new() } else { format!(" ×{}", state.speed) };
    let body = format!(
        "{} {:>7}{speed}  met {}/{met}{}  {alerts}",
        fit(&clean(&state.team), 14),
        clock(state.tick),
        pulse.met,
        if pulse.missed > 0 { format!(", missed {}", pulse.missed) } else { String::new() },
    );
    let parts = [(Ink::Strong, mark), (needs.ink(), head.as_str()), (Ink::Plain, body.as_str())];
    let mut rows = vec![Row::new(palette, About::Team(place), &parts)];
    let mut below = |ink, text: &str| {
        for line in wrap(text, wide.saturating_sub(13).max(10)) {
            rows.push(Row::new(palette, About::Nothing, &[(ink, &format!("           {line}"))]));
        }
    };
    for why in why {
        below(needs.ink(), &clean(why));
    }
    let people =
        if team.people.is_empty() { "nobody on a link".to_owned() } else { clean(&team.people.join(", ")) };
    let code = codes.get(&state.run).map_or(String::new(), |code| format!("code {code}; "));
    below(Ink::Faint, &format!("{code}{people}"));
    if let Some(latest) = &pulse.latest
        && needs < Needs::Over
    {
        below(Ink::Faint, &format!("latest: {}", clean(latest)));
    }
    rows
}
