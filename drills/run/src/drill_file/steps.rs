//! The parts of a procedure file.

use super::{Desk, FORMAT, StepNames};
use crate::drill::Drill;
use crate::opening::Opening;
use crate::procedure::{Error, Procedure, Step};
use deadship_plant::file::toml_reader::{At, Reader, Spot};

/// How long a robot waits for a condition unless the step says otherwise, s: common practice, no source.
const TIMEOUT_S: f64 = 600.0;
/// How often a robot tries again unless the procedure says otherwise.
const RETRIES: i64 = 12;

impl<'a> Desk<'a> {
    /// All procedures, in the order of their files. Those that extend another are read after those that extend none.
    pub(super) fn read_procedures(
        &self,
        opening: &Opening,
        roots: Vec<Option<Reader<'a>>>,
        drill: Option<&Drill>,
    ) -> Vec<Procedure> {
        let extends = |root: &Reader<'a>| {
            root.table("procedure", "a procedure").is_some_and(|head| head.get("extends").is_some())
        };
        let roots = opening.procedures.iter().map(|file| file.stem()).zip(roots);
        let well =
            roots.filter_map(|(name, root)| Some((name, root?))).filter(|(_, root)| root.format(FORMAT));
        let (later, first): (Vec<_>, Vec<_>) = well.partition(|(_, root)| extends(root));
        let mut procedures = Vec::new();
        let mut read = |of: Vec<(&str, Reader<'a>)>| {
            let others: Vec<Procedure> = procedures.clone();
            for (name, root) in of {
                procedures.extend(self.read_procedure(name, &root, drill, &others));
                root.finish();
            }
        };
        read(first);
        read(later);
        let place =
            |procedure: &Procedure| opening.procedures.iter().position(|file| file.stem() == procedure.name);
        procedures.sort_by_key(place);
        procedures
    }

    fn read_procedure(
        &self,
        name: &str,
        root: &Reader<'a>,
        drill: Option<&Drill>,
        others: &[Procedure],
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
        let error = self.read_error(&head);
        let base = self.base(name, &head, others);
        let without = head.get("without").map(|field| (field.key_spot(), field.texts().unwrap_or_default()));
        // With one that cannot be found, nothing can be said about its steps.
        let without = without.filter(|_| base.is_some() || head.get("extends").is_none());
        head.finish();
        let mut names = StepNames::default();
        let mut known: Vec<String> =
            tables.iter().filter_map(|table| Some(table.get("name")?.text()?.value)).collect();
        known.splice(0..0, base.iter().flat_map(|base| base.steps.iter().map(|step| step.name.clone())));
        let own: Vec<Step> =
            tables.iter().filter_map(|table| self.read_step(table, drill, &mut names, &known)).collect();
        let usual = base.as_ref().map_or(RETRIES, |base| i64::from(base.retries));
        let steps = self.combine(base, own, without);
        Some(Procedure {
            name: name.to_owned(),
            title,
            team_sees: team_sees.is_none_or(|flag| flag.value),
            drill: for_drill.map_or_else(String::new, |named| named.value),
            retries: retries.map_or(usual, |retries| retries.value) as u32,
            steps,
            error,
        })
    }

    /// `error` and `misses`: what it is there to show.
    fn read_error(&self, head: &Reader<'a>) -> Option<Error> {
        let text = head.get("error").and_then(|field| field.text());
        let misses = head.get("misses").map(|field| (field.key_spot(), field.texts().unwrap_or_default()));
        if let (None, Some((spot, _))) = (&text, &misses) {
            self.problems.report(*spot, "`misses` goes with `error`, which says in words what is done wrong");
        }
        let misses = misses.map(|(_, names)| names).unwrap_or_default();
        for name in misses.iter().filter(|name| !self.dones.contains(&name.value)) {
            let message = format!("nothing expected has the name `{}`", name.value);
            self.problems.unknown(name.spot, message, &name.value, self.dones.iter().map(String::as_str));
        }
        Some(Error { text: text?.value, misses: misses.into_iter().map(|name| name.value).collect() })
    }

    /// The procedure that this one extends: one of the same drill that extends none.
    fn base(&self, own: &str, head: &Reader<'a>, others: &[Procedure]) -> Option<Procedure> {
        let named = head.get("extends")?.text()?;
        let found = others.iter().find(|other| other.name == named.value).cloned();
        if found.is_none() && named.value == own {
            self.problems.report(named.spot, "a procedure cannot extend itself");
        } else if found.is_none() && self.procedures.contains(&named.value) {
            let message = format!("`{}` extends another itself, or could not be read", named.value);
            self.problems.report_with_help(named.spot, message, "name one that extends none");
        } else if found.is_none() {
            let message =
                format!("there is no procedure `{}` of this drill that extends none itself", named.value);
            let known = others.iter().map(|other| other.name.as_str());
            self.problems.unknown(named.spot, message, &named.value, known);
        }
        found
    }

    /// The steps of the other procedure, without some, and with own ones: in the place of a namesake, or after all.
    fn combine(
        &self,
        base: Option<Procedure>,
        own: Vec<Step>,
        without: Option<(Spot, Vec<At<String>>)>,
    ) -> Vec<Step> {
        let Some(base) = base else {
            if let Some((spot, _)) = without {
                self.problems
                    .report(spot, "`without` leaves out steps of the procedure that `extends` names");
            }
            return own;
        };
        let left_out = without.map(|(_, names)| names).unwrap_or_default();
        for name in left_out.iter().filter(|name| base.step(&name.value).is_none()) {
            let message = format!("`{}` has no step `{}`", base.name, name.value);
            self.problems.unknown(
                name.spot,
                message,
                &name.value,
                base.steps.iter().map(|s| s.name.as_str()),
            );
        }
        let is_out = |name: &str| left_out.iter().any(|out| out.value == name);
        let mut steps: Vec<Step> = base.steps.into_iter().filter(|step| !is_out(&step.name)).collect();
        for step in own {
            match steps.iter_mut().find(|known| known.name == step.name) {
                Some(known) => *known = step,
                None => steps.push(step),
            }
        }
        // What waited for a step that is left out waits for it no more.
        for step in &mut steps {
            step.after.retain(|name| !is_out(name));
        }
        steps
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
            Some(found) if own == Some(found) => {
                self.problems.report(earlier.spot, "a step cannot come after itself");
            }
            Some(found) if own.is_some_and(|own| found >= own) => {
                let message = format!("`{}` is not written before this step", earlier.value);
                self.problems.report(earlier.spot, message);
            }
            Some(_) => {}
        }
    }
}
