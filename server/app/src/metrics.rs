//! What is counted while serving, and its page at `/metrics`, in the text form of OpenMetrics 1.0, which Prometheus
//! reads. Counting costs an atomic addition; what can be looked up is looked up when the page is asked for.

use crate::fault::Fault;
use crate::rest;
use crate::rooms::Rooms;
use crate::run_task::RUN_QUEUE;
use actix_web::{HttpRequest, HttpResponse, web};
use deadship_protocol::{ErrorCode, ServerMessage};
use deadship_run::Role;
use deadship_store::Health;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::{Histogram, exponential_buckets};
use prometheus_client::registry::{Registry, Unit};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// The form that Prometheus is told.
pub(crate) const FORM: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

type Label = [(&'static str, &'static str); 1];
type Number = Gauge<f64, AtomicU64>;

/// What is counted. Clones count together.
#[derive(Clone, Debug)]
pub(crate) struct Metrics {
    lines: Family<Label, Counter>,
    clients: Family<Label, Gauge>,
    /// Clients closed because they took nothing.
    pub(crate) slow_clients: Counter,
    /// Clients that were not let in.
    pub(crate) not_let_in: Counter,
    commits: Histogram,
    failed_commits: Counter,
}

impl Default for Metrics {
    fn default() -> Metrics {
        let metrics = Metrics {
            lines: Family::default(),
            clients: Family::default(),
            slow_clients: Counter::default(),
            not_let_in: Counter::default(),
            // From half a millisecond, a good disk, to four seconds, a bad one.
            commits: Histogram::new(exponential_buckets(0.000_5, 2.0, 14)),
            failed_commits: Counter::default(),
        };
        // A figure that is missing until something happens cannot be watched for.
        for outcome in ["accepted", "refused", "answered", "busy", "error"] {
            drop(metrics.lines.get_or_create(&[("outcome", outcome)]));
        }
        for role in [Role::Trainee, Role::Instructor, Role::Facilitator, Role::Observer] {
            drop(metrics.clients.get_or_create(&[("role", role.word())]));
        }
        metrics
    }
}

/// Somebody who is counted as long as this lives.
pub(crate) struct Counted(Gauge);

impl Drop for Counted {
    fn drop(&mut self) {
        self.0.dec();
    }
}

impl Metrics {
    /// Counts a client until what is given back is dropped.
    pub(crate) fn client(&self, role: Role) -> Counted {
        let gauge = self.clients.get_or_create_owned(&[("role", role.word())]);
        gauge.inc();
        Counted(gauge)
    }

    /// Counts a line by its reply.
    pub(crate) fn line(&self, reply: &ServerMessage) {
        let outcome = match reply {
            ServerMessage::Accepted { .. } => "accepted",
            ServerMessage::Refused { .. } => "refused",
            ServerMessage::Answer { .. } => "answered",
            ServerMessage::Busy { .. } => "busy",
            _ => "error",
        };
        self.lines.get_or_create(&[("outcome", outcome)]).inc();
    }

    /// Counts an append to the store, which waits for the disk.
    pub(crate) fn commit(&self, took: Duration, good: bool) {
        self.commits.observe(took.as_secs_f64());
        if !good {
            self.failed_commits.inc();
        }
    }

    fn register(&self, page: &mut Registry) {
        page.register("lines", "Lines of people and scripts, by what became of them", self.lines.clone());
        page.register("clients", "Clients on a link that were let in", self.clients.clone());
        let help = "Clients closed because they took nothing";
        page.register("slow_clients_closed", help, self.slow_clients.clone());
        let help = "Clients not let in: wrong key, code, token or name";
        page.register("clients_not_let_in", help, self.not_let_in.clone());
        let help = "Time of an append until it is on disk";
        page.register_with_unit("commit", help, Unit::Seconds, self.commits.clone());
        page.register("commits_failed", "Appends that failed", self.failed_commits.clone());
    }
}

/// What a run shows of itself beside its state.
#[derive(Debug, Default)]
pub(crate) struct Meter {
    behind_ms: AtomicU64,
    waiting: AtomicU64,
}

impl Meter {
    /// How far it is behind the clock, s of ship's time, and events that wait for its clients.
    pub(crate) fn note(&self, behind_s: f64, waiting: usize) {
        self.behind_ms.store((behind_s * 1e3) as u64, Ordering::Relaxed);
        self.waiting.store(waiting as u64, Ordering::Relaxed);
    }
}

