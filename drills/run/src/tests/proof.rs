//! Start states of a drill, procedures that extend others, and what is proved of a drill.

use super::kit::{DRILL, PROCEDURE, instructor, opening_with, said};
use crate::crew::{Crew, Manner};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::ids::run_id;
use crate::opening::{Opening, TextFile};
use crate::proof::{Bench, Hands, Made, Verdict};
use crate::recorder::Recorder;
use crate::setup::Setup;

const STATE: &str = r#"
[[state]]
name = "low"
based-on = "cold"
[state.set]
"header.tank.volume" = "0.4 m3"
"#;

/// The small drill with its book under the drill's own name, and others for it.
fn opening(drill: &str, others: &[(&str, &str)]) -> Opening {
    let mut opening = opening_with(drill, &[]);
    opening.procedures.push(TextFile::new("procedures/small.toml", PROCEDURE));
    let others = others.iter().map(|(name, text)| TextFile::new(format!("procedures/{name}.toml"), *text));
    opening.procedures.extend(others);
    opening
}

const FORGETS: &str = r#"
format = 1
[procedure]
title = "The valve is forgotten"
drill = "small"
extends = "small"
without = ["empty"]
error = "the tank is not emptied"
misses = ["aim"]
"#;

fn made(opening: Opening, seeds: u64) -> (Bench, Vec<Made>) {
    let bench = Bench::new(opening).unwrap();
    let made = bench.trials(seeds).iter().map(|trial| bench.make(trial).unwrap()).collect();
    (bench, made)
}

#[test]
fn a_drill_may_find_the_ship_in_a_state_of_its_own() {
    let drill = DRILL.replace("start = \"cold\"", "start = \"low\"") + STATE;
    let (setup, plant) = Setup::new(opening_with(&drill, &[])).unwrap();
    let (component, reading) = setup.compiled.reading("header.tank.volume").unwrap();
    let volume_m3 = plant.reading(component, reading);
    assert!((volume_m3 - 0.4).abs() < 0.02, "{volume_m3}");
    let wrong = drill.replace("volume\" = \"0.4", "volmue\" = \"0.4");
    let said = said(opening_with(&wrong, &[]));
    assert!(said.len() == 1 && said[0].starts_with("library/small.toml:"), "{said:?}");
    assert!(said[0].contains("volmue"), "{said:?}");
}

#[test]
fn a_procedure_extends_another_and_says_what_it_does_wrong() {
    let (setup, _) = Setup::new(opening(DRILL, &[("forgets", FORGETS)])).unwrap();
    let steps = |name: &str| -> Vec<String> {
        let procedure = setup.procedures.iter().find(|procedure| procedure.name == name).unwrap();
        procedure.steps.iter().map(|step| step.name.clone()).collect()
    };
    let (all, fewer) = (steps("small"), steps("forgets"));
    assert_eq!(all.iter().filter(|name| *name != "empty").cloned().collect::<Vec<_>>(), fewer);
    let error = setup.procedures.iter().find_map(|procedure| procedure.error.as_ref()).unwrap();
    assert_eq!(
        (error.text.as_str(), error.misses.as_slice()),
        ("the tank is not emptied", &["aim".to_owned()][..])
    );

    let wrong = FORGETS
        .replace("extends = \"small\"", "extends = \"smal\"")
        .replace("misses = [\"aim\"]", "misses = [\"aimm\"]");
    let about = said(opening(DRILL, &[("forgets", &wrong)]));
    assert!(about.iter().any(|line| line.contains("`smal`") && line.contains("small")), "{about:#?}");
    assert!(about.iter().any(|line| line.contains("`aimm`") && line.contains("aim")), "{about:#?}");
    let wrong = FORGETS.replace("without = [\"empty\"]", "without = [\"emty\"]");
    let about = said(opening(DRILL, &[("forgets", &wrong)]));
    assert!(about.len() == 1 && about[0].contains("no step `emty`"), "{about:#?}");
    // One level only.
    let again = FORGETS.replace("extends = \"small\"", "extends = \"forgets\"");
    let about = said(opening(DRILL, &[("forgets", FORGETS), ("again", &again)]));
    let told = "extends another itself";
    assert!(about.len() == 1 && about[0].contains(told), "{about:#?}");
}

/// The drill expects more than its book does: here only what the book brings about.
fn by_the_book() -> String {
    let (before, after) = DRILL.split_once("[[expect]]\nname = \"alert-answered\"").expect("it expects that");
    format!("{before}{}", &after[after.find("[aim]").expect("it has an aim")..])
}

#[test]
fn a_crew_with_a_manner_takes_its_time_and_may_forget() {
    let started = |manner: Option<Manner>| {
        let (mut recorder, _) =
            Recorder::open(run_id("x", 1), opening(DRILL, &[]), &instructor(), "").unwrap();
        let mut crew = Crew::new(&recorder.run().setup, Some("small")).unwrap();
        if let Some(manner) = manner {
            crew = crew.with_manner(manner);
        }
        let mut log = Vec::new();
        while recorder.run().tick() < 2_400 {
            log.extend(crew.act(&mut recorder, ""));
            log.extend(recorder.tick(""));
        }
        let is_start =
            |envelope: &&Envelope| matches!(&envelope.event, Event::ActDone { verb, .. } if verb == "start");
        (log.iter().find(is_start).map(|start| start.tick), crew.given_up().len())
    };
    let (exact, _) = started(None);
    let (one, other) = (started(Some(Manner::new(1, 1.0))).0, started(Some(Manner::new(2, 1.0))).0);
    assert!(exact < one && exact < other && one != other, "{exact:?} {one:?} {other:?}");
    let forgotten = (0..20).map(|seed| started(Some(Manner::new(seed, 0.0))).1).sum::<usize>();
    assert!(forgotten > 0, "without skill some of sixty steps are forgotten");
}

