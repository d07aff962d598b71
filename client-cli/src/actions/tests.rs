use super::*;
use deadship_plant::file::read_ship;
use deadship_plant::kinds::REGISTRY;
use deadship_run::library::BUILT_IN;
use proptest::prelude::*;

fn rig() -> ShipSpec {
    let (name, text) = BUILT_IN.iter().find(|(name, _)| *name == "rigs/electric-motor.toml").unwrap();
    read_ship(REGISTRY, &[((*name).to_owned(), (*text).to_owned())]).unwrap()
}

#[test]
fn actions_are_read_in_the_order_in_which_they_happen() {
    let text = "# begin\n\nat 2 min 5 s: stop pump   # later\n  at 10s: start pump\nat 0:10: fault pump.overload-trip 50 %\n";
    let rig = rig();
    let fault = rig.components.iter().find(|c| c.name == "pump").unwrap().kind.faults[0].name;
    let text = text.replace("overload-trip", fault);
    let actions = read_actions("a.txt", &text, &rig).unwrap();
    let told: Vec<(u32, u64, &str)> = actions.iter().map(|a| (a.line, a.tick, a.text.as_str())).collect();
    let set = format!("fault pump.{fault} 50 %");
    assert_eq!(told, [(4, 200, "start pump"), (5, 200, set.as_str()), (3, 2500, "stop pump")]);
}

#[test]
fn every_mistake_is_told_with_its_place() {
    let text = "start pump\nat 5: start pump\nat 5s start pump\nat 5s: strat pump\n at 5s:   start pmp\nat 5s: go x\n";
    let problems = read_actions("a.txt", text, &rig()).unwrap_err();
    let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
    insta::assert_snapshot!(told.join("\n"), @r"
    a.txt:1:1: the line does not begin with `at` (write `at TIME: WORDS`, e.g. `at 2 min 5 s: open sea.chest.low.valve`)
    a.txt:2:4: `5` is not a time: write it as `90s`, `12m30s`, `2 min 5 s`, `1h` or `12:30`
    a.txt:3:1: there is no `:` and space after the time (write `at TIME: WORDS`, e.g. `at 2 min 5 s: open sea.chest.low.valve`)
    a.txt:4:8: `strat pump`: `strat` is not a word known here (did you mean `start`?); `help` lists them
    a.txt:5:11: `start pmp`: there is no component `pmp` (did you mean `pump`?)
    a.txt:6:8: `go x`: there is no place `x`
    ");
}

proptest! {
    #[test]
    fn no_text_is_too_odd(text in any::<String>()) {
        let _ = read_actions("a.txt", &text, &rig());
    }

    #[test]
    fn nor_are_lines_that_are_nearly_right(
        lines in prop::collection::vec("(at|  at|ta)? ?[0-9]{0,3} ?(s|min|ms|:|é)?:? (open|start|set|fault|lift|say|read|x)? (pump|shore|ü)?(\\.[a-z]{1,9})? ?[0-9]{0,3} ?%?#?", 0..20)
    ) {
        let _ = read_actions("a.txt", &lines.join("\n"), &rig());
    }
}
