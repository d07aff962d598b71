//! Objectives, what the log ticks of them, and ratings.

use super::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening_with, said};
use crate::command::Command;
use crate::debrief::Debrief;
use crate::event::Event;
use crate::replay::verify;
use crate::timeline;
use crate::who::{Role, Who};

const OBJECTIVES: &str = r#"
[[objective]]
name = "pump-work"
text = "Runs the pump"
stcw = "A-III/1: Maintain a safe engineering watch"
levels = ["not-yet: It does not run.", "with-help: It runs after a hint.", "secure: It runs."]

[[objective]]
name = "talk"
text = "Works as a team"
levels = ["not-yet: Nobody speaks.", "secure: Everybody knows."]
"#;

/// The small drill with objectives.
fn drill() -> String {
    let expect = "[[expect]]\nname = \"pump-on\"\n";
    DRILL.replace(expect, &format!("{expect}objective = \"pump-work\"\n")) + OBJECTIVES
}

fn scene_of(drill: &str) -> Scene {
    let mut scene = Scene::of(opening_with(drill, &[PROCEDURE]));
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene
}

fn facilitator() -> Who {
    Who::person("Fay", Role::Facilitator)
}

fn team_sees(scene: &Scene) -> bool {
    let last = scene.log.last().unwrap();
    matches!(last.event, Event::Rated { team_sees: true, .. })
}

#[test]
fn the_last_rating_of_a_rater_counts_and_another_rates_beside() {
    let mut scene = scene_of(&drill());
    scene.ok(&bo(), "close shore");
    scene.run(10.0);
    scene.ok(&bo(), "start pump");
    scene.run(5.0);
    scene.ok(&instructor(), "rate pump-work with-help they asked");
    assert_eq!(timeline::what(&scene.log.last().unwrap().event), "rates pump-work with-help: they asked");
    scene.ok(&facilitator(), "rate pump-work secure");
    scene.ok(&instructor(), "end");
    scene.ok(&instructor(), "rate pump-work secure it was their own idea");
    assert!(!team_sees(&scene), "the drill does not allow it");
    let report = Debrief::of(&scene.log);
    let course = &report.objectives[0];
    let ratings: Vec<(&str, &str)> =
        course.ratings.iter().map(|rating| (rating.level.as_str(), rating.by.as_str())).collect();
    assert_eq!(ratings, [("secure", "facilitator Fay"), ("secure", "instructor Iris")]);
    assert_eq!(course.expects, ["pump-on"]);
    assert_eq!(report.raters[0].agreement.alike, 1);
    assert!(report.raters[0].far_apart.is_empty());
    scene.ok(&facilitator(), "rate pump-work not-yet");
    let raters = &Debrief::of(&scene.log).raters[0];
    assert_eq!(raters.far_apart, ["pump-work"]);
    assert!(raters.said().contains("WARNING: two levels or more apart on pump-work"), "{}", raters.said());
    insta::assert_snapshot!(report.marks_to_text());
    let back: Debrief = serde_json::from_str(&report.to_json()).unwrap();
    assert_eq!(back, report);
    verify(&scene.log).unwrap();
}

#[test]
fn the_team_sees_a_rating_only_when_the_run_is_over_and_the_drill_allows_it() {
    let allowed = drill().replace("settle = \"1 s\"", "settle = \"1 s\"\nteam-sees-ratings = true");
    let mut scene = scene_of(&allowed);
    scene.ok(&instructor(), "rate talk secure");
    assert!(!team_sees(&scene), "the run goes on");
    scene.ok(&instructor(), "end");
    scene.ok(&instructor(), "rate talk secure");
    assert!(team_sees(&scene));
}

#[test]
fn what_ratings_are_refused_for() {
    let mut scene = scene_of(&drill());
    scene.no(&ada(), "rate talk secure", &["not-your-role"]);
    scene.no(&Who::person("Olga", Role::Observer), "rate talk secure", &["not-your-role"]);
    let rate = |objective: &str, level: &str| Command::Rate {
        objective: objective.to_owned(),
        level: level.to_owned(),
        text: String::new(),
    };
    let unknown = scene.command(&instructor(), &rate("walk", "secure")).refusal.unwrap();
    assert_eq!(unknown.to_string(), "there is no objective walk; the drill has pump-work, talk");
    let level = scene.command(&instructor(), &rate("talk", "with-help")).refusal.unwrap();
    assert_eq!(level.to_string(), "talk has no level with-help; it has not-yet, secure");
    let refused = scene.command(&facilitator(), &rate("walk", "secure"));
    assert!(
        matches!(&refused.envelopes[0].event, Event::ActRefused { command, .. } if command == "rate walk secure")
    );
    assert!(
        Scene::new()
            .command(&instructor(), &rate("talk", "secure"))
            .refusal
            .unwrap()
            .has("unknown-objective")
    );
}

#[test]
fn mistakes_in_objectives_are_named() {
    let drill = drill()
        .replace("objective = \"pump-work\"", "objective = \"pump-wrk\"")
        .replace("name = \"talk\"", "name = \"they talk\"")
        .replace("\"A-III/1: Maintain", "\"Maintain")
        .replace("\"with-help: It runs after a hint.\"", "\"with-help\", \"not-yet: Again.\"")
        .replace(", \"secure: Everybody knows.\"", "");
    insta::assert_snapshot!(said(opening_with(&drill, &[])).join("\n"));
}

#[test]
fn whoever_opens_the_run_may_overrule_the_drill() {
    for (of_drill, overruled) in [(true, Some(false)), (false, Some(true)), (true, None)] {
        let head = format!("settle = \"1 s\"\nteam-sees-ratings = {of_drill}");
        let text = drill().replace("settle = \"1 s\"", &head);
        let mut opening = opening_with(&text, &[PROCEDURE]);
        opening.team_sees_ratings = overruled;
        let mut scene = Scene::of(opening);
        scene.ok(&instructor(), "end");
        scene.ok(&instructor(), "rate pump-work secure");
        assert_eq!(team_sees(&scene), overruled.unwrap_or(of_drill));
        verify(&scene.log).unwrap();
    }
}
