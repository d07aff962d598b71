use super::Systems;
use super::labels::{labels, shared};
use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::text::width;
use deadship_run::answer::show_reading;
use deadship_run::ids::run_id;
use deadship_run::library::Library;
use deadship_run::opening::{Opening, TextFile};
use deadship_run::view::{Chart, Flows, Situation};
use deadship_run::{Command, Recorder, Role, Who};

const AT: &str = "2026-01-01T00:00:00Z";

/// A run of a ship or a rig, with a team if she has places.
fn open(ship: &str, start: Option<&str>, place: Option<&str>) -> Recorder {
    let station = |place: &str| {
        format!(
            "[[station]]\nname = \"hands\"\ntitle = \"Hands\"\nstart = \"{place}\"\ncovers = [\"{place}\"]\n"
        )
    };
    let station = place.map_or_else(String::new, station);
    let drill = format!(
        "format = 1\n[drill]\ntitle = \"Test\"\nship = \"{ship}\"\nsettle = \"20 s\"\nbrief = \"Test.\"\n{station}"
    );
    let files = Library::built_in().ship(ship).expect("it is built in");
    let mut opening = Opening::new(TextFile::new("library/test.toml", drill), ship, files, Vec::new(), 1);
    opening.start = start.map(str::to_owned);
    let id = run_id("test", 1);
    Recorder::open(id, opening, &Who::person("teacher", Role::Instructor), AT).expect("it opens").0
}

/// What someone's screen knows.
fn model(recorder: &Recorder, who: &Who) -> Model {
    let run = recorder.run();
    let all = who.role() == Role::Instructor;
    let mut model = Model::default();
    (model.name, model.sees_all) = ("Ada".to_owned(), all);
    model.chart = Some(Chart::new(&run.setup, all));
    model.situation = Situation::new(run, all);
    for (c, component) in run.setup.compiled.spec.components.iter().enumerate() {
        for (r, reading) in component.kind.readings.iter().enumerate() {
            if run.may_see(who, c, r) {
                let name = format!("{}.{}", component.name, reading.name);
                model.readings.insert(name, show_reading(run, c, r));
            }
        }
    }
    model
}

fn trainee(ship: &str, start: &str, place: &str) -> Model {
    let mut recorder = open(ship, Some(start), Some(place));
    let ada = Who::person("Ada", Role::Trainee);
    let take = Command::TakeStation { station: "hands".to_owned() };
    let outcome = recorder.command(&take, &ada, None, AT);
    assert_eq!(outcome.refusal, None);
    model(&recorder, &ada)
}

fn instructor(ship: &str, start: Option<&str>) -> Model {
    model(&open(ship, start, None), &Who::person("teacher", Role::Instructor))
}

fn drawn(model: &Model, system: &str, wide: usize) -> String {
    let systems = Systems::new(model.chart.as_ref().expect("there is a drawing"));
    let index = systems.names().position(|name| name == system).expect("there is such a system");
    let lines = systems.lines(index, model, Palette::new(false), wide, None);
    lines.iter().map(|(line, _)| line.to_string().trim_end().to_owned() + "\n").collect()
}

/// One view as one snapshot, at both widths.
fn both(model: &Model, system: &str) -> String {
    [80, 160].map(|wide| drawn(model, system, wide)).join("\n")
}

#[test]
fn sea_water_as_a_trainee_sees_it_who_stands_at_the_pumps_of_a_dead_ship() {
    insta::assert_snapshot!(both(&trainee("quillmere", "dead ship", "floor-plates"), "sea water"));
}

#[test]
fn sea_water_as_the_instructor_sees_it_at_sea() {
    insta::assert_snapshot!(both(&instructor("quillmere", Some("at sea, two sets")), "sea water"));
}

#[test]
fn boards_as_a_trainee_sees_them_who_stands_at_the_pumps_of_a_dead_ship() {
    insta::assert_snapshot!(both(&trainee("quillmere", "dead ship", "floor-plates"), "boards"));
}

