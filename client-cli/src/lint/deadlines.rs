//! Rules about times: of expectations and of steps.

use super::Subject;
use super::places::Place;
use deadship_plant::kind::{ActDef, Reach};
use deadship_plant::spec::ComponentSpec;
use deadship_run::drill::Expect;
use deadship_run::ids::run_id;
use deadship_run::setup::ticks;
use deadship_run::{Recorder, Role, Who};

pub(super) fn too_short(subject: &Subject) -> Vec<(Place, String)> {
    let mut found = Vec::new();
    for (index, expect) in subject.setup.drill.expects.iter().enumerate() {
        let (Some(within_s), Some(least_s)) = (expect.within_s, least_time(subject, expect)) else {
            continue;
        };
        if within_s < least_s && !comes_by_itself(subject, index, within_s) {
            let message = format!(
                "`{}` is to be met within {within_s:.0} s, and the nearest hand needs {least_s:.0} s",
                expect.name
            );
            found.push((subject.place("expect", &expect.name, "within"), message));
        }
    }
    found
}

/// The shortest time in which a hand can do anything to what the condition names, s; `None`: that cannot be known.
fn least_time(subject: &Subject, expect: &Expect) -> Option<f64> {
    if expect.when.alerts().next().is_some() || expect.when.dones().next().is_some() {
        return None;
    }
    let compiled = &subject.setup.compiled;
    let mut least_s: Option<f64> = None;
    for flat in expect.when.readings() {
        let owner = &compiled.spec.components[compiled.reading_at(flat).0];
        let times = owner.kind.acts.iter().map(|act| time_of(subject, expect, owner, act));
        // What nobody works follows from something else, of which nothing is known here.
        let nearest_s = times.reduce(f64::min)?;
        least_s = Some(least_s.map_or(nearest_s, |least_s| least_s.min(nearest_s)));
    }
    least_s.filter(|least_s| least_s.is_finite())
}

/// Walk and act, s.
fn time_of(subject: &Subject, expect: &Expect, owner: &ComponentSpec, act: &ActDef) -> f64 {
    let Some(place) = owner.place else { return act.seconds };
    // When its time begins in the middle of a run, people may be anywhere.
    if expect.from.is_some() {
        return act.seconds;
    }
    let remote = if act.reach == Reach::Remote { owner.remote.as_slice() } else { &[] };
    let places = remote.iter().copied().chain([place]);
    let starts = || subject.setup.drill.stations.iter().filter_map(|station| station.start);
    let walks =
        places.flat_map(|place| starts().filter_map(move |start| subject.setup.ways.seconds(start, place)));
    walks.fold(f64::INFINITY, f64::min) + act.seconds
}

/// Is it met in time while nobody does anything? Only asked where its time runs from the start.
fn comes_by_itself(subject: &Subject, index: usize, within_s: f64) -> bool {
    if subject.setup.drill.expects[index].from.is_some() {
        return false;
    }
    let opening = subject.setup.opening.clone();
    let id = run_id(&opening.drill, opening.seed);
    let who = Who::person("lint", Role::Instructor);
    // The files were read before.
    let Ok((mut recorder, _)) = Recorder::open(id, opening, &who, "") else { return false };
    while recorder.run().goes() && recorder.run().tick() <= ticks(within_s) {
        recorder.tick("");
    }
    matches!(recorder.run().state.watch.expects[index].outcome, Some((true, _)))
}

pub(super) fn timeout_beyond_limit(subject: &Subject) -> Vec<(Place, String)> {
    let Some(limit_s) = subject.setup.drill.limit_s else { return Vec::new() };
    let mut found = Vec::new();
    for file in &subject.procedure_files {
        let procedure = subject.setup.procedures.iter().find(|procedure| procedure.name == file.stem());
        let steps = procedure.iter().flat_map(|procedure| &procedure.steps);
        for step in steps.filter(|step| step.timeout_s > limit_s) {
            // Steps of the procedure that it extends are told there.
            if let Some(place) = Place::find_timeout(file, &step.name) {
                let message = format!(
                    "the step `{}` waits {:.0} s, the drill ends after {limit_s:.0} s",
                    step.name, step.timeout_s
                );
                found.push((place, message));
            }
        }
    }
    found
}
