//! Ships that cannot work, each sound in every table.

use super::good::GOOD;
use super::said;

/// A ship of these tables, beginning at line 3.
fn ship(tables: &str) -> Vec<String> {
    said(&format!("format = 1\n[ship]\ntitle = 'S'\n{tables}"))
}

/// A vented tank on a node of this name.
const TANK: &str = "[[tank]]\nname = 'tank'\noutlet = 'full'\ncapacity = '1 m3'\n";

fn nodes(net: &str, names: &str) -> String {
    format!("[[node]]\nnames = [{names}]\nnet = '{net}'\n")
}

fn joint(kind: &str, name: &str, ends: [(&str, &str); 2]) -> String {
    let [(a, on_a), (b, on_b)] = ends;
    let kv = if kind == "pipe" { "kv = '9 Kv'\n" } else { "" };
    format!("[[{kind}]]\nname = '{name}'\n{a} = '{on_a}'\n{b} = '{on_b}'\n{kv}")
}

#[test]
fn an_island_of_pipes() {
    let mut text = nodes("sea water", "'a', 'b'");
    text += &joint("pipe", "there", [("inlet", "a"), ("outlet", "b")]);
    text += &joint("pipe", "back", [("inlet", "b"), ("outlet", "a")]);
    assert_eq!(
        ship(&text),
        [
            "ship.toml:5:10: `a` and `b`: an island of pipes, nothing sets its pressure (join it to a tank, a sea chest or an opening; a closed circuit needs its expansion tank)"
        ]
    );
    assert_eq!(ship(&(text.replace("'a'", "'full'") + TANK)), Vec::<String>::new());
}

#[test]
fn a_pump_without_a_supply() {
    let mut text = nodes("sea water", "'well', 'full', 'between'") + TANK;
    text += &joint("pump", "pump", [("suction", "between"), ("delivery", "full")]);
    text += &joint("pipe", "line", [("inlet", "full"), ("outlet", "well")]);
    // The only way to the suction holds against the tank.
    let held = text.clone() + &joint("check-valve", "wrong-way", [("inlet", "between"), ("outlet", "well")]);
    assert_eq!(
        ship(&held),
        [
            "ship.toml:13:11: `pump` is a pump without a supply: nothing that gives liquid reaches `between` (lead a line from a tank, a sea chest or an opening that gives to it, past no non-return valve that holds against it)"
        ]
    );
    let right = text + &joint("check-valve", "right-way", [("inlet", "well"), ("outlet", "between")]);
    assert_eq!(ship(&right), Vec::<String>::new());
}

#[test]
fn a_loop_of_non_return_valves() {
    let mut text = nodes("fuel", "'full', 'b', 'c'") + TANK;
    text += &joint("check-valve", "one", [("inlet", "full"), ("outlet", "b")]);
    text += &joint("check-valve", "two", [("inlet", "b"), ("outlet", "c")]);
    let round = text.clone() + &joint("check-valve", "three", [("inlet", "c"), ("outlet", "full")]);
    assert_eq!(
        ship(&round),
        [
            "ship.toml:11:1: `one`, `three` and `two`: a loop of non-return valves only, all pointing round: nothing can drive a flow in it or stop one (turn one of them round, or take its non-return valve out)"
        ]
    );
    // Turned round, or without its flap, or a pump in its place: sound.
    for sound in [
        joint("check-valve", "three", [("inlet", "full"), ("outlet", "c")]),
        joint("check-valve", "three", [("inlet", "c"), ("outlet", "full")]) + "flap = false\n",
        joint("pump", "three", [("suction", "c"), ("delivery", "full")]),
    ] {
        assert_eq!(ship(&(text.clone() + &sound)), Vec::<String>::new());
    }
}

#[test]
fn a_cooler_within_one_circuit() {
    let mut text = nodes("fresh water", "'full', 'a', 'b', 'c', 'd'") + TANK;
    text += "[[cooler]]\nname = 'cooler'\nhot-in = 'a'\nhot-out = 'b'\ncold-in = 'c'\ncold-out = 'd'\n";
    for (name, from, to) in [("1", "full", "a"), ("2", "b", "full"), ("3", "full", "c"), ("4", "d", "full")] {
        text += &joint("pipe", name, [("inlet", from), ("outlet", to)]);
    }
    // Both hang on one expansion tank: two circuits all the same.
    assert_eq!(ship(&text), Vec::<String>::new());
    let mixed = text + &joint("pipe", "short", [("inlet", "b"), ("outlet", "d")]);
    assert_eq!(
        ship(&mixed),
        [
            "ship.toml:15:11: `cooler`: both sides belong to one circuit, pipes join `a` and `c` (a cooler parts two circuits: put one side into the other circuit)"
        ]
    );
}