#[test]
fn boards_as_the_instructor_sees_them_at_sea() {
    insta::assert_snapshot!(both(&instructor("quillmere", Some("at sea, two sets")), "boards"));
}

#[test]
fn a_circuit_of_a_set_as_a_trainee_sees_it_beside_the_set() {
    let model = trainee("quillmere", "at sea, two sets", "generator-flat");
    insta::assert_snapshot!(both(&model, "dg1 fresh water: HT, LT"));
}

#[test]
fn the_systems_of_both_ships_are_few_and_named_from_their_data() {
    let of = |ship: &str| {
        let model = instructor(ship, None);
        let systems = Systems::new(model.chart.as_ref().expect("there is a drawing"));
        systems.names().map(str::to_owned).collect::<Vec<_>>().join("\n")
    };
    let library = Library::built_in();
    let names = library.ships().into_iter().map(|ship| format!("{ship}:\n{}", of(ship)));
    insta::assert_snapshot!(names.collect::<Vec<_>>().join("\n\n"));
}

/// A screen on which nothing is seen but these readings.
fn seeing(readings: &[(&str, &str)]) -> Model {
    let mut model = Model::default();
    model.chart = Some(Chart::new(&open("quillmere", None, None).run().setup, false));
    model.readings = readings.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    model
}

fn line<'t>(text: &'t str, part: &str) -> &'t str {
    text.lines().find(|line| line.contains(part)).unwrap_or_else(|| panic!("no line with {part}:\n{text}"))
}

#[test]
fn what_is_not_seen_is_not_known() {
    let model = seeing(&[]);
    for name in ["sea water", "fuel", "compressed air", "dg1 fresh water: HT, LT", "dg1 lube oil"] {
        let text = drawn(&model, name, 160);
        let runs: Vec<&str> = text.lines().filter(|line| line.contains('┄')).skip(1).collect();
        assert!(runs.len() > 3, "{text}");
        for sign in ["━▶", "◀━", "─── ", "▷◁", "▶◀", "●", "○"] {
            assert!(runs.iter().all(|run| !run.contains(sign)), "{sign} in:\n{text}");
        }
    }
    let text = drawn(&model, "boards", 80);
    assert_eq!(text.matches(" ═══ not seen ").count(), text.matches("═══ ").count() / 2);
}

#[test]
fn flow_is_drawn_as_it_is_shown() {
    let cooler = |flow| drawn(&seeing(&[("sea.me.cooler.cold-flow", flow)]), "sea water", 160);
    let run = |flow| line(&cooler(flow), "me.valve").to_owned();
    assert_eq!(run("12.5 m3/h"), "└━━▶ ? me.valve ━━▶ me.cooler ━━▶ ◆ return  12.5 m3/h");
    assert_eq!(run("-2.0 m3/h"), "└◀━━ ? me.valve ◀━━ me.cooler ◀━━ ◆ return  2.0 m3/h");
    assert_eq!(run("0.0 m3/h"), "└─── ? me.valve ─── me.cooler ─── ◆ return");
    assert_eq!(line(&cooler("12.5 m3/h"), "ac.valve"), "├┄┄┄ ? ac.valve ┄┄┄ ac.condenser ┄┄┄ ◆ return");
}

#[test]
fn a_board_is_live_by_its_voltmeter_or_a_closed_switch_to_one_that_is() {
    let panel = |volts, closed| {
        let seen = [("dg1.breaker.bus-voltage", volts), ("panel.1.breaker.closed", closed)];
        let text = drawn(&seeing(&seen), "boards", 80);
        let head = |name| line(&text, name).trim_matches(['│', ' ', '═']).to_owned();
        (head("═══ msb"), head("═══ panel.1"))
    };
    let said = |volts, closed| panel(volts, closed).1;
    assert_eq!(panel("440.0 V", "yes").0, "msb 440 V ═══ live 440.0 V");
    assert_eq!(panel("3.0 V", "yes").0, "msb 440 V ═══ dead 3.0 V");
    assert_eq!(said("440.0 V", "yes"), "panel.1 440 V ═══ live through panel.1.breaker");
    assert_eq!(said("440.0 V", "no"), "panel.1 440 V ═══ not fed: panel.1.breaker open");
    assert_eq!(said("0.0 V", "yes"), "panel.1 440 V ═══ not fed: nothing before panel.1.breaker");
    assert_eq!(said("", "yes"), "panel.1 440 V ═══ not seen");
}

