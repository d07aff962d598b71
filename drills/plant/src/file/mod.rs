//! Ship files: TOML text to a [`ShipSpec`].
//!
//! A ship or rig is one or more files, merged in the order given. The steps, one file of this module each:
//! gather the tables of all files (`sheet`) and the tables that templates make (`template`); read places, nodes,
//! components, alerts and states, each by name; then check how they are joined (`wiring`). Every step goes on after
//! a mistake, so that one reading finds them all. When nothing is wrong so far, the ship as a whole is looked at (`joints`):
//! with a misspelt name in it, half a ship would look like islands.

mod alerts;
mod components;
mod joints;
mod links;
mod names;
mod nodes;
mod places;
mod sheet;
mod states;
mod template;
pub mod toml_reader;
mod types;
mod wiring;

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;

use crate::kind::KindDef;
use crate::spec::{Problem, ShipSpec};
use sheet::Sheet;
use toml_reader::{Learned, Problems};

/// The newest format of ship files that is read.
pub const FORMAT: i64 = 1;

/// Keys of a file that are not names of kinds. No kind may be called so.
pub const FILE_KEYS: [&str; 12] = [
    "format",
    "ship",
    "rig",
    "surroundings",
    "place",
    "walk",
    "node",
    "type",
    "alert",
    "state",
    "template",
    "use",
];

/// Keys that every component or type has. No port, parameter or link of a kind may be called so.
pub const COMPONENT_KEYS: [&str; 7] = ["name", "title", "type", "place", "remote", "kind", "source"];

/// Reads a ship or rig from its files, given as name and text.
///
/// # Errors
/// Everything that is wrong with the files, sorted by position.
pub fn read_ship(kinds: &[&'static KindDef], files: &[(String, String)]) -> Result<ShipSpec, Vec<Problem>> {
    read_ship_with_states(kinds, files, &[])
}

/// As [`read_ship`], with the start states that other files add, such as a drill that finds the ship in a state of its own.
/// Nothing else is looked at in those.
///
/// # Errors
/// As [`read_ship`].
pub fn read_ship_with_states(
    kinds: &[&'static KindDef],
    files: &[(String, String)],
    of_states: &[(String, String)],
) -> Result<ShipSpec, Vec<Problem>> {
    let all: Vec<(String, String)> = files.iter().chain(of_states).cloned().collect();
    let problems = Problems::new(&all);
    let documents = problems.parse();
    let (ship, states) = documents.split_at(files.len());
    let scan = sheet::Scan::new(kinds, &problems, ship, states);
    let uses = template::read_uses(&problems, &scan);
    let sheet = scan.sheet(&uses);
    let ship = read_sheet(&problems, &sheet);
    match ship {
        Some(mut ship) if !problems.any() => {
            ship.files.truncate(files.len());
            Ok(ship)
        }
        _ => Err(problems.sorted()),
    }
}

/// What a ship's reader asks of these files, whatever is wrong with them.
pub fn learn_ship(kinds: &[&'static KindDef], files: &[(String, String)]) -> Learned {
    let problems = Problems::learning(files);
    let documents = problems.parse();
    let scan = sheet::Scan::new(kinds, &problems, &documents, &[]);
    let uses = template::read_uses(&problems, &scan);
    read_sheet(&problems, &scan.sheet(&uses));
    problems.learned()
}

/// Reads what was gathered. `None` only when there is no head, which is reported.
fn read_sheet(problems: &Problems, sheet: &Sheet<'_>) -> Option<ShipSpec> {
    let head = places::read_head(problems, &sheet.heads);
    let surroundings = places::read_surroundings(problems, &sheet.surroundings);
    let places = places::read_places(problems, &sheet.places);
    let walks = places::read_walks(problems, &sheet.walks, &places);
    let types = types::read_types(sheet);
    let nodes = nodes::read_nodes(problems, &sheet.nodes);
    let mut components = components::read_components(sheet, &types, &nodes, &places);
    template::report_unused(problems, sheet, &components);
    links::read_links(sheet, &mut components);
    let alerts = alerts::read_alerts(sheet, &components);
    let states = states::read_states(sheet, &nodes, &components, surroundings.air_pressure_pa);
    wiring::check(sheet, &nodes, &components);
    if !problems.any() {
        joints::check(sheet, &nodes, &components);
        if sheet.is_ship() {
            let is_used = |place| components.iter().any(|component| component.spec.place == Some(place));
            places::check_ways(problems, &places, &walks, is_used);
        }
    }
    let places::Head { title, about, alarm_supply } = head?;
    let alarm_supply = alarm_supply.and_then(|name| nodes::alarm_supply(problems, &nodes, &name));
    Some(ShipSpec {
        files: problems.file_names(),
        title,
        about,
        places,
        walks,
        surroundings,
        nodes: nodes.into_iter().map(|node| node.spec).collect(),
        components: components.into_iter().map(|component| component.spec).collect(),
        alerts,
        alarm_supply,
        states,
    })
}
