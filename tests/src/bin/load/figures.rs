//! Figures: quantiles of latencies, use of the machine, lag of runs.

use std::fmt;
use std::time::Duration;

/// Ticks of a run in real time.
const TICKS_PER_SECOND: f64 = 20.0;

/// Quantiles of latencies, ms.
pub(crate) struct Quantiles {
    /// Of how many.
    pub(crate) count: usize,
    p50: f64,
    p99: f64,
    max: f64,
}

impl Quantiles {
    /// Of latencies in microseconds.
    pub(crate) fn of(mut latencies_us: Vec<u64>) -> Quantiles {
        latencies_us.sort_unstable();
        let at = |share: f64| {
            let last = latencies_us.len().saturating_sub(1);
            let index = (share * last as f64).round() as usize;
            latencies_us.get(index).map_or(f64::NAN, |us| *us as f64 / 1e3)
        };
        Quantiles { count: latencies_us.len(), p50: at(0.5), p99: at(0.99), max: at(1.0) }
    }
}

impl fmt::Display for Quantiles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} / {:.1} / {:.0} ms", self.p50, self.p99, self.max)
    }
}

/// What the machine has given so far.
pub(crate) struct Used {
    /// To the server, CPU seconds.
    pub(crate) server_s: f64,
    /// To this program.
    pub(crate) own_s: f64,
    /// Resident memory of the server.
    pub(crate) server_mib: f64,
}

/// The processes that are watched.
pub(crate) struct Machine {
    pub(crate) server: u32,
}

impl Machine {
    pub(crate) fn look(&self) -> Used {
        Used {
            server_s: cpu_s(self.server),
            own_s: cpu_s(std::process::id()),
            server_mib: resident_mib(self.server),
        }
    }
}

/// CPU seconds of a process, by Linux's process table; 0 elsewhere.
fn cpu_s(process: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    // The name in parentheses may hold spaces.
    let after = stat.rsplit_once(')').map_or("", |(_, after)| after);
    let ticks: u64 = after.split_whitespace().skip(11).take(2).filter_map(|t| t.parse::<u64>().ok()).sum();
    ticks as f64 / 100.0
}

fn resident_mib(process: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmRSS:"));
    let kib = line.and_then(|line| line.split_whitespace().nth(1)).and_then(|kib| kib.parse::<f64>().ok());
    kib.unwrap_or(0.0) / 1024.0
}

/// How far the slowest run fell behind the clock.
pub(crate) fn lag(before: &[u64], after: &[u64], elapsed: Duration) -> String {
    let due = elapsed.as_secs_f64() * TICKS_PER_SECOND;
    let missing = before.iter().zip(after).map(|(b, a)| due - (a - b) as f64).fold(f64::NAN, f64::max);
    if missing.is_nan() {
        "-".to_owned()
    } else {
        format!("{:.0} ms", missing.max(0.0) / TICKS_PER_SECOND * 1e3)
    }
}
