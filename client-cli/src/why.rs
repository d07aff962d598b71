//! `deadship why`.

use crate::cli::WhyArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::read_log;
use crate::trial::open_failed;
use deadship_run::Envelope;
use deadship_run::replay::ReplayError;
use deadship_run::timeline::line;
use deadship_run::whatif::WhatIfError;
use deadship_run::why::{Why, WhyError, askable, why as explain};
use std::path::Path;

/// `deadship why`.
pub(crate) fn why(io: &mut Io, args: &WhyArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    let Some(seq) = args.seq else {
        let events: Vec<&Envelope> = askable(&log).collect();
        io.tell(match events.is_empty() {
            true => "nothing has happened in this run yet that can be asked about: no trip, no new alert, no refusal, nothing missed",
            false => "ask about one of these by its number:",
        });
        for envelope in events {
            io.line(&line(envelope))?;
        }
        io.flush()?;
        return Ok(WELL);
    };
    let answer = answer(log, seq)?;
    if args.json {
        // Plain data with text keys and finite numbers always serialises.
        io.line(&serde_json::to_string_pretty(&answer).unwrap_or_default())?;
    } else {
        if answer.subject.seq != seq {
            io.tell(&format!(
                "event {seq} tells of what came with event {}; why that came:",
                answer.subject.seq
            ));
        }
        io.line(&answer.to_string())?;
    }
    io.flush()?;
    Ok(if answer.causes.is_empty() { NO } else { WELL })
}

/// Why an event happened.
pub(crate) fn answer(log: Vec<Envelope>, seq: u64) -> Result<Why, Failure> {
    explain(log, seq).map_err(|error| match error {
        WhyError::Runs(error) => failed(error),
        error => Failure::Asked(error.to_string()),
    })
}

/// A run that cannot be computed again.
pub(crate) fn failed(error: WhatIfError) -> Failure {
    match error {
        WhatIfError::Replay(ReplayError::Open(error)) => open_failed(error),
        error => Failure::Plant(error.to_string()),
    }
}
