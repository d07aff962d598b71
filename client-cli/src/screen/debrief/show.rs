//! The facilitator's screen on a terminal: no link, only hands and time.

use super::DebriefScreen;
use super::question::{Answer, Question};
use crate::failure::{Failure, WELL};
use crate::screen::failed;
use crate::screen::terminal::{Hand, OnTerminal, hands};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::Receiver;
use tokio::sync::oneshot::{self, error::RecvError};
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
    let mut answer: Option<oneshot::Receiver<Answer>> = None;
    loop {
        if answer.is_none()
            && let Some(question) = screen.question()
        {
            answer = Some(begin(question).map_err(|error| failed(&error))?);
        }
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
        let leaves = match runtime.block_on(next(&mut hands, &mut answer, wait)) {
            Some(Came::Hand(hand)) => done(hand, &mut hands, screen),
            Some(Came::Gone) => true,
            Some(Came::Answer(Ok(told))) => {
                answer = None;
                screen.told(told);
                false
            }
            // The thread is gone without a word: it panicked, and the terminal has been given back.
            Some(Came::Answer(Err(_))) => {
                let text = "working out an answer came to an end by a mistake in this program; `debrief` still shows the run";
                return Err(Failure::Plant(text.to_owned()));
            }
            None => false,
        };
        if leaves {
            return Ok(WELL);
        }
        if screen.plays() {
            screen.pass(began.elapsed().as_secs_f64());
        }
    }
}

/// Works a question out on a thread of its own. Whoever leaves meanwhile ends it with the program.
fn begin(question: Question) -> std::io::Result<oneshot::Receiver<Answer>> {
    let (tell, told) = oneshot::channel();
    let work = move || {
        // Nobody may be there any more to hear it.
        let _ = tell.send(question.work_out());
    };
    std::thread::Builder::new().name("answer".to_owned()).spawn(work)?;
    Ok(told)
}

/// What came.
enum Came {
    Hand(Hand),
    Answer(Result<Answer, RecvError>),
    /// A terminal that is gone is someone who has left.
    Gone,
}

/// Waits for a hand or an answer so long, or for ever.
async fn next(
    hands: &mut Receiver<Hand>,
    answer: &mut Option<oneshot::Receiver<Answer>>,
    wait: Option<Duration>,
) -> Option<Came> {
    let told = async {
        match answer {
            Some(answer) => answer.await,
            None => std::future::pending().await,
        }
    };
    let came = async {
        tokio::select! {
            biased;
            hand = hands.recv() => hand.map_or(Came::Gone, Came::Hand),
            answer = told => Came::Answer(answer),
        }
    };
    match wait {
        None => Some(came.await),
        Some(wait) => timeout(wait, came).await.ok(),
    }
}

/// Does what a hand did, and all others that wait; `true`: the person leaves.
fn done(first: Hand, hands: &mut Receiver<Hand>, screen: &mut DebriefScreen) -> bool {
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
