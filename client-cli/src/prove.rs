//! `deadship prove`: is a drill what it says, whatever the seed?

use crate::cli::ProveArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::library::{Library, Sort};
use crate::trial::open_failed;
use deadship_plant::TICK_S;
use deadship_run::proof::{Bench, Hands, Made, Spread, Trial, Verdict};
use deadship_run::timeline::clock;
use deadship_run::why::side_by_side;

/// Trials from one word of progress to the next.
const TOLD_EVERY: usize = 5;

/// `deadship prove`.
pub(crate) fn prove(io: &mut Io, library: &mut Library, args: &ProveArgs) -> Result<u8, Failure> {
    let names: Vec<String> = match args.drills.is_empty() {
        true => library.all(Sort::Drill).map(|entry| entry.name.clone()).collect(),
        false => args.drills.clone(),
    };
    let mut all_well = true;
    if args.markdown {
        io.line("| drill | ship | what it is | difficulty | expert: aim reached | nobody | an error, and what is not met because of it |")?;
        io.line("| --- | --- | --- | --- | --- | --- | --- |")?;
    }
    for name in &names {
        let (title, verdict) = prove_one(io, library, name, args)?;
        all_well &= verdict.problems.is_empty();
        if args.markdown {
            io.line(&table_row(&title, &verdict))?;
            verdict.problems.iter().for_each(|problem| io.tell(&format!("{}: {problem}", verdict.drill)));
        } else if args.json {
            // Plain data with text keys and finite numbers always serialises.
            io.line(&serde_json::to_string(&verdict).unwrap_or_default())?;
        } else {
            tell(io, &verdict)?;
        }
        io.flush()?;
    }
    Ok(if all_well { WELL } else { NO })
}

/// Its title, and what is proved of it.
fn prove_one(
    io: &mut Io,
    library: &mut Library,
    name: &str,
    args: &ProveArgs,
) -> Result<((String, String), Verdict), Failure> {
    let drill = library.drill(name)?;
    let procedures = library.procedures_for(drill.stem());
    let mut opening = library.opening(drill, procedures, None)?;
    opening.dials = args.dials.dials();
    let bench = Bench::new(opening).map_err(open_failed)?;
    let trials = bench.trials(args.seeds);
    io.tell(&format!("{name}: {} trials", trials.len()));
    let (tell, told) = std::sync::mpsc::channel();
    let made = std::thread::scope(|scope| {
        let working = scope.spawn(|| {
            let tell = tell;
            side_by_side(&trials, |trial: &Trial| {
                let made = bench.make(trial);
                // Nobody listens any more only when this is over.
                let _ = tell.send(());
                made
            })
        });
        for (count, ()) in (1..).zip(told) {
            if count % TOLD_EVERY == 0 && count < trials.len() {
                io.tell(&format!("{name}: {count} of {} trials done", trials.len()));
            }
        }
        working.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    });
    let made = made.into_iter().collect::<Result<Vec<Made>, _>>().map_err(open_failed)?;
    Ok(((bench.title.clone(), bench.ship.clone()), Verdict::of(&bench, &made)))
}

fn tell(io: &mut Io, verdict: &Verdict) -> Result<(), Failure> {
    let well = if verdict.problems.is_empty() { "proved" } else { "NOT PROVED" };
    let difficulty = verdict.difficulty.map_or_else(String::new, |level| format!(", difficulty {level}"));
    let minutes = verdict.ticks as f64 * TICK_S / 60.0;
    let dials = match verdict.has_dials || !verdict.dials.are_usual() {
        true => format!(" with {}", verdict.dials.words()),
        false => String::new(),
    };
    io.line(&format!("{}: {well}{dials}{difficulty}; {minutes:.0} min simulated", verdict.drill))?;
    verdict.spreads.iter().try_for_each(|spread| io.line(&format!("  {}", row(spread))))?;
    verdict.problems.iter().try_for_each(|problem| io.line(&format!("  ! {problem}")))
}

/// A row of the table.
fn table_row((title, ship): &(String, String), verdict: &Verdict) -> String {
    let time = |ticks: u64| clock(ticks).trim().to_owned();
    let expert = verdict.of_expert().and_then(|spread| {
        let [first, median, last] = spread.aim_ticks?;
        let (passed, trials) = (spread.passed, spread.trials);
        Some(format!("{} ({} to {}), {passed} of {trials} pass", time(median), time(first), time(last)))
    });
    let idle = verdict.spreads.iter().find(|spread| spread.hands == Hands::Idle);
    let idle = idle.is_some_and(|spread| spread.passed == 0);
    let errors = verdict.spreads.iter().filter_map(|spread| match &spread.hands {
        Hands::Error { text, misses, .. } => {
            let (failed, trials) = (spread.trials - spread.passed, spread.trials);
            let text = text.trim_end_matches('.');
            Some(format!("{text}: {} ({failed} of {trials} fail)", misses.join(", ")))
        }
        Hands::Idle | Hands::Expert => None,
    });
    let errors: Vec<String> = errors.collect();
    format!(
        "| `{}` | {ship} | {title} | {} | {} | {} | {} |",
        verdict.drill,
        verdict.difficulty.map_or_else(|| "?".to_owned(), |level| level.to_string()),
        expert.unwrap_or_else(|| "never".to_owned()),
        if idle { "fails" } else { "PASSES" },
        errors.join("; ")
    )
}

fn row(spread: &Spread) -> String {
    let time = |ticks: u64| clock(ticks).trim().to_owned();
    let aim = spread.aim_ticks.map_or_else(
        || "the aim is not reached".to_owned(),
        |[first, median, last]| format!("aim at {} ({} to {})", time(median), time(first), time(last)),
    );
    let missed: Vec<String> = spread.not_met.iter().map(|(name, times)| format!("{name} {times}×")).collect();
    let missed = if missed.is_empty() { String::new() } else { format!("; not met: {}", missed.join(", ")) };
    format!(
        "{:<24} {} of {} pass; {aim}; most alerts in ten minutes {}, trips {}{missed}",
        spread.hands.words(),
        spread.passed,
        spread.trials,
        spread.most_alerts,
        spread.trips
    )
}
