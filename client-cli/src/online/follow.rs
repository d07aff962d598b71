//! A link beside the instructor's own, for the events of one run.

use super::address::Address;
use super::link::{Link, Lost, PING_EVERY};
use deadship_protocol::{ByeCode, ClientMessage, Identity, ServerMessage, VERSION};
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::sleep;
use uuid::Uuid;

/// Passes on the events of one run, as long as that can be done.
pub(super) async fn follow(
    address: Address,
    key: String,
    run: Uuid,
    mut last_seq: u64,
    to: mpsc::Sender<ServerMessage>,
) {
    const PAUSE: Duration = Duration::from_secs(3);
    loop {
        let identity = Identity::Watch { key: key.clone(), name: None };
        let hello =
            ClientMessage::Hello { version: VERSION, identity, run: Some(run), last_seq: Some(last_seq) };
        let link = Link::open(&address, &hello).await;
        if let Ok((mut link, _)) = link {
            let mut ping = tokio::time::interval(PING_EVERY);
            loop {
                let message = tokio::select! {
                    message = link.next() => message,
                    _ = ping.tick() => match link.ping().await {
                        Ok(()) => continue,
                        Err(lost) => Err(lost),
                    },
                };
                match message {
                    Ok(event @ ServerMessage::Event(_)) => {
                        if let ServerMessage::Event(event) = &event {
                            last_seq = event.seq;
                        }
                        if to.send(event).await.is_err() {
                            return;
                        }
                    }
                    Ok(_) => {}
                    Err(Lost::Bye { code: ByeCode::RunGone | ByeCode::Refused, .. }) => return,
                    Err(_) => break,
                }
            }
        }
        sleep(PAUSE).await;
    }
}
