//! Ratings: how far an objective was reached, by someone who runs the class.

use super::Refusal;
use super::orders::optional;
use crate::event::Event;
use crate::run::Run;
use crate::who::Who;

/// The last rating of one rater counts; a second rater may rate beside.
pub(super) fn rate(
    run: &Run,
    who: &Who,
    objective: &str,
    level: &str,
    text: &str,
) -> Result<Vec<Event>, Refusal> {
    let text = optional(text)?;
    let objectives = &run.setup.drill.objectives;
    let Some(known) = objectives.iter().find(|known| known.name == objective) else {
        let names: Vec<&str> = objectives.iter().map(|known| known.name.as_str()).collect();
        let there = match names.as_slice() {
            [] => "the drill has none".to_owned(),
            names => format!("the drill has {}", names.join(", ")),
        };
        return Err(Refusal::new("unknown-objective", format!("there is no objective {objective}; {there}")));
    };
    if known.level(level).is_none() {
        let words = known.words().join(", ");
        return Err(Refusal::new(
            "unknown-level",
            format!("{objective} has no level {level}; it has {words}"),
        ));
    }
    Ok(vec![Event::Rated {
        objective: objective.to_owned(),
        level: level.to_owned(),
        text,
        by: who.to_string(),
        team_sees: run.state.ended.is_some() && run.setup.drill.team_sees_ratings,
    }])
}