/// All runs together.
#[derive(Default)]
struct Runs {
    states: [i64; 4],
    slow: i64,
    behind_s: f64,
    queued: i64,
    longest_queue: i64,
    waiting: i64,
}

const STATES: [&str; 4] = ["going", "on-hold", "over", "failed"];

impl Runs {
    fn of(rooms: &Rooms) -> Runs {
        let mut runs = Runs::default();
        rooms.each_run(|state, handle| {
            let index = match (&state.failed, &state.ended, &state.hold) {
                (Some(_), _, _) => 3,
                (_, Some(_), _) => 2,
                (_, _, Some(_)) => 1,
                _ => 0,
            };
            runs.states[index] += 1;
            runs.slow += i64::from(state.reached_speed.is_some());
            let Some(handle) = handle else { return };
            let queued = (RUN_QUEUE - handle.to.capacity()) as i64;
            runs.queued += queued;
            runs.longest_queue = runs.longest_queue.max(queued);
            runs.waiting += handle.meter.waiting.load(Ordering::Relaxed) as i64;
            let behind_s = handle.meter.behind_ms.load(Ordering::Relaxed) as f64 / 1e3;
            runs.behind_s = runs.behind_s.max(behind_s);
        });
        runs
    }

    fn register(&self, page: &mut Registry) {
        let states = Family::<Label, Gauge>::default();
        for (state, count) in STATES.into_iter().zip(self.states) {
            states.get_or_create(&[("state", state)]).set(count);
        }
        page.register("runs", "Runs, by state", states);
        gauge(page, "runs_slow", "Runs that do not reach the speed they were set to", self.slow);
        let behind = Number::default();
        behind.set(self.behind_s);
        let help = "Ship's time that is due and not yet stepped, of the run that is furthest behind";
        page.register_with_unit("most_behind", help, Unit::Seconds, behind);
        gauge(page, "run_queue_messages", "Messages that wait for runs", self.queued);
        let help = "Messages that wait for the run with most of them";
        gauge(page, "run_queue_messages_most", help, self.longest_queue);
        gauge(page, "client_queue_events", "Events that wait for clients to take them", self.waiting);
    }
}

fn gauge(page: &mut Registry, name: &str, help: &str, value: i64) {
    let gauge: Gauge = Gauge::default();
    gauge.set(value);
    page.register(name, help, gauge);
}

fn register_store(page: &mut Registry, health: &Health) {
    let writable = i64::from(health.poisoned.is_none());
    gauge(page, "store_writable", "1 while appends are accepted", writable);
    gauge(page, "store_streams", "Logs that can be read", health.streams as i64);
    gauge(page, "store_streams_refused", "Logs that are damaged", health.refused.len() as i64);
    gauge(page, "store_records", "Records in all logs", health.records as i64);
    let size: Gauge = Gauge::default();
    size.set(health.bytes as i64);
    page.register_with_unit("store_size", "Size of all logs", Unit::Bytes, size);
}

/// The page. On this machine it needs no key, but a wrong one is refused rather than passed over; what comes through a
/// proxy is not from this machine.
pub(crate) async fn page(request: HttpRequest, rooms: web::Data<Arc<Rooms>>) -> Result<HttpResponse, Fault> {
    let asked = ["forwarded", "x-forwarded-for", "authorization"]
        .iter()
        .any(|name| request.headers().contains_key(*name));
    let here = request.peer_addr().is_some_and(|address| address.ip().to_canonical().is_loopback());
    if !here || asked {
        rest::check_key(&request, &rooms)?;
    }
    let own = Arc::clone(&rooms);
    let health = rest::blocking(move || own.health()).await?;
    let mut page = Registry::with_prefix("deadship");
    rooms.metrics.register(&mut page);
    Runs::of(&rooms).register(&mut page);
    register_store(&mut page, &health);
    let mut text = String::new();
    encode(&mut text, &page).map_err(|_| {
        Fault::new(ErrorCode::RunFailed, "the figures could not be written", "see the server's log")
    })?;
    Ok(HttpResponse::Ok().insert_header(("Content-Type", FORM)).body(text))
}
