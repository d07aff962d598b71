//! Procedures: ordered checklists with conditions. People read them, the robot crew performs them.

use crate::condition::Condition;
use crate::words::Line;

/// A procedure.
#[derive(Clone, Debug)]
pub struct Procedure {
    /// Name: its file's, without folder and ending.
    pub name: String,
    /// Title.
    pub title: String,
    /// Drill it is for.
    pub drill: String,
    /// Does the team see it? If not only robots work by it, and those who run the class read it.
    pub team_sees: bool,
    /// How often a robot tries again after a refusal.
    pub retries: u32,
    /// Steps, in the order written.
    pub steps: Vec<Step>,
    /// What it does wrong, where it is there to show an error.
    pub error: Option<Error>,
}

/// What a procedure does wrong, to show it and to prove that the drill finds it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Error {
    /// For people: `the sea water pump is not started again`.
    pub text: String,
    /// Names of the expectations that must be missed, or stay open, because of it.
    pub misses: Vec<String>,
}

/// A step of a procedure.
#[derive(Clone, Debug)]
pub struct Step {
    /// Name, by which it is ticked off.
    pub name: String,
    /// Station that does it.
    pub station: String,
    /// For people.
    pub title: String,
    /// Names of steps that must be ticked off before, for order across stations.
    pub after: Vec<String>,
    /// What to wait for.
    pub when: Option<Condition>,
    /// What to do, in order: as typed, and as understood.
    pub acts: Vec<(String, Line)>,
    /// What to report when it is done.
    pub say: Option<String>,
    /// What must be true for it to be done.
    pub until: Option<Condition>,
    /// How long to wait for `when` or `until`, s; then a robot gives the step up.
    pub timeout_s: f64,
}

impl Procedure {
    /// A step by name.
    pub fn step(&self, name: &str) -> Option<&Step> {
        self.steps.iter().find(|step| step.name == name)
    }

    /// The procedure for reading: numbered, one step a line, what to do below it.
    pub fn to_text(&self) -> String {
        let mut text = format!("{}\n", self.title);
        for (number, step) in self.steps.iter().enumerate() {
            text.push_str(&format!("{:>3}. [{}] {} ({})\n", number + 1, step.station, step.title, step.name));
            let mut line = |words: String| text.push_str(&format!("       {words}\n"));
            if !step.after.is_empty() {
                line(format!("after {}", step.after.join(", ")));
            }
            if let Some(when) = &step.when {
                line(format!("wait for {}", when.text()));
            }
            for (typed, _) in &step.acts {
                line(typed.clone());
            }
            if let Some(until) = &step.until {
                line(format!("until {}", until.text()));
            }
            if let Some(say) = &step.say {
                line(format!("report: {say}"));
            }
        }
        text
    }
}
