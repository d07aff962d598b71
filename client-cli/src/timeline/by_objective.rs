//! A timeline by what the drill is to teach.

use crate::failure::Failure;
use crate::io::{Io, WIDTH, wrap_to};
use deadship_run::by_objective::by_objective;
use deadship_run::debrief::Debrief;
use deadship_run::timeline::line;
use deadship_run::{Envelope, Event};

/// Does the drill of a log name objectives?
pub(super) fn has_objectives(log: &[Envelope]) -> bool {
    // They stand in the opening.
    let opened = log.iter().take_while(|envelope| matches!(envelope.event, Event::RunOpened(_))).count();
    !Debrief::of(&log[..opened]).objectives.is_empty()
}

/// Each objective with what became of it and its events, then what belongs to none.
pub(super) fn tell_by_objective(
    io: &mut Io,
    log: &[Envelope],
    is_chosen: &dyn Fn(&Envelope) -> bool,
) -> Result<(), Failure> {
    let grouped = by_objective(log);
    let marks = Debrief::of(log).marks;
    if let Some(why) = &grouped.doubt {
        io.tell(&format!("only expectations and ratings are told by objective: {why}"));
    }
    for (at, group) in grouped.groups.iter().enumerate() {
        if at > 0 {
            io.line("")?;
        }
        match &group.objective {
            Some(course) => {
                let text = format!("-- {}: {}", course.objective.name, course.objective.text);
                io.line(&wrap_to(&text, WIDTH).join("\n   "))?;
                let said = course.said(&marks);
                let said = said.strip_prefix(&format!("{}: ", course.objective.name)).unwrap_or(&said);
                io.line(&format!("   {said}"))?;
            }
            None if grouped.groups.len() == 1 => {}
            None => io.line("-- belongs to no objective")?,
        }
        for envelope in group.places.iter().map(|place| &log[*place]).filter(|envelope| is_chosen(envelope)) {
            io.line(&line(envelope))?;
        }
    }
    Ok(())
}
