//! Rules about what is written and can never be seen: it comes too late, is nothing, or says nothing.

use super::Subject;
use super::expectations::is_seen;
use super::places::Place;
use deadship_run::drill::Trigger;

/// Something that comes by the clock when the drill is over.
pub(super) fn after_the_end(subject: &Subject) -> Vec<(Place, String)> {
    let drill = &subject.setup.drill;
    let Some(limit_s) = drill.limit_s else { return Vec::new() };
    let faults = drill.faults.iter().map(|step| ("fault", &step.name, &step.comes));
    let messages = drill.messages.iter().map(|message| ("message", &message.name, &message.comes));
    let asks = drill.askings.iter().map(|asking| {
        let table = if asking.decides() { "decision" } else { "probe" };
        (table, &asking.name, &asking.comes)
    });
    let late = faults
        .chain(messages)
        .chain(asks)
        .filter(|(_, _, comes)| matches!(comes, Trigger::At(at_s) if *at_s >= limit_s));
    let mut found: Vec<(Place, String)> = late
        .map(|(table, name, _)| {
            (subject.place(table, name, "at"), format!("the drill is over before the {table} `{name}` comes"))
        })
        .collect();
    if drill.aim.as_ref().is_some_and(|aim| aim.hold_s >= limit_s) {
        let place = subject.place("aim", "", "hold");
        found.push((place, "the drill is over before the aim has held so long".to_owned()));
    }
    found
}

/// A fault that is lifted before it comes, or is set to nothing.
pub(super) fn fault_never_there(subject: &Subject) -> Vec<(Place, String)> {
    let mut found = Vec::new();
    for step in &subject.setup.drill.faults {
        if let (Trigger::At(comes_s), Some(Trigger::At(goes_s))) = (&step.comes, &step.goes)
            && goes_s <= comes_s
        {
            let place = subject.place("fault", &step.name, "lift-at");
            found.push((place, format!("the fault `{}` is lifted before it comes", step.name)));
        }
        if step.severity == 0.0 {
            let place = subject.place("fault", &step.name, "severity");
            found.push((place, format!("the fault `{}` is set to 0 %: nothing is wrong then", step.name)));
        }
    }
    found
}

/// A text that people are to read, and that is empty.
pub(super) fn empty_text(subject: &Subject) -> Vec<(Place, String)> {
    let drill = &subject.setup.drill;
    let about = drill.about.questions.iter().map(|text| ("questions", text));
    let about = about.chain(drill.about.sources.iter().map(|text| ("sources", text)));
    let head = [("title", &drill.title), ("brief", &drill.brief)].into_iter().chain(about);
    let head = head.map(|(key, text)| ("drill", "", key, text));
    let expects = drill.expects.iter().map(|expect| ("expect", expect.name.as_str(), "text", &expect.text));
    let messages = drill.messages.iter().map(|one| ("message", one.name.as_str(), "text", &one.text));
    let stations = drill.stations.iter().map(|one| ("station", one.name.as_str(), "title", &one.title));
    let empty = head.chain(expects).chain(messages).chain(stations);
    let empty = empty.filter(|(_, _, _, text)| text.trim().is_empty());
    empty
        .map(|(table, name, key, _)| (subject.place(table, name, key), format!("`{key}` says nothing")))
        .collect()
}

/// A step that waits for what no gauge or panel shows.
pub(super) fn step_out_of_sight(subject: &Subject) -> Vec<(Place, String)> {
    let compiled = &subject.setup.compiled;
    let mut found = Vec::new();
    for step in subject.setup.procedures.iter().flat_map(|procedure| &procedure.steps) {
        let conditions = [("when", &step.when), ("until", &step.until)];
        for (key, condition) in conditions.iter().filter_map(|(key, one)| Some((*key, one.as_ref()?))) {
            for flat in condition.readings().filter(|flat| !is_seen(subject, *flat)) {
                // The step may come from a procedure that another extends: it is told where it is written.
                let written = subject.procedure_files.iter();
                let Some(place) =
                    written.filter_map(|file| Place::find(file, "step", &step.name, key)).next()
                else {
                    continue;
                };
                let name = compiled.reading_name(compiled.reading_at(flat));
                found.push((
                    place,
                    format!("nobody can see `{name}`, for which the step `{}` waits", step.name),
                ));
            }
        }
    }
    found.sort_by(|(a, _), (b, _)| (&a.file, a.line, a.column).cmp(&(&b.file, b.line, b.column)));
    found.dedup();
    found
}
