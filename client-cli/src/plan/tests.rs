//! The first drill as a plan, in every form.

use super::*;
use crate::library::Library;

fn plan() -> Plan {
    Plan::read(&mut Library::new(None).unwrap(), "first-light", None, DialArgs::default()).unwrap()
}

#[test]
fn the_plan_as_text_names_everything_that_a_drill_is() {
    insta::assert_snapshot!(text::render(&plan()));
}

#[test]
fn the_drawing_is_well_formed_and_says_what_it_shows() {
    let plan = plan();
    let drawing = drawing::svg(&plan);
    assert!(drawing.starts_with("<svg") && drawing.ends_with("</svg>"));
    for step in &plan.steps {
        assert!(drawing.contains(&step.name), "{}", step.name);
    }
    assert!(drawing.contains("cooling-back"));
}

#[test]
fn what_a_team_is_given_gives_nothing_away() {
    let plan = plan();
    let (team, leader) = (handout::page(&plan, true), handout::page(&plan, false));
    assert!(leader.contains("sump-lost-oil") && leader.contains("not for the team"));
    assert!(
        !team.contains("sump-lost-oil")
            && !team.contains("not for the team")
            && !team.contains("works-loose")
    );
    for page in [&team, &leader] {
        assert!(page.contains("Station: engine") && page.contains("training aid, not a procedure"));
        assert!(!page.contains("http://") && !page.contains("https://") && !page.contains("<script"));
    }
}

#[test]
fn versions_differ_by_what_they_say() {
    let before = plan();
    let mut after = before.clone();
    assert_eq!(diff::told(&before, &after), []);
    after.limit_s = Some(1_800.0);
    after.steps.remove(0);
    after.objectives[0].expectations[0].within_s = Some(60.0);
    let told = diff::told(&before, &after);
    assert_eq!(told[0], ("limit".to_owned(), Some("45 min".to_owned()), Some("30 min".to_owned())));
    assert!(told.iter().any(|(what, _, after)| what == "fault sump-lost-oil" && after.is_none()));
    assert!(told.iter().any(|(what, ..)| what == "expectation sea-water-flows"));
    assert_eq!(told.len(), 3, "{told:#?}");
}
