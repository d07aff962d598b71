//! Acts on components.

use super::{Refusal, at_station, check_free};
use crate::command::show_taken;
use crate::event::{Event, Reason};
use crate::run::{Person, Run};
use crate::setup::ticks;
use crate::who::{Role, Who};
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::kind::{Act, ActDef, ParamType, Reach, Verb};
use deadship_plant::spec::ComponentSpec;
use deadship_plant::unit::format_limit;

/// What is wanted of a component.
pub(super) struct Wanted<'a> {
    pub(super) component: &'a str,
    pub(super) verb: Verb,
    pub(super) setting: &'a str,
    pub(super) value: f64,
}

/// An act takes effect when it is given; the hand is busy afterwards for as long as the act takes.
pub(super) fn act(run: &Run, who: &Who, wanted: &Wanted<'_>) -> Result<Vec<Event>, Refusal> {
    let person = at_station(run, who)?;
    let component = find_component(run, wanted.component)?;
    let owner = &run.setup.compiled.spec.components[component];
    let (index, def) = find_act(owner, wanted.verb, wanted.setting)?;
    check_value(def, wanted.value)?;
    let instructor = who.role() == Role::Instructor;
    if let (Some(person), false) = (person, instructor) {
        check_free(run, person)?;
    }
    let ways = if instructor { all_ways(def) } else { ways(run, component, def, person)? };
    let remote = find_way(run, component, index, wanted.value, &ways)?;
    let hand_ticks = if instructor { 0 } else { ticks(def.seconds) };
    let shown = match def.takes {
        Some(_) => show_taken(def.takes.as_ref(), wanted.value),
        None => String::new(),
    };
    Ok(vec![Event::ActDone {
        component: wanted.component.to_owned(),
        verb: wanted.verb.word().to_owned(),
        setting: wanted.setting.to_owned(),
        value: if def.takes.is_some() { wanted.value } else { 0.0 },
        shown,
        remote,
        busy_until_tick: run.tick() + hand_ticks,
    }])
}

/// Index of a component by name.
fn find_component(run: &Run, name: &str) -> Result<usize, Refusal> {
    run.setup.compiled.component(name).ok_or_else(|| {
        let known = run.setup.compiled.spec.components.iter().map(|c| c.name.as_str());
        let near = nearest(name, known).map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        Refusal::new("unknown-component", format!("there is no {name}{near}"))
    })
}

/// The act that is wanted of a component.
pub(crate) fn find_act(
    owner: &ComponentSpec,
    verb: Verb,
    setting: &str,
) -> Result<(usize, &'static ActDef), Refusal> {
    let acts = owner.kind.acts;
    let fits = |act: &ActDef| act.verb == verb && act.setting == setting;
    if let Some(index) = acts.iter().position(fits) {
        return Ok((index, &acts[index]));
    }
    let words: Vec<String> =
        acts.iter().map(|act| format!("{} {}", act.verb.word(), act.setting).trim().to_owned()).collect();
    let can = if words.is_empty() { "nothing".to_owned() } else { words.join(", ") };
    let asked = format!("{} {setting}", verb.word());
    let text = format!("{} cannot be worked by '{}'; it takes: {can}", owner.name, asked.trim());
    Err(Refusal::new("unknown-act", text))
}

/// Does the act take the value?
pub(crate) fn check_value(def: &ActDef, value: f64) -> Result<(), Refusal> {
    let bad = |range: String| Err(Refusal::new("value-out-of-range", format!("it takes {range}")));
    match &def.takes {
        _ if !value.is_finite() => bad("a number".to_owned()),
        Some(ParamType::Quantity { dimension, min, max }) if !(*min..=*max).contains(&value) => {
            bad(format!("{} to {}", format_limit(*min, *dimension), format_limit(*max, *dimension)))
        }
        Some(ParamType::Choice(words)) if !is_index(value, words.len()) => bad(words.join(", ")),
        Some(ParamType::Flag) if !is_index(value, 2) => bad("on or off".to_owned()),
        Some(ParamType::Whole { min, max })
            if value.fract() != 0.0 || value < *min as f64 || value > *max as f64 =>
        {
            bad(format!("a whole number from {min} to {max}"))
        }
        _ => Ok(()),
    }
}

fn is_index(value: f64, count: usize) -> bool {
    value.fract() == 0.0 && value >= 0.0 && (value as usize) < count
}

/// By hand (`false`) and from afar (`true`), in the order in which they are tried.
fn all_ways(def: &ActDef) -> Vec<bool> {
    match def.reach {
        Reach::Local => vec![false],
        Reach::Remote => vec![false, true],
    }
}

/// The ways that someone has from where they stand.
fn ways(run: &Run, component: usize, def: &ActDef, person: Option<&Person>) -> Result<Vec<bool>, Refusal> {
    let owner = &run.setup.compiled.spec.components[component];
    let Some(place) = owner.place else { return Ok(all_ways(def)) };
    let at = person.and_then(|person| person.stands_at(run.tick()));
    let mut ways = Vec::new();
    if at == Some(place) {
        ways.push(false);
    }
    if def.reach == Reach::Remote && at.is_some_and(|at| owner.remote.contains(&at)) {
        ways.push(true);
    }
    if !ways.is_empty() {
        return Ok(ways);
    }
    let mut from = vec![run.setup.place_name(place)];
    if def.reach == Reach::Remote {
        from.extend(owner.remote.iter().map(|&place| run.setup.place_name(place)));
    }
    let here = at.map_or("nowhere", |at| run.setup.place_name(at));
    let text = format!("{} is worked at {}; you are at {here}", owner.name, from.join(" or "));
    Err(Refusal::new("not-here", text))
}

/// The first way that nothing stands in the way of; else what stands in the way of all.
fn find_way(run: &Run, component: usize, index: usize, value: f64, ways: &[bool]) -> Result<bool, Refusal> {
    let mut reasons: Vec<Reason> = Vec::new();
    for &remote in ways {
        let blocks = run.plant.permit(component, Act { index, value, remote });
        if blocks.is_empty() {
            return Ok(remote);
        }
        for block in blocks {
            let reason = Reason::new(block.code, block.text);
            if !reasons.contains(&reason) {
                reasons.push(reason);
            }
        }
    }
    Err(Refusal { reasons })
}
