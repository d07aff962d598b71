//! A good ship.

use super::{kinds, read};
use crate::file::read_ship;
use crate::kind::{Medium, Net};
use crate::spec::{Beyond, LinkTo, Priority, ShipSpec, StateTarget};

pub(super) const GOOD: &str = include_str!("good.toml");

fn component(ship: &ShipSpec, name: &str) -> usize {
    ship.components.iter().position(|component| component.name == name).unwrap()
}

#[test]
fn everything_is_read() {
    let ship = read(GOOD).unwrap();
    assert_eq!((ship.title.as_str(), ship.about.as_str()), ("Quillmere", "Invented for this test."));
    assert_eq!(ship.surroundings.sea_temperature_k, 291.15);
    assert_eq!(ship.surroundings.air_pressure_pa, 1e5);
    assert_eq!(ship.surroundings.draught_m, 7.7);
    assert_eq!(ship.walks, [(0, 1, 40.0)]);
    let nodes: Vec<&str> = ship.nodes.iter().map(|node| node.name.as_str()).collect();
    assert_eq!(
        nodes,
        ["board", "dg1.ht.in", "dg1.ht.out", "dg2.ht.in", "dg2.ht.out", "sea.header", "sea.out"]
    );
    assert_eq!(
        (ship.nodes[0].net, ship.nodes[0].voltage_v, ship.nodes[0].frequency_hz),
        (Net::Ac, 440.0, 60.0)
    );
    assert_eq!((ship.nodes[1].medium, ship.nodes[1].volume_m3), (Some(Medium::FreshWater), 0.02));
    assert_eq!((ship.nodes[5].volume_m3, ship.nodes[5].metal_j_k), (0.3, 20_000.0));
}

#[test]
fn components_are_sorted_and_joined() {
    let ship = read(GOOD).unwrap();
    let names: Vec<&str> = ship.components.iter().map(|component| component.name.as_str()).collect();
    let mut sorted = names.clone();
    sorted.sort_unstable();
    assert_eq!(names, sorted);
    let valve = &ship.components[component(&ship, "sea.valve")];
    assert_eq!(valve.title, "Main sea water valve");
    assert_eq!((valve.place, valve.remote.as_slice()), (Some(1), [0].as_slice()));
    assert_eq!(valve.ports, [Some(5), Some(6)]);
    // The type gives Kv and a motor drive; the component's own word wins.
    assert_eq!(valve.params, [0.01, 0.0]);
    assert_eq!((valve.pos.line, valve.pos.column), (36, 1));
}

#[test]
fn templates_are_filled() {
    let ship = read(GOOD).unwrap();
    let first = &ship.components[component(&ship, "dg1.ht.valve")];
    let second = &ship.components[component(&ship, "dg2.ht.valve")];
    assert_eq!((first.title.as_str(), second.title.as_str()), ("HT valve of DG 1", "HT valve of DG 2"));
    assert_eq!((first.params[0], second.params[0]), (0.005, 0.0025));
    let motor = &ship.components[component(&ship, "dg2.motor")];
    assert_eq!(motor.params, [7500.0, 6.0, 0.0]);
    assert_eq!(motor.ports, [Some(0), None]);
    assert_eq!(motor.links[0], Some(LinkTo::Component(component(&ship, "dg2.ht.valve"))));
    assert_eq!(motor.links[1], Some(LinkTo::Reading(component(&ship, "sea.chest"), 1)));
}

#[test]
fn alerts_are_read() {
    let ship = read(GOOD).unwrap();
    let hot = &ship.alerts[0];
    assert_eq!((hot.priority, hot.when, hot.hysteresis), (Priority::Warning, Beyond::Above, 2.0));
    assert!((hot.limit - 305.15).abs() < 1e-9);
    assert_eq!((hot.delay_s, hot.after_s, hot.blocks_standby), (3.0, 10.0, true));
    assert_eq!(hot.only_while, Some((component(&ship, "dg1.motor"), 0)));
    assert_eq!(hot.about, component(&ship, "sea.valve"));
    assert_eq!((ship.alerts[1].limit, ship.alerts[1].about), (0.5, component(&ship, "sea.valve")));
}

