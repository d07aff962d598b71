//! What an instructor types that only the terminal knows: classes, teams, which run is meant.

use crate::clock::parse_time;
use deadship_protocol::{BeginFrom, ClientMessage, DialPosition};
use deadship_run::setup::ticks;
use uuid::Uuid;

/// A run as an instructor knows it.
pub(crate) struct Known {
    pub(crate) run: Uuid,
    pub(crate) class: Option<Uuid>,
    pub(crate) team: String,
    pub(crate) over: bool,
}

/// `open DRILL [TEAM …]`; teams are parted by commas, or where there is none, by spaces.
///
/// # Errors
/// What is wrong with it, for people.
pub(crate) fn open(rest: &str) -> Result<ClientMessage, String> {
    let (drill, rest) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
    let mut crew = None;
    let mut seed = None;
    let (mut difficulty, mut stress) = (None, None);
    let mut hold = true;
    let mut others = Vec::new();
    for word in rest.split_whitespace() {
        match word.split_once('=') {
            Some(("crew", name)) => crew = Some(name.to_owned()),
            Some(("seed", number)) => match number.parse() {
                Ok(number) => seed = Some(number),
                Err(_) => {
                    return Err(format!("open {drill}: `{number}` is not a seed: it is a whole number"));
                }
            },
            Some(("difficulty", word)) => difficulty = Some(position(drill, word)?),
            Some(("stress", word)) => stress = Some(position(drill, word)?),
            Some(("hold", answer)) => hold = answer != "no",
            _ => others.push(word),
        }
    }
    let others = others.join(" ");
    let mut teams = match others.contains(',') {
        true => named(&others),
        false => spaced(&others),
    };
    if teams.is_empty() {
        teams.push("Team".to_owned());
    }
    let (id, drill) = (Uuid::new_v4(), drill.to_owned());
    Ok(ClientMessage::Open {
        id,
        drill,
        teams,
        title: None,
        seed,
        difficulty,
        stress,
        hold,
        crew,
        from: None,
    })
}

/// `again TEAM TIME [TEAM …]`: a class that begins where a run was at a time.
///
/// # Errors
/// What is wrong with it, for people.
pub(crate) fn again(runs: &[Known], rest: &str) -> Result<ClientMessage, String> {
    let form = "write `again TEAM TIME [TEAM …]`: `again Red 12:30`";
    let mut words = rest.split_whitespace();
    let (Some(team), Some(time)) = (words.next(), words.next()) else { return Err(form.to_owned()) };
    let run = find(runs, team)?.run;
    let time_s = parse_time(time).map_err(|error| format!("{error}; {form}"))?;
    let named = words.collect::<Vec<_>>().join(" ");
    let mut teams = if named.contains(',') { self::named(&named) } else { spaced(&named) };
    if teams.is_empty() {
        teams.push(format!("{team} again"));
    }
    let (id, from) = (Uuid::new_v4(), Some(BeginFrom { run, tick: ticks(time_s) }));
    let drill = String::new();
    // The seed and the dials are those of the run.
    let (seed, difficulty, stress) = (None, None, None);
    Ok(ClientMessage::Open {
        id,
        drill,
        teams,
        title: None,
        seed,
        difficulty,
        stress,
        hold: true,
        crew: None,
        from,
    })
}

/// Where a dial stands, by its word.
fn position(drill: &str, word: &str) -> Result<DialPosition, String> {
    match word {
        "low" => Ok(DialPosition::Low),
        "usual" => Ok(DialPosition::Usual),
        "high" => Ok(DialPosition::High),
        _ => Err(format!("open {drill}: `{word}` is no position of a dial: it is low, usual or high")),
    }
}

/// Names parted by spaces.
fn spaced(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

/// Names parted by commas.
fn named(text: &str) -> Vec<String> {
    text.split(',').map(|team| team.trim().to_owned()).filter(|team| !team.is_empty()).collect()
}

/// `TEAM, TEAM: LINE`.
///
/// # Errors
/// What is wrong with it, for people.
pub(crate) fn some(rest: &str) -> Result<(Vec<String>, String), String> {
    let Some((teams, text)) = rest.split_once(':') else {
        return Err("write `for TEAM, TEAM: LINE`".to_owned());
    };
    let teams = named(teams);
    match teams.is_empty() {
        true => Err("name a team: `for TEAM, TEAM: LINE`".to_owned()),
        false => Ok((teams, text.trim().to_owned())),
    }
}

/// The run that a name means: a team's, or the beginning of a run's id. Of several, the one that is not over.
///
/// # Errors
/// Why it means none.
pub(crate) fn find<'r>(runs: &'r [Known], name: &str) -> Result<&'r Known, String> {
    let fits = |known: &&Known| {
        known.team.eq_ignore_ascii_case(name)
            || (name.len() >= 4 && known.run.to_string().starts_with(&name.to_lowercase()))
    };
    let mut found: Vec<&Known> = runs.iter().filter(fits).collect();
    if found.len() > 1 {
        found.retain(|known| !known.over);
    }
    match found.as_slice() {
        [one] => Ok(one),
        [] => {
            let teams: Vec<&str> = runs.iter().map(|known| known.team.as_str()).collect();
            let known = if teams.is_empty() { "no run is open".to_owned() } else { teams.join(", ") };
            Err(format!("{name}: there is no such team or run; known: {known}"))
        }
        _ => Err(format!("{name}: several runs fit; `runs` tells their ids, use one of them")),
    }
}
