//! `deadship-server doctor`: is this machine fit to serve a class, how large a one, and what to do if not?

mod folder;
mod machine;
mod pace;

use deadship_run::library::Library;
use serde::Serialize;
use std::fmt;
use std::net::SocketAddr;
use std::path::Path;
use std::process::ExitCode;

/// What a check came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
enum Verdict {
    /// Nothing to do.
    Ok,
    /// A person should look at it; a class can be served.
    Look,
    /// A class cannot be served like this.
    Bad,
}

/// One check: what was found, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
struct Check {
    name: &'static str,
    verdict: Verdict,
    found: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    to_do: Option<String>,
}

impl Check {
    fn ok(name: &'static str, found: impl Into<String>) -> Check {
        Check { name, verdict: Verdict::Ok, found: found.into(), to_do: None }
    }

    fn look(name: &'static str, found: impl Into<String>, to_do: impl Into<String>) -> Check {
        Check { name, verdict: Verdict::Look, found: found.into(), to_do: Some(to_do.into()) }
    }

    fn bad(name: &'static str, found: impl Into<String>, to_do: impl Into<String>) -> Check {
        Check { name, verdict: Verdict::Bad, found: found.into(), to_do: Some(to_do.into()) }
    }
}

impl fmt::Display for Check {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let verdict = match self.verdict {
            Verdict::Ok => "ok",
            Verdict::Look => "look",
            Verdict::Bad => "BAD",
        };
        write!(f, "{verdict:<5}{:<13}{}", self.name, self.found)?;
        match &self.to_do {
            Some(to_do) => write!(f, "; {to_do}"),
            None => Ok(()),
        }
    }
}

/// Goes through all checks and prints them. Fails if a class cannot be served.
pub(crate) fn examine(listen: SocketAddr, data: &Path, library: &Library, json: bool) -> ExitCode {
    let mut checks = folder::checks(data);
    checks.extend(machine::checks(listen));
    checks.extend(pace::checks(library));
    let bad = checks.iter().filter(|check| check.verdict == Verdict::Bad).count();
    if json {
        let report = serde_json::json!({ "fit": bad == 0, "checks": checks });
        say!("{report:#}");
    } else {
        for check in &checks {
            say!("{check}");
        }
        let looks = checks.iter().filter(|check| check.verdict == Verdict::Look).count();
        say!("\n{}", conclusion(bad, looks));
    }
    if bad == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn conclusion(bad: usize, looks: usize) -> String {
    let things = |count: usize| if count == 1 { "1 thing".to_owned() } else { format!("{count} things") };
    match (bad, looks) {
        (0, 0) => "This machine is fit to serve a class.".to_owned(),
        (0, looks) => format!("This machine can serve a class; look at {}.", things(looks)),
        (bad, _) => format!("This machine is not fit to serve a class yet: {} to put right.", things(bad)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_check_is_one_line_with_what_to_do() {
        let check = Check::bad("port", "it is taken", "choose another");
        assert_eq!(check.to_string(), "BAD  port         it is taken; choose another");
        assert_eq!(Check::ok("port", "it is free").to_string(), "ok   port         it is free");
        assert!(conclusion(1, 3).contains("not fit"));
        assert!(conclusion(0, 2).contains("2 things"));
    }
}
