//! The parts of a procedure file.

use super::layers::combine;
use super::{Desk, StepNames, name_of, positions};
use crate::dials::Positions;
use crate::drill::Drill;
use crate::opening::{Opening, TextFile};
use crate::procedure::{Error, Procedure, Step};
use deadship_plant::file::toml_reader::{At, Reader, Spot};

/// How long a robot waits for a condition unless the step says otherwise, s: common practice, no source.
const TIMEOUT_S: f64 = 600.0;
/// How often a robot tries again unless the procedure says otherwise.
const RETRIES: i64 = 12;

/// Keys of `[procedure]` that say what this file is, and are not taken over.
const OF_ITS_OWN: &[&str] = &["title", "drill", "team-sees", "extends", "without", "error", "misses"];

/// A procedure as written.
struct Written<'r, 'a> {
    name: &'r str,
    root: &'r Reader<'a>,
}

impl<'a> Desk<'a> {
    /// All procedures of the drill, in the order of their files. `of_base`: those of the drill that it extends.
    pub(super) fn read_procedures(
        &self,
        opening: &Opening,
        own: &[Option<Reader<'a>>],
        of_base: &[Option<Reader<'a>>],
        drill: Option<&Drill>,
    ) -> Vec<Procedure> {
        fn written<'r, 'a>(files: &'r [TextFile], roots: &'r [Option<Reader<'a>>]) -> Vec<Written<'r, 'a>> {
            let both = files.iter().zip(roots);
            both.filter_map(|(file, root)| Some(Written { name: file.stem(), root: root.as_ref()? }))
                .collect()
        }
        let extends = |one: &Written<'_, 'a>| {
            one.root.table("procedure", "a procedure").is_some_and(|head| head.get("extends").is_some())
        };
        let own = written(&opening.procedures, own);
        let of_base = written(opening.base.as_ref().map_or(&[], |base| &base.procedures), of_base);
        // An own one goes before a namesake of the other drill.
        let others: Vec<&Written<'_, 'a>> = own.iter().chain(&of_base).filter(|one| !extends(one)).collect();
        let read = |one: &Written<'_, 'a>| {
            let procedure = self.read_procedure(one, drill, &others);
            one.root.finish();
            procedure
        };
        own.iter().filter_map(read).collect()
    }

    fn read_procedure(
        &self,
        written: &Written<'_, 'a>,
        drill: Option<&Drill>,
        others: &[&Written<'_, 'a>],
    ) -> Option<Procedure> {
        let root = written.root;
        let own = root.tables("step", "a step");
        let Some(head) = root.table("procedure", "a procedure") else {
            self.problems.report(root.spot(), "the file has no `[procedure]`");
            return None;
        };
        let base = self.base(written.name, &head, others);
        let base_head = base.and_then(|base| base.root.table("procedure", "a procedure"));
        let head = match base_head {
            Some(base) => head.over(base, OF_ITS_OWN),
            None => head,
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
        let without = head.get("without").map(|field| (field.key_spot(), field.texts().unwrap_or_default()));
        // With one that cannot be found, nothing can be said about its steps.
        let without = without.filter(|_| base.is_some() || head.get("extends").is_none());
        head.finish();
        Some(Procedure {
            name: written.name.to_owned(),
            title,
            team_sees: team_sees.is_none_or(|flag| flag.value),
            drill: for_drill.map_or_else(String::new, |named| named.value),
            retries: retries.map_or(RETRIES, |retries| retries.value) as u32,
            steps: self.read_steps(base, own, without, drill),
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
        // What is expected with other positions of the dials can be missed in another run.
        let known =
            || self.dones.iter().zip(&self.expected).filter(|(_, expected)| expected.left_out.is_none());
        for name in misses.iter().filter(|name| !known().any(|(known, _)| *known == name.value)) {
            let message = format!("nothing expected has the name `{}`", name.value);
            self.problems.unknown(name.spot, message, &name.value, known().map(|(name, _)| name.as_str()));
        }
        let all = misses.len();
        let is_now = |name: &At<String>| {
            let found = known().find(|(known, _)| **known == name.value);
            found.is_none_or(|(_, expected)| expected.there.hold(self.dials))
        };
        let misses: Vec<String> = misses.into_iter().filter(is_now).map(|name| name.value).collect();
        // An error of which nothing shows with these positions is none in this run.
        let shows = all == 0 || !misses.is_empty();
        text.filter(|_| shows).map(|text| Error { text: text.value, misses })
    }

    /// The procedure that this one extends: one of the same drill, or of the drill that this extends, that extends none.
    fn base<'o, 'r>(
        &self,
        own: &str,
        head: &Reader<'a>,
        others: &'o [&'o Written<'r, 'a>],
    ) -> Option<&'o Written<'r, 'a>> {
        let named = head.get("extends")?.text()?;
        let found = others.iter().find(|other| other.name == named.value).copied();
        if found.is_none() && named.value == own {
            self.problems.report(named.spot, "a procedure cannot extend itself");
        } else if found.is_none() && self.procedures.contains(&named.value) {
            let message = format!("`{}` extends another itself, or could not be read", named.value);
            self.problems.report_with_help(named.spot, message, "name one that extends none");
        } else if found.is_none() {
            let or = if self.is_extended.contains(&true) { ", or of the one that it extends," } else { "" };
            let message =
                format!("there is no procedure `{}` of this drill{or} that extends none itself", named.value);
            self.problems.unknown(named.spot, message, &named.value, others.iter().map(|other| other.name));
        }
        found
    }

    /// The steps of the other procedure, without some, and with own ones: in the place of a namesake, or after all.
    fn read_steps(
        &self,
        base: Option<&Written<'_, 'a>>,
        own: Vec<Reader<'a>>,
        without: Option<(Spot, Vec<At<String>>)>,
        drill: Option<&Drill>,
    ) -> Vec<Step> {
        let of_base = base.map_or_else(Vec::new, |base| base.root.tables("step", "a step"));
        let base_names: Vec<String> = of_base.iter().filter_map(name_of).collect();
        if let (None, Some((spot, _))) = (base, &without) {
            self.problems.report(*spot, "`without` leaves out steps of the procedure that `extends` names");
        }
        let left_out = without.filter(|_| base.is_some()).map(|(_, names)| names).unwrap_or_default();
        for name in left_out.iter().filter(|name| !base_names.contains(&name.value)) {
            let of = base.map_or("", |base| base.name);
            let message = format!("`{of}` has no step `{}`", name.value);
            self.problems.unknown(name.spot, message, &name.value, base_names.iter().map(String::as_str));
        }
        let is_out = |name: &str| left_out.iter().any(|out| out.value == name);
        let known: Vec<String> = base_names.into_iter().chain(own.iter().filter_map(name_of)).collect();
        let mut names = StepNames::default();
        let tables = combine(of_base, own, is_out);
        let read = tables.iter().filter_map(|table| {
            let there = positions(table);
            let is_now = self.is_in_run(table, &there);
            Some((self.read_step(table, drill, &mut names, &known, &there)?, is_now))
        });
        let (mut steps, otherwise): (Vec<_>, Vec<_>) = read.partition(|(_, is_now)| *is_now);
        // What waited for a step that is left out, or is there in another variant or with other positions of the dials, waits
        // for it no more.
        for (step, _) in &mut steps {
            step.after.retain(|name| !is_out(name) && !otherwise.iter().any(|(step, _)| step.name == *name));
        }
        steps.into_iter().map(|(step, _)| step).collect()
    }

    fn read_step(
        &self,
        table: &Reader<'a>,
        drill: Option<&Drill>,
        names: &mut StepNames,
        known: &[String],
        there: &Positions,
    ) -> Option<Step> {
        let name = names.read(table);
        let station = table.need("station").and_then(|field| field.text());
        if let (Some(station), Some(drill)) = (&station, drill)
            && drill.station(&station.value).is_none()
        {
            let message = format!("the drill has no station `{}`", station.value);
            let stations = drill.stations.iter().map(|station| station.name.as_str());
            self.unknown("station", station, message, stations);
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
            when: table.get("when").and_then(|field| self.condition_of(&field, there)),
            acts,
            say: table.get("say").and_then(|field| field.text()).map(|say| say.value),
            until: table.get("until").and_then(|field| self.condition_of(&field, there)),
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