#[test]
fn of_a_change_over_the_way_that_carries_is_closed() {
    let text = drawn(&seeing(&[("esb.transfer.supply", "emergency")]), "boards", 160);
    assert!(line(&text, "transfer·normal").contains("─/ esb.transfer·normal open"), "{text}");
    assert!(line(&text, "transfer·emergency").contains("─■ esb.transfer·emergency closed"), "{text}");
    let text = drawn(&seeing(&[("fuel.changeover.position", "heavy")]), "fuel", 160);
    assert!(line(&text, "changeover·diesel").contains("▶◀ changeover·diesel shut"), "{text}");
    assert!(line(&text, "changeover·heavy").contains("▷◁ changeover·heavy open"), "{text}");
}

#[test]
fn short_labels_are_never_two_alike() {
    let names = ["sea.pump.1", "sea.pump.2", "sea.valve", "pump.1", "dg1.sea.inlet"];
    let prefix = shared(names);
    assert_eq!(prefix, "sea.");
    assert_eq!(labels(&names, &prefix), ["sea.pump.1", "pump.2", "valve", "pump.1", "dg1.sea.inlet"]);
    // No beginning is left out when another is as common.
    assert_eq!(shared(["a.1", "a.2", "a.3", "b.1", "b.2", "b.3"]), "");
}

#[test]
fn everything_drawn_can_be_gone_through() {
    let model = seeing(&[]);
    let chart = model.chart.as_ref().expect("there is a drawing");
    let systems = Systems::new(chart);
    let order = systems.order(0, &model);
    let names: Vec<&str> = order.iter().map(|&component| chart.components[component].name.as_str()).collect();
    assert_eq!(names[..3], ["sea.chest.high", "sea.chest.high.valve", "sea.strainer.high"]);
    // A pump by its motor, which is what is worked.
    assert!(names.contains(&"sea.pump.1") && !names.contains(&"sea.pump.1.end"), "{names:?}");
}

#[test]
fn every_component_of_pipes_and_cables_is_drawn_and_found() {
    for ship in Library::built_in().ships() {
        let model = instructor(ship, None);
        let chart = model.chart.as_ref().expect("there is a drawing");
        let systems = Systems::new(chart);
        let chosen = Palette::new(true).style(Ink::Chosen);
        for (component, known) in chart.components.iter().enumerate() {
            let mut nodes = known.ports.iter().flatten().map(|&node| chart.nodes[node].flows);
            if !nodes.any(|flows| !matches!(flows, Flows::Shaft | Flows::Room)) {
                continue;
            }
            let system =
                systems.with(component).unwrap_or_else(|| panic!("{ship}: {} is nowhere", known.name));
            let lines = systems.lines(system, &model, Palette::new(true), 80, Some(component));
            let is_there = lines.iter().any(|(line, about)| {
                *about == Some(component) && line.spans.iter().any(|span| span.style == chosen)
            });
            assert!(is_there, "{ship}: {} is not drawn", known.name);
        }
    }
}

#[test]
fn nothing_is_wider_than_the_screen_and_every_rig_can_be_drawn() {
    let library = Library::built_in();
    for ship in library.ships().into_iter().chain(library.rigs()) {
        let model = instructor(ship, None);
        let systems = Systems::new(model.chart.as_ref().expect("there is a drawing"));
        for (index, name) in systems.names().enumerate() {
            for wide in [1, 60, 80, 160] {
                let lines = systems.lines(index, &model, Palette::new(true), wide, None);
                assert_eq!(lines, systems.lines(index, &model, Palette::new(true), wide, None));
                for (line, _) in &lines {
                    let text = line.to_string();
                    assert!(width(&text) <= wide, "{ship}, {name} at {wide}: {text}");
                }
            }
        }
    }
}
