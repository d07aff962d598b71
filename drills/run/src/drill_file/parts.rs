//! The parts of a drill file.

use super::{Desk, LONGEST_S, StepNames, positions};
use crate::dials::Positions;
use crate::drill::{Aim, Expect, FaultStep, Message, Station, Trigger, Variant};
use crate::objective::Objective;
use deadship_plant::file::toml_reader::Reader;
use deadship_plant::plant::Intermittent;
use deadship_plant::unit::Dimension;

impl<'a> Desk<'a> {
    pub(super) fn read_stations(&self, tables: &[Reader<'a>]) -> Vec<Station> {
        let mut names = StepNames::default();
        let mut stations = Vec::new();
        for table in tables {
            let name = names.read(table);
            if let Some(name) = name.as_ref().filter(|name| name.contains(char::is_whitespace)) {
                self.problems.report(table.spot(), format!("the station `{name}` must be one word"));
            }
            let start = table.get("start").and_then(|field| field.text());
            if start.is_none() && !self.compiled.spec.places.is_empty() {
                self.problems.report(table.spot(), "a station needs `start`, the place where it begins");
            }
            let covers = table.get("covers").and_then(|field| field.texts()).unwrap_or_default();
            let station = Station {
                title: self.need_text(table, "title"),
                start: start.and_then(|place| self.place(&place)),
                covers: covers.iter().filter_map(|place| self.place(place)).collect(),
                seats: table
                    .get("seats")
                    .and_then(|field| field.whole(1, 20))
                    .map_or(1, |seats| seats.value as u32),
                card: self.text(table, "card"),
                name: name.unwrap_or_default(),
            };
            table.finish();
            stations.push(station);
        }
        stations
    }

    pub(super) fn read_variants(&self, tables: &[Reader<'a>]) -> Vec<Variant> {
        let mut names = StepNames::default();
        let of_one = |table: &Reader<'a>| {
            let variant =
                Variant { name: names.read(table).unwrap_or_default(), about: self.text(table, "about") };
            table.finish();
            variant
        };
        tables.iter().map(of_one).collect()
    }

    /// Is this step of the drill in the run? One that names variants or positions of the dials is only in those.
    pub(super) fn is_in_run(&self, table: &Reader<'a>, there: &Positions) -> bool {
        self.is_of_variant(table) && there.hold(self.dials)
    }

    fn is_of_variant(&self, table: &Reader<'a>) -> bool {
        let Some(named) = table.get("variants").and_then(|field| field.texts()) else { return true };
        let known = || self.variants.iter().map(|variant| variant.name.as_str());
        for name in named.iter().filter(|name| !known().any(|known| known == name.value)) {
            let message = format!("there is no variant `{}`", name.value);
            self.unknown("variant", name, message, known());
        }
        let this = self.variant.and_then(|at| self.variants.get(at));
        this.is_some_and(|this| named.iter().any(|name| name.value == this.name))
    }

    pub(super) fn read_faults(&self, tables: &[Reader<'a>], names: &mut StepNames) -> Vec<FaultStep> {
        tables.iter().filter_map(|table| self.read_fault(table, names)).collect()
    }

    fn read_fault(&self, table: &Reader<'a>, names: &mut StepNames) -> Option<FaultStep> {
        let name = names.read(table);
        let fault = table.need("fault").and_then(|field| field.text()).and_then(|name| self.fault(&name));
        let severity =
            table.get("severity").and_then(|field| field.quantity_within(Dimension::Ratio, 0.0, 1.0));
        let ramp_s = self.time(table, "ramp").unwrap_or(0.0);
        let intermittent = self.intermittent(table);
        let there = positions(table);
        let comes = self.trigger(table, "at", "when", &there);
        if comes.is_none() && table.get("at").is_none() && table.get("when").is_none() {
            self.problems.report(table.spot(), "a fault needs `at` or `when`");
        }
        let goes = self.trigger(table, "lift-at", "lift-when", &there);
        let is_in_run = self.is_in_run(table, &there);
        table.finish();
        let (component, fault) = fault.filter(|_| is_in_run)?;
        let usual = self.compiled.spec.components[component].kind.faults[fault].usual;
        let severity = severity.map_or(usual, |severity| severity.value);
        Some(FaultStep { name: name?, component, fault, severity, ramp_s, intermittent, comes: comes?, goes })
    }

    /// `every` and `for`: a fault that comes and goes.
    fn intermittent(&self, table: &Reader<'a>) -> Option<Intermittent> {
        let period_s = self.time(table, "every");
        let present_s = self.time(table, "for");
        if let (None, Some(field)) | (Some(field), None) = (table.get("every"), table.get("for")) {
            field.report("`every` and `for` go together: how often it comes, and for how long");
        }
        let pulse = Intermittent { period_s: period_s?, present_s: present_s? };
        if !pulse.makes_sense()
            && let Some(field) = table.get("for")
        {
            field.report("a fault that comes and goes is there for a part of each period");
        }
        Some(pulse)
    }

    pub(super) fn trigger(
        &self,
        table: &Reader<'a>,
        at: &str,
        when: &str,
        there: &Positions,
    ) -> Option<Trigger> {
        let (at_field, when_field) = (table.get(at), table.get(when));
        if let (Some(_), Some(field)) = (&at_field, &when_field) {
            field.report(&format!("there is `{at}` already: one of the two"));
        }
        match (at_field, when_field) {
            (Some(field), _) => {
                let time = field.quantity_within(Dimension::Time, 0.0, LONGEST_S)?;
                Some(Trigger::At(time.value))
            }
            (None, Some(field)) => self.condition_of(&field, there).map(Trigger::When),
            (None, None) => None,
        }
    }

    pub(super) fn read_messages(
        &self,
        tables: &[Reader<'a>],
        stations: &[String],
        names: &mut StepNames,
    ) -> Vec<Message> {
        let mut messages = Vec::new();
        for table in tables {
            let name = names.read(table);
            let to = table.get("to").and_then(|field| field.text());
            if let Some(to) = to.as_ref().filter(|to| !stations.contains(&to.value)) {
                let message = format!("there is no station `{}`", to.value);
                self.unknown("station", to, message, stations.iter().map(String::as_str));
            }
            let text = self.need_text(table, "text");
            let order = table.get("order").and_then(|field| field.flag()).is_some_and(|order| order.value);
            if let (false, Some(field)) = (order, table.get("within")) {
                field.report("only an order is reported in a time: it needs `order = true`");
            }
            let within_s = self.time(table, "within");
            let there = positions(table);
            let comes = self.trigger(table, "at", "when", &there);
            if comes.is_none() && table.get("at").is_none() && table.get("when").is_none() {
                self.problems.report(table.spot(), "a message needs `at` or `when`");
            }
            let is_in_run = self.is_in_run(table, &there);
            table.finish();
            if let (Some(name), Some(comes), true) = (name, comes, is_in_run) {
                let to = to.map(|to| to.value);
                messages.push(Message { name, to, text, comes, order, within_s });
            }
        }
        messages
    }

    pub(super) fn read_aim(&self, table: &Reader<'a>) -> Option<Aim> {
        let condition = table.need("when").and_then(|field| self.condition(&field));
        let text = self.need_text(table, "text");
        let hold_s = self.time(table, "hold").unwrap_or(0.0);
        let ends = table.get("ends").and_then(|field| field.flag()).is_some_and(|ends| ends.value);
        table.finish();
        Some(Aim { text, condition: condition?, hold_s, ends })
    }

    pub(super) fn read_expects(&self, tables: &[Reader<'a>], objectives: &[Objective]) -> Vec<Expect> {
        let mut names = StepNames::default();
        let mut expects = Vec::new();
        for table in tables {
            let name = names.read(table);
            let there = positions(table);
            let when = table.need("when").and_then(|field| self.condition_of(&field, &there));
            let from = table.get("from").map(|field| self.condition_of(&field, &there));
            let within_s = self.time(table, "within");
            let text = self.text(table, "text");
            let objective = table.get("objective").and_then(|field| field.text());
            let objective = objective.and_then(|named| self.objective(named, objectives));
            table.finish();
            if let (Some(name), Some(when), true) = (name, when, there.hold(self.dials)) {
                let text = if text.is_empty() { name.clone() } else { text };
                expects.push(Expect { name, text, when, from: from.flatten(), within_s, objective });
            }
        }
        expects
    }
}
