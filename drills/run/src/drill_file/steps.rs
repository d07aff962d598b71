//! The parts of a procedure file.

use super::{Desk, StepNames};
use crate::drill::Drill;
use crate::procedure::{Procedure, Step};
use crate::words::{Line, Vocabulary, parse};
use deadship_plant::file::toml_reader::{At, Reader};

/// How long a robot waits for a condition unless the step says otherwise, s: common practice, no source.
const TIMEOUT_S: f64 = 600.0;
/// How often a robot tries again unless the procedure says otherwise.
const RETRIES: i64 = 12;

impl<'a> Desk<'a> {
    pub(super) fn read_procedure(
        &self,
        name: &str,
        root: &Reader<'a>,
        drill: Option<&Drill>,
    ) -> Option<Procedure> {
        let tables = root.tables("step", "a step");
        let Some(head) = root.table("procedure", "a procedure") else {
            self.problems.report(root.spot(), "the file has no `[procedure]`");
            return None;
        };
        let title = self.need_text(&head, "title");
        let for_drill = head.need("drill").and_then(|field| field.text());
        if let (Some(named), Some(drill)) = (&for_drill, drill)
            && named.value != drill.name
        {
            let message = format!("the procedure is for the drill `{}`, not `{}`", named.value, drill.name);
            self.problems.report(named.spot, message);
        }
        let team_sees = head.get("team-sees").and_then(|field| field.flag());
        let retries = head.get("retries").and_then(|field| field.whole(0, 1000));
        head.finish();
        let mut names = StepNames::default();
        let known: Vec<String> =
            tables.iter().filter_map(|table| Some(table.get("name")?.text()?.value)).collect();
        let steps =
            tables.iter().filter_map(|table| self.read_step(table, drill, &mut names, &known)).collect();
        Some(Procedure {
            name: name.to_owned(),
            title,
            team_sees: team_sees.is_none_or(|flag| flag.value),
            drill: for_drill.map_or_else(String::new, |named| named.value),
            retries: retries.map_or(RETRIES, |retries| retries.value) as u32,
            steps,
        })
    }

    fn read_step(
        &self,
        table: &Reader<'a>,
        drill: Option<&Drill>,
        names: &mut StepNames,
        known: &[String],
    ) -> Option<Step> {
        let name = names.read(table);
        let station = table.need("station").and_then(|field| field.text());
        if let (Some(station), Some(drill)) = (&station, drill)
            && drill.station(&station.value).is_none()
        {
            let message = format!("the drill has no station `{}`", station.value);
            let stations = drill.stations.iter().map(|station| station.name.as_str());
            self.problems.unknown(station.spot, message, &station.value, stations);
        }
        let after = table.get("after").and_then(|field| field.texts()).unwrap_or_default();
        for earlier in &after {
            self.check_after(earlier, name.as_deref(), known);
        }
        let typed = table.get("do").and_then(|field| field.texts()).unwrap_or_default();
        let acts = typed.iter().filter_map(|text| self.read_act(text, drill)).collect();
        let step = Step {
            station: station.map_or_else(String::new, |station| station.value),
            title: self.need_text(table, "title"),
            after: after.into_iter().map(|earlier| earlier.value).collect(),
            when: table.get("when").and_then(|field| self.condition(&field)),
            acts,
            say: table.get("say").and_then(|field| field.text()).map(|say| say.value),
            until: table.get("until").and_then(|field| self.condition(&field)),
            timeout_s: self.time(table, "timeout").unwrap_or(TIMEOUT_S),
            name: name.unwrap_or_default(),
        };
        table.finish();
        Some(step)
    }

    /// A step can come only after one that is written before it: so no two wait for each other.
    fn check_after(&self, earlier: &At<String>, name: Option<&str>, known: &[String]) {
        let own = name.and_then(|name| known.iter().position(|step| step == name));
        match known.iter().position(|step| *step == earlier.value) {
            None => {
                let message = format!("there is no step `{}`", earlier.value);
                self.problems.unknown(
                    earlier.spot,
                    message,
                    &earlier.value,
                    known.iter().map(String::as_str),
                );
            }
            Some(found) if own.is_some_and(|own| found >= own) => {
                let message = format!("`{}` is not written before this step", earlier.value);
                self.problems.report(earlier.spot, message);
            }
            Some(_) => {}
        }
    }

    fn read_act(&self, text: &At<String>, drill: Option<&Drill>) -> Option<(String, Line)> {
        let vocabulary = Vocabulary { spec: &self.compiled.spec, drill, procedures: &[] };
        match parse(&text.value, &vocabulary) {
            Ok(line) => Some((text.value.clone(), line)),
            Err(error) => {
                self.problems.report(text.spot, format!("`{}`: {error}", text.value));
                None
            }
        }
    }
}
