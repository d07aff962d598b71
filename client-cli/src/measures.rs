//! `deadship measures`: what a run took, alone or beside expert and idle crew.

use crate::cli::MeasuresArgs;
use crate::failure::{Failure, WELL};
use crate::io::{Io, WIDTH, wrap_to};
use crate::log::read_log;
use deadship_run::Envelope;
use deadship_run::drill::SAFETY;
use deadship_run::measures::{MeasureInput, Measures};
use deadship_run::reference::{Hands, Line, Reference, both, reference, table};
use deadship_run::whatif::Side;
use serde_json::{Value, json};
use std::path::Path;

/// Columns of what is measured, and of each run.
const WHAT: usize = 40;
const CELL: usize = 18;

/// `deadship measures`.
pub(crate) fn measures(io: &mut Io, args: &MeasuresArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    if args.reference {
        return beside_references(io, &log, args.json);
    }
    let input = if args.no_replay { MeasureInput::of_log(&log) } else { MeasureInput::replayed(&log) };
    let measures = Measures::of(&input);
    let text = if args.json { measures.to_json() } else { measures.to_text() };
    io.line(text.trim_end())?;
    io.flush()?;
    Ok(WELL)
}

/// The run, the expert and the idle crew side by side.
fn beside_references(io: &mut Io, log: &[Envelope], as_json: bool) -> Result<u8, Failure> {
    let run = Side::of(log);
    let mut found: Vec<Reference> = Vec::new();
    let mut missing: Vec<(Hands, String)> = Vec::new();
    for (hands, outcome) in both(|hands| (hands, reference(log, hands, &mut |_| {}))) {
        match outcome {
            Ok(reference) => found.push(reference),
            Err(error) => missing.push((hands, error.to_string())),
        }
    }
    let sides: Vec<&Side> = std::iter::once(&run).chain(found.iter().map(|one| &one.side)).collect();
    let lines = table(&sides);
    if as_json {
        let of = |hands| found.iter().find(|one| one.hands == hands).map(|one| &one.side.measures);
        let missing: Vec<Value> =
            missing.iter().map(|(hands, why)| json!({ "reference": hands, "why": why })).collect();
        let all = json!({
            "run": run.measures, "expert": of(Hands::Expert), "idle": of(Hands::Idle), "missing": missing, "lines": lines,
        });
        io.line(&format!("{all:#}"))?;
    } else {
        io.line(&format!("{}, on {}", run.measures.drill, run.measures.ship))?;
        let names = found.iter().map(|one| one.hands.words());
        let names: Vec<String> = std::iter::once("this run").chain(names).map(str::to_owned).collect();
        tell(io, &names, &lines)?;
        let not_measured = run.measures.not_computed.iter().map(|why| format!("Not measured: {why}"));
        let no = missing.iter().map(|(hands, why)| format!("No {}: {why}", hands.words()));
        for (at, line) in not_measured.chain(no).enumerate() {
            if at == 0 {
                io.line("")?;
            }
            io.line(&wrap_to(&line, WIDTH).join("\n    "))?;
        }
        io.line(&format!("\n{}", wrap_to(SAFETY, WIDTH).join("\n")))?;
    }
    io.flush()?;
    Ok(WELL)
}

fn tell(io: &mut Io, names: &[String], lines: &[Line]) -> Result<(), Failure> {
    let mut group = "";
    for line in lines {
        if line.group != group {
            group = &line.group;
            io.line("")?;
            row(io, group, names)?;
        }
        row(io, &format!("  {}", line.what), &line.cells)?;
    }
    Ok(())
}

/// What is longer than its column goes on below.
fn row(io: &mut Io, what: &str, cells: &[String]) -> Result<(), Failure> {
    let margin = what.len() - what.trim_start().len();
    let mut columns: Vec<(usize, Vec<String>)> = vec![(WHAT, wrap_to(what, WHAT - margin))];
    columns[0].1.iter_mut().for_each(|line| line.insert_str(0, &" ".repeat(margin)));
    columns.extend(cells.iter().map(|cell| (CELL, wrap_to(cell, CELL))));
    // A name that fills more than its column has a line of its own.
    while columns[0].1.len() > 1 && columns[0].1[0].chars().count() > WHAT {
        io.line(&columns[0].1.remove(0))?;
    }
    let height = columns.iter().map(|(_, lines)| lines.len()).max().unwrap_or(0);
    for at in 0..height {
        let part = |(width, lines): &(usize, Vec<String>)| {
            format!("{:<width$}", lines.get(at).map_or("", String::as_str))
        };
        io.line(columns.iter().map(part).collect::<Vec<_>>().join("  ").trim_end())?;
    }
    Ok(())
}
