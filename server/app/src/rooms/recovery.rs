//! Bringing the store back after a full disk, and with it every run that could not be kept. One task does it for all.

use super::Rooms;
use crate::run_task::{Restored, RunHandle, ToRun};
use deadship_store::Recovered;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::oneshot;

/// How often the store is tried while it fails.
const RECOVER_EVERY: Duration = Duration::from_secs(2);

impl Rooms {
    /// Brings the store back whenever it fails, as long as the server lives.
    pub(crate) fn keep_recovering(self: &Arc<Self>) {
        let (rooms, trouble, mut stopping) =
            (Arc::downgrade(self), Arc::clone(&self.trouble), self.stopping.subscribe());
        self.runtime.spawn(async move {
            let recovering = async {
                loop {
                    trouble.notified().await;
                    let mut told = None;
                    loop {
                        tokio::time::sleep(RECOVER_EVERY).await;
                        let Some(rooms) = rooms.upgrade() else { return };
                        if rooms.try_recovery(&mut told).await.is_break() {
                            break;
                        }
                    }
                }
            };
            tokio::select! {
                () = recovering => {}
                // An error means that the rooms are gone.
                _ = stopping.wait_for(|stopping| *stopping) => {}
            }
        });
    }

    /// One try: the store, then every run that is further than its log. It is to be tried again unless it says break.
    /// `told` is what was said of it last, so that the same is not said every few seconds.
    pub(super) async fn try_recovery(self: &Arc<Self>, told: &mut Option<String>) -> ControlFlow<()> {
        let store = Arc::clone(&self.store);
        let recovered = match tokio::task::spawn_blocking(move || store.recover()).await {
            Ok(Ok(recovered)) => recovered,
            Ok(Err(error)) => {
                let why = error.to_string();
                if told.as_ref() != Some(&why) {
                    complain!("nothing can be kept: {why}; tried again every {} s", RECOVER_EVERY.as_secs());
                    *told = Some(why);
                }
                return ControlFlow::Continue(());
            }
            Err(_) => return ControlFlow::Continue(()),
        };
        tell(&recovered);
        let handles: Vec<RunHandle> = self.rooms().values().filter_map(|room| room.handle.clone()).collect();
        let asked = handles.into_iter().map(|handle| async move {
            let (reply, answer) = oneshot::channel();
            handle.to.send(ToRun::Restore { reply }).await.ok()?;
            answer.await.ok()
        });
        let restored = futures_util::future::join_all(asked).await;
        let all_back = self.bring_back_waiting().await;
        if all_back && !restored.contains(&Some(Restored::Again)) {
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    }
}

fn tell(recovered: &Recovered) {
    let Some(reason) = &recovered.reason else { return };
    complain!("records can be kept again; before: {reason}");
    for cut in &recovered.cut {
        let (stream, bytes, seq) = (cut.stream, cut.cut_bytes, cut.kept_seq);
        let kept = cut.saved.as_deref().unwrap_or("no file");
        complain!(
            "run {stream}: {bytes} bytes after record {seq} were never acknowledged; they are kept in {kept}"
        );
    }
    for (_, error) in &recovered.refused {
        complain!("{error}");
    }
}
