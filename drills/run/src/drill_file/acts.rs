//! What a step of a procedure does: lines as people type them, of which everything is looked at that does not depend on the run.

use super::Desk;
use crate::command::Command;
use crate::decide::acts::{check_value, find_act};
use crate::drill::Drill;
use crate::words::{Line, Vocabulary, WordsError, parse};
use deadship_plant::file::toml_reader::At;
use deadship_plant::kind::Verb;

impl Desk<'_> {
    pub(super) fn read_act(&self, text: &At<String>, drill: Option<&Drill>) -> Option<(String, Line)> {
        let vocabulary = Vocabulary { spec: &self.compiled.spec, drill, procedures: &[] };
        let read = parse(&text.value, &vocabulary).map_err(|error| match error {
            WordsError::UnknownName { what: "step", .. } => {
                "a step is ticked off by itself, when it is done".to_owned()
            }
            other => other.to_string(),
        });
        let fits = read.and_then(|line| self.can_be_done(&line).map(|()| line));
        match fits {
            Ok(line) => Some((text.value.clone(), line)),
            Err(why) => {
                self.problems.report(text.spot, format!("`{}`: {why}", text.value));
                None
            }
        }
    }

    /// Could somebody of a station ever do it? If not, why.
    fn can_be_done(&self, line: &Line) -> Result<(), String> {
        let Line::Command(command) = line else { return Ok(()) };
        if command.directs() {
            return Err(
                "that is for those who run the class; a step is done by people of a station".to_owned()
            );
        }
        match command {
            Command::Act { component, verb, setting, value } => {
                self.can_be_worked(component, *verb, setting, *value)
            }
            _ => Ok(()),
        }
    }

    fn can_be_worked(&self, component: &str, verb: Verb, setting: &str, value: f64) -> Result<(), String> {
        // The words were understood, so the component is there.
        let Some(index) = self.compiled.component(component) else { return Ok(()) };
        let owner = &self.compiled.spec.components[index];
        let (_, act) = find_act(owner, verb, setting).map_err(|refusal| refusal.to_string())?;
        if let Some(param) = act.only_with.filter(|_| !act.applies(&owner.params)) {
            let what = if setting.is_empty() { verb.word() } else { setting };
            let needs = owner.kind.params[param].name;
            return Err(format!("`{component}` has no {what} to work; it would need `{needs}`"));
        }
        check_value(act, value).map_err(|refusal| refusal.to_string())
    }
}