#[test]
fn what_is_as_it_says_is_proved() {
    let drill = by_the_book();
    let (bench, trials) = made(opening(&drill, &[("forgets", FORGETS)]), 2);
    let verdict = Verdict::of(&bench, &trials);
    assert_eq!(verdict.problems, [""; 0], "{verdict:#?}");
    let hands: Vec<&str> = verdict.spreads.iter().map(|spread| spread.hands.words()).collect();
    assert_eq!(hands, ["idle", "expert", "forgets"]);
    let expert = verdict.of_expert().unwrap();
    assert_eq!((expert.trials, expert.passed), (2, 2));
    // The same again is the same.
    assert_eq!(made(opening(&drill, &[("forgets", FORGETS)]), 2).1, trials);
}

#[test]
fn what_is_not_as_it_says_is_named() {
    let lies = FORGETS.replace("without = [\"empty\"]\n", "");
    let drill = by_the_book().replace("seed = 7", "seed = 7\nlength = \"19 min\"\ndifficulty = 5");
    let (bench, trials) = made(opening(&drill, &[("forgets", &lies)]), 1);
    let problems = Verdict::of(&bench, &trials).problems.join("\n");
    for wanted in
        ["it passes, though it shows an error", "length is said to be 19 min", "difficulty is said to be 5"]
    {
        assert!(problems.contains(wanted), "{wanted}: {problems}");
    }
    assert!(trials.iter().any(|one| one.trial.hands == Hands::Idle && one.aim_tick.is_none()));
    let bare = DRILL.split("[aim]").next().unwrap();
    let bench = Bench::new(opening_with(&bare.replace("done(\"aim\")", "true"), &[])).unwrap();
    let problems = Verdict::of(&bench, &[]).problems.join("\n");
    assert!(problems.contains("no [aim]") && problems.contains("no procedure of its own name"), "{problems}");
}

#[test]
fn the_seed_chooses_what_a_drill_turns_out_to_be() {
    let variants =
        "\n[[variant]]\nname = \"real\"\nabout = \"The tank leaks\"\n[[variant]]\nname = \"none\"\n";
    let drill = DRILL.replace("name = \"leak\"", "name = \"leak\"\nvariants = [\"real\"]") + variants;
    let faults = |seed: u64| {
        let mut opening = opening_with(&drill, &[]);
        opening.seed = seed;
        let (setup, _) = Setup::new(opening).unwrap();
        let this = setup.drill.variant.map(|at| setup.drill.variants[at].name.clone()).unwrap();
        assert_eq!(setup.drill.faults.len(), usize::from(this == "real"));
        setup.drill.faults.len()
    };
    let leaks: usize = (0..40).map(faults).sum();
    assert!((10..=30).contains(&leaks), "{leaks} of 40");
    let wrong = drill.replace("variants = [\"real\"]", "variants = [\"rael\"]");
    let about = said(opening_with(&wrong, &[]));
    assert!(
        about.len() == 1 && about[0].contains("no variant `rael`") && about[0].contains("real"),
        "{about:?}"
    );
}

/// The small drill that leaks in one variant and not in the other.
fn with_variants() -> String {
    let variants = "\n[[variant]]\nname = \"real\"\n[[variant]]\nname = \"none\"\n";
    DRILL.replace("name = \"leak\"", "name = \"leak\"\nvariants = [\"real\"]") + variants
}

#[test]
fn every_variant_is_tried_with_everybody() {
    let bench = Bench::new(opening(&with_variants(), &[("forgets", FORGETS)])).unwrap();
    let of = |hands: &str, seeds: u64| {
        let trials = bench.trials(seeds).into_iter().filter(|trial| trial.hands.words() == hands);
        let mut variants: Vec<String> = trials.map(|trial| trial.variant.unwrap()).collect();
        variants.sort();
        variants
    };
    for hands in ["idle", "expert", "forgets"] {
        assert_eq!(of(hands, 1), ["none", "real"], "{hands}");
    }
    assert_eq!((of("idle", 20).len(), of("expert", 20).len()), (2, 20));
    let seeds: Vec<u64> = bench.trials(20).iter().map(|trial| trial.seed).collect();
    assert!(seeds.iter().all(|seed| (1..=20).contains(seed)), "{seeds:?}");
}

#[test]
fn a_step_of_a_procedure_may_be_for_one_variant() {
    let step = "title = \"Empty the tank\"\nvariants = [\"real\"]";
    let procedure = PROCEDURE.replace("title = \"Empty the tank\"", step);
    let mut has = Vec::new();
    for seed in 0..20 {
        let mut opening = opening_with(&with_variants(), &[&procedure]);
        opening.seed = seed;
        let (setup, _) = Setup::new(opening).unwrap();
        let is_real = setup.drill.variant == Some(0);
        assert_eq!(setup.procedures[0].step("empty").is_some(), is_real);
        has.push(is_real);
    }
    assert!(has.contains(&true) && has.contains(&false));
    let said = said(opening_with(&with_variants(), &[&procedure.replace("[\"real\"]", "[\"rael\"]")]));
    assert!(said.len() == 1 && said[0].contains("no variant `rael`"), "{said:?}");
}
