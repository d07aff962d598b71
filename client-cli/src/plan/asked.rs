//! What a drill asks people, as steps of the plan.

use super::{StepPlan, one_line, time, when};
use deadship_run::asking::{Ask, Asking};
use deadship_run::drill::Drill;

pub(super) fn steps(drill: &Drill) -> impl Iterator<Item = StepPlan> {
    drill.askings.iter().flat_map(|asking| asking.asks.iter().map(move |ask| step(asking, ask)))
}

fn step(asking: &Asking, ask: &Ask) -> StepPlan {
    let to = asking.to.as_deref().unwrap_or("all");
    let choices: Vec<String> = ask.choices.iter().map(choice).collect();
    let about = ask.grasp.map_or_else(String::new, |grasp| format!(", {}", grasp.about()));
    let within = ask.within_s.map_or_else(String::new, |within| format!(", in {}", time(within)));
    let later = match ask.later_s {
        0.0 => String::new(),
        later_s => format!(", what is right is seen {} later", time(later_s)),
    };
    let hold = if asking.holds && asking.decides() { ", the run is on hold for it" } else { "" };
    StepPlan {
        name: ask.name.clone(),
        sort: if asking.decides() { "decision" } else { "probe" },
        what: format!("to {to}{about}{within}{later}{hold}: {} {}", ask.text.trim(), choices.join("; ")),
        comes: when(&asking.comes),
        goes: None,
    }
}

fn choice(choice: &deadship_run::asking::Choice) -> String {
    match &choice.right {
        None => format!("{}) {}", choice.word, choice.text),
        Some(right) => format!("{}) {} (right when {})", choice.word, choice.text, one_line(right)),
    }
}
