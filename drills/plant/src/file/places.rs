//! The ship herself: title, surroundings, places and the ways between them.

use super::names::Names;
use super::toml_reader::{At, Problems, Reader, Spot};
use crate::spec::{PlaceSpec, Surroundings};
use crate::unit::Dimension;
use std::collections::BTreeMap;

/// Limits of what surroundings can be, SI: air, sea, draught.
pub(super) const AIR_K: (f64, f64) = (223.15, 333.15);
pub(super) const SEA_K: (f64, f64) = (270.15, 313.15);
pub(super) const DRAUGHT_M: (f64, f64) = (0.0, 30.0);
const BAROMETER_PA: (f64, f64) = (80_000.0, 110_000.0);

/// What `[ship]` or `[rig]` says.
pub(super) struct Head {
    pub title: String,
    pub about: String,
    /// Name of the node that feeds the alarm system.
    pub alarm_supply: Option<At<String>>,
}

/// Title, description and alarm supply, from the one `[ship]` or `[rig]`.
pub(super) fn read_head(problems: &Problems, heads: &[Reader<'_>]) -> Option<Head> {
    let mut found = None;
    let mut heads: Vec<&Reader<'_>> = heads.iter().collect();
    heads.sort_by_key(|head| head.spot());
    for (index, head) in heads.iter().enumerate() {
        let title = head.need("title").and_then(|field| field.text());
        let about = head.get("about").and_then(|field| field.text());
        let alarm_supply = head.get("alarm-supply").and_then(|field| field.text());
        head.finish();
        if index > 0 {
            report_second(problems, head, "`[ship]` or `[rig]`", heads[0].spot());
        } else if let Some(title) = title {
            let about = about.map_or_else(String::new, |about| about.value);
            found = Some(Head { title: title.value, about, alarm_supply });
        }
    }
    if heads.is_empty() && !problems.is_incomplete() {
        let mut spot = Spot::default();
        (spot.pos.line, spot.pos.column) = (1, 1);
        problems.report(spot, "no file has a `[ship]` or `[rig]`");
    }
    found
}

fn report_second(problems: &Problems, reader: &Reader<'_>, what: &str, first: Spot) {
    let message = format!("there can be one {what} only");
    problems.report_with_help(
        reader.spot(),
        message,
        format!("the first is at {}", problems.describe(first)),
    );
}

/// Surroundings, by default those of the standard conditions of marine engines on a laden ship.
pub(super) fn read_surroundings(problems: &Problems, tables: &[Reader<'_>]) -> Surroundings {
    let mut surroundings = Surroundings {
        air_temperature_k: 301.15,
        sea_temperature_k: 298.15,
        draught_m: 7.7,
        air_pressure_pa: 101_325.0,
    };
    for (index, table) in tables.iter().enumerate() {
        if index > 0 {
            report_second(problems, table, "`[surroundings]`", tables[0].spot());
        }
        let take = |key, dimension, (min, max): (f64, f64), into: &mut f64| {
            if let Some(value) = table.get(key).and_then(|field| field.quantity_within(dimension, min, max)) {
                *into = value.value;
            }
        };
        take("air", Dimension::Temperature, AIR_K, &mut surroundings.air_temperature_k);
        take("sea", Dimension::Temperature, SEA_K, &mut surroundings.sea_temperature_k);
        take("draught", Dimension::Length, DRAUGHT_M, &mut surroundings.draught_m);
        take("barometer", Dimension::Pressure, BAROMETER_PA, &mut surroundings.air_pressure_pa);
        table.finish();
    }
    surroundings
}

/// Places, in the order written.
pub(super) fn read_places(problems: &Problems, tables: &[Reader<'_>]) -> Vec<PlaceSpec> {
    let mut names = Names::of("place");
    let (mut places, mut drains) = (Vec::new(), Vec::new());
    for table in tables {
        let name = names.read(table);
        let title = table.need("title").and_then(|field| field.text());
        let drains_to = table.get("drains-to").and_then(|field| field.text());
        table.finish();
        if let Some(name) = name {
            let title = title.map_or_else(|| name.value.clone(), |title| title.value);
            places.push(PlaceSpec { name: name.value, title, drains_to: None, pos: name.spot.pos });
            drains.push(drains_to);
        }
    }
    for (at, drains_to) in drains.iter().enumerate().filter_map(|(at, to)| Some((at, to.as_ref()?))) {
        places[at].drains_to = find_place(problems, &places, drains_to);
        if runs_in_a_circle(&places, at) {
            places[at].drains_to = None;
            problems.report(drains_to.spot, "what leaks runs down and cannot come back here");
        }
    }
    places
}

fn runs_in_a_circle(places: &[PlaceSpec], from: usize) -> bool {
    std::iter::successors(places[from].drains_to, |&at| places[at].drains_to)
        .take(places.len())
        .any(|at| at == from)
}

/// The place of this name.
pub(super) fn find_place(problems: &Problems, places: &[PlaceSpec], name: &At<String>) -> Option<usize> {
    let found = places.iter().position(|place| place.name == name.value);
    if found.is_none() {
        let message = format!("there is no place `{}`", name.value);
        problems.unknown(name.spot, message, &name.value, places.iter().map(|place| place.name.as_str()));
    }
    found
}

/// On a ship, people can walk from the first place to every other where something is installed.
pub(super) fn check_ways(
    problems: &Problems,
    places: &[PlaceSpec],
    walks: &[(usize, usize, f64)],
    is_used: impl Fn(usize) -> bool,
) {
    let mut reached = vec![0];
    let mut at = 0;
    while at < reached.len() {
        for &(one, other, _) in walks {
            for (here, there) in [(one, other), (other, one)] {
                if here == reached[at] && !reached.contains(&there) {
                    reached.push(there);
                }
            }
        }
        at += 1;
    }
    for (index, place) in places.iter().enumerate() {
        if reached.contains(&index) || !is_used(index) {
            continue;
        }
        let message = format!("nobody can walk to `{}` from `{}`", place.name, places[0].name);
        let spot = Spot::at(place.pos);
        problems.report_with_help(spot, message, "write a `[[walk]]` that leads there");
    }
}

/// Ways between places.
pub(super) fn read_walks(
    problems: &Problems,
    tables: &[Reader<'_>],
    places: &[PlaceSpec],
) -> Vec<(usize, usize, f64)> {
    const LONGEST_S: f64 = 3600.0;
    let mut seen: BTreeMap<(usize, usize), Spot> = BTreeMap::new();
    let mut walks = Vec::new();
    for table in tables {
        let between = table.need("between");
        let time =
            table.need("time").and_then(|field| field.quantity_within(Dimension::Time, 0.0, LONGEST_S));
        table.finish();
        let Some((field, names)) = between.and_then(|field| field.texts().map(|names| (field, names))) else {
            continue;
        };
        if names.len() != 2 || names[0].value == names[1].value {
            field.report("must be two different places");
            continue;
        }
        let ends: Vec<_> = names.iter().filter_map(|name| find_place(problems, places, name)).collect();
        let (&[from, to], Some(time)) = (ends.as_slice(), time) else {
            continue;
        };
        let way = (from.min(to), from.max(to));
        if let Some(first) = seen.insert(way, field.spot()) {
            let message = "there is already a walk between these places";
            problems.report_with_help(
                field.spot(),
                message,
                format!("the first is at {}", problems.describe(first)),
            );
        }
        walks.push((from, to, time.value));
    }
    walks
}
