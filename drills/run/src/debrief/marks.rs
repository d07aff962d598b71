//! Marks by objective as plain text: what the log shows, how it was rated, what is left to those who rate.

use super::{Debrief, Mark, ObjectiveCourse, Outcome};
use crate::timeline::clock;

/// All objectives of a report. There is no overall score.
pub(super) fn render(report: &Debrief) -> String {
    let mut lines = vec![format!("{}, on {}: marks by objective", report.drill, report.ship)];
    if report.objectives.is_empty() {
        lines.push("The drill has no objectives.".to_owned());
    }
    for course in &report.objectives {
        lines.push(String::new());
        lines.extend(objective(course, &report.marks));
    }
    let ticked = |mark: &&Mark| report.objectives.iter().any(|course| course.expects.contains(&mark.name));
    let besides: Vec<String> =
        report.marks.iter().filter(|mark| !ticked(mark)).map(|mark| format!("  {}", shown(mark))).collect();
    if !besides.is_empty() && !report.objectives.is_empty() {
        lines.push(String::new());
        lines.push("Belongs to no objective:".to_owned());
        lines.extend(besides);
    }
    if !report.raters.is_empty() {
        lines.push(String::new());
        lines.extend(
            report
                .raters
                .iter()
                .map(|raters| format!("{} and {}: {}", raters.first, raters.second, raters.said())),
        );
    }
    lines.push(String::new());
    lines.push(report.safety.clone());
    lines.join("\n") + "\n"
}

fn objective(course: &ObjectiveCourse, marks: &[Mark]) -> Vec<String> {
    let known = &course.objective;
    let mut lines = vec![format!("{}: {}", known.name, known.text)];
    if !known.stcw.is_empty() {
        lines.push(format!("  STCW {}", known.stcw));
    }
    let marks = course.marks(marks);
    if marks.is_empty() {
        lines.push("  nothing that the log can tick: left to those who rate".to_owned());
    }
    lines.extend(marks.into_iter().map(|mark| format!("  {}", shown(mark))));
    for rating in &course.ratings {
        let text = if rating.text.is_empty() { String::new() } else { format!(": {}", rating.text) };
        let at = clock(rating.tick).trim().to_owned();
        lines.push(format!("  rated {} by {} [{at} #{}]{text}", rating.level, rating.by, rating.seq));
    }
    if course.ratings.is_empty() {
        lines.push("  not rated yet; the scale:".to_owned());
        lines.extend(known.levels.iter().map(|level| format!("    {}: {}", level.word, level.text)));
    }
    lines
}

fn shown(mark: &Mark) -> String {
    let at = mark.tick.map(|tick| clock(tick).trim().to_owned()).unwrap_or_default();
    let seq = mark.seq.map_or_else(String::new, |seq| format!(" #{seq}"));
    match mark.outcome {
        Outcome::Met => format!("[met {at}{seq}] {}", mark.text),
        Outcome::Missed => format!("[missed {at}{seq}] {}", mark.text),
        Outcome::Open => format!("[not met] {}", mark.text),
    }
}
