//! Whatever hands and faults do to a ship: no number that is none, no negative mass, mass and energy kept by the
//! numerics within 0.1 %, and the same state to the bit when it is done again.
//!
//! Random acts and faults on each ship from each of its start states. `PROPTEST_CASES` asks for more of them; a
//! failure prints the case to repeat.

mod ledger;
#[path = "../common/ship_files.rs"]
mod ship_files;

use deadship_plant::Plant;
use deadship_plant::kind::{Act, ParamType};
use ledger::Ledger;
use proptest::prelude::*;

/// Folders under `drills/data/ships`.
const SHIPS: &[&str] = &["quillmere", "tamberwick"];

/// One thing that happens: after so many seconds, to some component.
#[derive(Clone, Debug)]
struct Deed {
    wait_s: u16,
    what: What,
    target: u32,
    which: u32,
    value: f64,
}

#[derive(Clone, Copy, Debug)]
enum What {
    Hand,
    Panel,
    Fault,
    Lift,
}

fn deeds() -> impl Strategy<Value = (u32, Vec<Deed>)> {
    let what = prop_oneof![5 => Just(What::Hand), 3 => Just(What::Panel), 2 => Just(What::Fault), 1 => Just(What::Lift)];
    let deed = (0u16..30, what, any::<u32>(), any::<u32>(), 0.0f64..=1.0)
        .prop_map(|(wait_s, what, target, which, value)| Deed { wait_s, what, target, which, value });
    (any::<u32>(), prop::collection::vec(deed, 240))
}

/// Does a deed if the plant permits it; returns whether anything changed.
fn perform(plant: &mut Plant, deed: &Deed) -> bool {
    let compiled = plant.compiled.clone();
    let at = deed.target as usize % compiled.spec.components.len();
    let kind = compiled.spec.components[at].kind;
    match deed.what {
        What::Hand | What::Panel if !kind.acts.is_empty() => {
            let index = deed.which as usize % kind.acts.len();
            let value = match &kind.acts[index].takes {
                Some(ParamType::Choice(words)) => {
                    ((deed.value * words.len() as f64) as usize).min(words.len() - 1) as f64
                }
                Some(ParamType::Quantity { min, max, .. }) => min + deed.value * (max - min),
                Some(ParamType::Whole { min, max }) => {
                    (*min as f64 + deed.value * (max - min) as f64).floor()
                }
                Some(ParamType::Flag) => deed.value.round(),
                None => 0.0,
            };
            let act = Act { index, value, remote: matches!(deed.what, What::Panel) };
            let permitted = plant.permit(at, act).is_empty();
            if permitted {
                plant.act(at, act);
            }
            permitted
        }
        What::Fault if !kind.faults.is_empty() => {
            let onset_s = if deed.which.is_multiple_of(2) { 0.0 } else { 60.0 };
            plant.set_fault(at, deed.which as usize / 2 % kind.faults.len(), deed.value, onset_s);
            true
        }
        What::Lift => {
            for (i, component) in compiled.spec.components.iter().enumerate() {
                for fault in 0..component.kind.faults.len() {
                    plant.set_fault(i, fault, 0.0, 0.0);
                }
            }
            true
        }
        _ => false,
    }
}

fn live(start: &Plant, deeds: &[Deed], mut each: impl FnMut(&Plant)) -> (String, usize) {
    let mut plant = start.clone();
    let mut done = 0;
    for deed in deeds {
        for _ in 0..u32::from(deed.wait_s) * 20 + 1 {
            if let Err(failure) = plant.step() {
                panic!("{failure}");
            }
            each(&plant);
        }
        done += usize::from(perform(&mut plant, deed));
    }
    (plant.digest(), done)
}

fn check(name: &str, which_state: u32, deeds: &[Deed]) {
    let spec = ship_files::read(&ship_files::files(name));
    let state = spec.states[which_state as usize % spec.states.len()].name.clone();
    let start = Plant::new(spec, Some(&state)).expect("a start state");
    let mut ledger = Ledger::open(&start);
    let (digest, done) = live(&start, deeds, |plant| ledger.tick(plant));
    ledger.close(name, &state);
    assert!(done > deeds.len() / 10, "{name}: only {done} deeds of {} were possible", deeds.len());
    let (again, _) = live(&start, deeds, |_| {});
    assert_eq!(digest, again, "{name}, {state}: done again, another state");
}

proptest! {
    // Two cases of about an hour of ship's time for each ship, each lived twice.
    #![proptest_config(ProptestConfig { max_shrink_iters: 0, failure_persistence: None, ..ProptestConfig::with_cases(2) })]

    #[test]
    fn nothing_is_made_or_lost_on_any_ship((state, deeds) in deeds()) {
        for name in SHIPS {
            check(name, state, &deeds);
        }
    }
}
