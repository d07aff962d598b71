//! Beginning anew from what is on disk, after something could not be kept.
//!
//! The run had gone further than its log, and nobody was told how far. Whoever is on it stays; they are given the
//! state as the log has it, and it waits on hold for the instructor.

use super::gauges::Gauges;
use super::{CHECKPOINT_TICKS, Restored, RunTask};
use crate::convert;
use crate::fault::Fault;
use crate::loading::{LoadError, Loaded, load};
use deadship_run::Who;
use std::time::Instant;

impl RunTask {
    /// Puts the run back to what its log says, if something could not be kept.
    pub(super) async fn restore(&mut self) -> Restored {
        if self.broken.is_none() {
            return Restored::Whole;
        }
        let sources = self.sources.clone();
        let (run, procedure, shown) = (self.recorder.run().id, self.procedure.clone(), self.stored_seq);
        let why = "nothing could be kept for a while";
        let loading =
            tokio::task::spawn_blocking(move || load(&sources, run, procedure.as_deref(), shown, why));
        let (fault, restored) = match loading.await {
            Ok(Ok(loaded)) => {
                self.begin_anew(loaded);
                return Restored::Whole;
            }
            Ok(Err(LoadError::Store(error))) => {
                let again = error.may_pass();
                (Fault::from(error), if again { Restored::Again } else { Restored::GivenUp })
            }
            Ok(Err(LoadError::Log(why))) => (Fault::run_failed(&why), Restored::GivenUp),
            Err(_) => (Fault::run_failed("reading its log met a fault of the program"), Restored::GivenUp),
        };
        complain!("run {run} ({}) stays on hold: {fault}", self.about.team);
        self.broken = Some(fault);
        let state = self.state();
        self.show_state(state, true, Instant::now());
        restored
    }

    fn begin_anew(&mut self, loaded: Loaded) {
        let now = Instant::now();
        self.recorder = loaded.recorder;
        self.crew = loaded.crew;
        self.broken = None;
        let run = self.recorder.run();
        self.stored_seq = run.last_seq;
        self.checkpoint_at = run.tick() + CHECKPOINT_TICKS;
        self.at_digest = None;
        let near = |who: &Who, component: &str| {
            let at = run.person(who).and_then(|person| person.stands_at(run.tick()));
            convert::is_near(&run.setup, at, component)
        };
        for envelope in &loaded.tail {
            self.beat.follow(envelope);
            let message = convert::event(envelope);
            let is_read = |procedure: &str| convert::team_reads(&run.setup, procedure);
            let audience = convert::audience(envelope, is_read);
            self.clients.publish(envelope.seq, audience, &message, &near, now);
        }
        // What was shown last may be of ticks that are gone.
        self.gauges = Gauges::default();
        complain!("run {} ({}) is back at {}, on hold", run.id, self.about.team, convert::time(run.tick()));
        let state = self.state();
        self.show_state(state, true, now);
        if self.clients.any_watching() {
            self.gauges.show(self.recorder.run(), self.clients.iter_mut(), now);
        }
    }
}