#[test]
fn states_are_joined_in_order() {
    let ship = read(GOOD).unwrap();
    let in_port = &ship.states[1];
    assert_eq!(in_port.name, "in port");
    let valve = component(&ship, "sea.valve");
    let sets: Vec<(StateTarget, f64)> = in_port.sets.iter().map(|set| (set.target, set.value)).collect();
    let ht = |name| StateTarget::Component(component(&ship, name), 0);
    assert_eq!(
        sets,
        [
            (ht("dg1.ht.valve"), 0.0),
            (ht("dg2.ht.valve"), 0.0),
            (StateTarget::Component(valve, 0), 0.0),
            (StateTarget::NodeTemperature(6), 293.15),
            (StateTarget::Surroundings(1), 278.15),
            (StateTarget::Component(valve, 0), 0.5),
            (StateTarget::Component(valve, 1), 1.0),
            (ht("dg1.motor"), 1.0),
        ]
    );
}

#[test]
fn several_files_are_one_ship() {
    let at = GOOD.find("[[tank]]").unwrap();
    let (first, second) = GOOD.split_at(at);
    let files =
        [("a.toml".to_owned(), first.to_owned()), ("b.toml".to_owned(), format!("format = 1\n{second}"))];
    let ship = read_ship(&kinds::ALL, &files).unwrap();
    assert_eq!(ship.files, ["a.toml", "b.toml"]);
    assert_eq!(ship.components.len(), read(GOOD).unwrap().components.len());
    assert_eq!(ship.components[component(&ship, "sea.chest")].pos.file, 1);
}

#[test]
fn a_rig_may_do_without_places() {
    let ship = read(
        "format = 1\n[rig]\ntitle = 'Rig'\n[[node]]\nname = 'ac'\nnet = 'ac'\nvoltage = '230 V'\n\
         [[motor]]\nname = 'm'\nsupply = 'ac'\npower = '1 kW'",
    )
    .unwrap();
    assert_eq!((ship.components[0].place, ship.nodes[0].voltage_v), (None, 230.0));
}

#[test]
fn lists_of_inline_tables_are_lists_of_tables() {
    let ship = read(
        "format = 1\nrig = { title = 'Rig' }\nnode = [{ name = 'ac', net = 'ac' }, { names = 'dc', net = 'ac' }]\n\
         motor = [{ name = 'm', supply = 'ac', power = '1 kW' }, { name = 'n', supply = 'dc', power = '1 kW' }]",
    )
    .unwrap();
    assert_eq!((ship.nodes.len(), ship.components[1].ports[0]), (2, Some(1)));
    assert_eq!((ship.components[1].pos.line, ship.components[1].pos.column), (4, 57));
}

#[test]
fn gauge_pressure_of_air_becomes_absolute() {
    let ship = read(
        "format = 1\n[rig]\ntitle = 'Rig'\n[surroundings]\nbarometer = '1000 mbar'\n[[node]]\nname = 'bottle'\n\
         net = 'air'\n[[bottle]]\nname = 'b'\nair = 'bottle'\n[[state]]\nname = 'full'\n\
         [state.set]\nbottle.pressure = '30 bar'",
    )
    .unwrap();
    assert_eq!(ship.states[0].sets[0].target, StateTarget::NodePressure(0));
    assert_eq!(ship.states[0].sets[0].value, 31e5);
    assert_eq!((ship.nodes[0].net, ship.nodes[0].volume_m3), (Net::Air, 0.005));
}

#[test]
fn a_shaft_can_be_found_turning() {
    let ship = read(
        "format = 1\n[rig]\ntitle = 'Rig'\n[[node]]\nname = 'ac'\nnet = 'ac'\nvoltage = '230 V'\n[[node]]\n\
         name = 'shaft'\nnet = 'shaft'\n[[motor]]\nname = 'm'\nsupply = 'ac'\nshaft = 'shaft'\npower = '1 kW'\n\
         [[state]]\nname = 'turning'\n[state.set]\nshaft.speed = '60 rpm'",
    )
    .unwrap();
    assert_eq!(ship.states[0].sets[0].target, StateTarget::NodeSpeed(1));
    assert!((ship.states[0].sets[0].value - std::f64::consts::TAU).abs() < 1e-12);
}