#[test]
fn air_without_a_receiver() {
    let line = nodes("air", "'a', 'b'") + &joint("hose", "hose", [("inlet", "a"), ("outlet", "b")]);
    let alone = line.replace("net =", "dead-end = true\nnet =");
    assert_eq!(
        ship(&alone),
        [
            "ship.toml:5:10: `a` and `b`: air without a receiver, nothing there stores any (join a receiver to it)"
        ]
    );
    assert_eq!(ship(&(alone + "[[bottle]]\nname = 'bottle'\nair = 'a'\n")), Vec::<String>::new());
}

#[test]
fn a_shaft_that_nothing_turns_or_that_weighs_nothing() {
    let pump = nodes("sea water", "'full', 'b'")
        + TANK
        + "[[pump]]\nname = 'pump'\nsuction = 'full'\ndelivery = 'b'\nshaft = 'shaft'\n"
        + &joint("pipe", "back", [("inlet", "b"), ("outlet", "full")])
        + "[[node]]\nname = 'shaft'\nnet = 'shaft'\n";
    assert_eq!(
        ship(&pump),
        [
            "ship.toml:22:8: shaft `shaft` has no moment of inertia (give the node `inertia`, or its generator `inertia-constant`)",
            "ship.toml:22:8: shaft `shaft` is turned by nothing (put a motor or an engine on it)",
        ]
    );
}

#[test]
fn a_generator_on_no_bus() {
    let text = "[[node]]\nname = 'lone'\nnet = 'ac'\n[[generator]]\nname = 'g'\nterminals = 'lone'\n";
    assert_eq!(
        ship(text),
        [
            "ship.toml:9:13: `g` is on no bus: nothing else is joined to `lone` (put its breaker between this node and a busbar)"
        ]
    );
}

#[test]
fn alternating_current_that_leads_nowhere_or_comes_from_nowhere() {
    let motor = |name: &str| format!("[[motor]]\nname = '{name}'\nsupply = 'board'\npower = '5 kW'\n");
    let board = "[[node]]\nname = 'board'\nnet = 'ac'\n".to_owned();
    assert_eq!(
        ship(&(board.clone() + &motor("m"))),
        [
            "ship.toml:5:8: `board` leads nowhere: only `m` is on it (join a breaker, a source or a consumer to it)"
        ]
    );
    assert_eq!(
        ship(&(board + &motor("m") + &motor("n"))),
        [
            "ship.toml:5:8: no source can feed `board`: `m` and `n` stay dead for good (join a generator, a shore supply or a feeder from a fed board)"
        ]
    );
}

/// A misspelt name would make islands everywhere: it is told alone.
#[test]
fn joints_are_looked_at_last() {
    let said =
        said(&GOOD.replacen("outlet = \"sea.header\"\ncapacity", "outlet = \"sea.heder\"\ncapacity", 1));
    assert!(said.iter().all(|line| !line.contains("island")), "{said:?}");
}

/// No kind takes a rating of zero: what is rated is above zero by its declaration.
#[test]
fn a_rating_of_zero_is_outside_its_range() {
    use crate::kind::ParamType;
    let rated = ["power", "kv", "capacity", "conductance", "free-air", "bore"];
    let mut seen = 0;
    for kind in crate::kinds::REGISTRY {
        let must_be_given = kind.params.iter().filter(|p| p.default.is_none());
        for param in must_be_given.filter(|p| p.name.starts_with("rated-") || rated.contains(&p.name)) {
            if let ParamType::Quantity { min, .. } = param.takes {
                assert!(min > 0.0, "{} {}", kind.name, param.name);
                seen += 1;
            }
        }
    }
    assert!(seen > 20, "{seen}");
    assert_eq!(
        said(&GOOD.replacen("power = \"7.5 kW\"", "power = \"0 kW\"", 1)),
        [
            "ship.toml:107:9: `power`: 0 kW is outside 0.1 kW to 1000 kW, in template `set` used as `dg1`, `dg2`"
        ]
    );
}
