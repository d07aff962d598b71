//! The facilitator's screen on a terminal: no link, only hands and time.

use super::DebriefScreen;
use crate::failure::{Failure, WELL};
use crate::screen::failed;
use crate::screen::terminal::{Hand, OnTerminal, hands};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::Receiver;
use tokio::time::timeout;

/// Between two drawings while it plays or is being replayed.
const DRAW_EVERY: Duration = Duration::from_millis(100);

/// Shows it until the person leaves; the exit status.
pub(crate) fn show(screen: &mut DebriefScreen) -> Result<u8, Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build();
    let runtime = runtime.map_err(|error| failed(&error))?;
    let mut terminal = OnTerminal::take().map_err(|error| failed(&error))?;
    let mut hands = hands();
    let mut loading = true;
    loop {
        terminal.terminal.draw(|frame| screen.draw(frame)).map_err(|error| failed(&error))?;
        let began = Instant::now();
        if loading {
            while loading && began.elapsed() < DRAW_EVERY {
                loading = screen.load();
            }
        }
        let wait = match (loading, screen.plays()) {
            (true, _) => Some(Duration::ZERO),
            (false, true) => Some(DRAW_EVERY.saturating_sub(began.elapsed())),
            (false, false) => None,
        };
        if runtime.block_on(take(&mut hands, wait, screen)) {
            return Ok(WELL);
        }
        if screen.plays() {
            screen.pass(began.elapsed().as_secs_f64());
        }
    }
}

/// Waits for a hand so long, or for ever, and takes all that are there; `true`: the person leaves.
async fn take(hands: &mut Receiver<Hand>, wait: Option<Duration>, screen: &mut DebriefScreen) -> bool {
    let first = match wait {
        None => hands.recv().await,
        Some(wait) => match timeout(wait, hands.recv()).await {
            Ok(first) => first,
            Err(_) => return false,
        },
    };
    // A terminal that is gone is someone who has left.
    let Some(first) = first else { return true };
    let mut next = Some(first);
    while let Some(hand) = next {
        match hand {
            Hand::Key(key) if screen.key(key) => return true,
            Hand::Key(_) | Hand::Resize => {}
            Hand::Paste(text) => screen.pasted(&text),
        }
        next = hands.try_recv().ok();
    }
    false
}
