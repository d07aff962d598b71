//! The terminal itself: raw while a screen is on it, and given back as it was whatever happens.

use ratatui::crossterm::event::{
    self, DisableBracketedPaste, EnableBracketedPaste, Event, KeyEvent, KeyEventKind,
};
use ratatui::crossterm::execute;
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::prelude::CrosstermBackend;
use std::io::{self, Stdout};
use tokio::sync::mpsc;

/// Keys that may wait: more than anybody types.
const KEYS: usize = 256;

/// What a person does at the terminal.
#[derive(Debug)]
pub(crate) enum Hand {
    /// A key.
    Key(KeyEvent),
    /// Text was pasted.
    Paste(String),
    /// The terminal has another size.
    Resize,
}

/// The terminal while a screen is on it.
pub(crate) struct OnTerminal {
    /// To draw on.
    pub(crate) terminal: ratatui::Terminal<CrosstermBackend<Stdout>>,
}

impl OnTerminal {
    /// Takes the terminal.
    pub(crate) fn take() -> io::Result<OnTerminal> {
        enable_raw_mode()?;
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |about| {
            give_back();
            before(about);
        }));
        let mut out = io::stdout();
        let taken = execute!(out, EnterAlternateScreen, EnableBracketedPaste)
            .and_then(|()| ratatui::Terminal::new(CrosstermBackend::new(out)));
        match taken {
            Ok(terminal) => Ok(OnTerminal { terminal }),
            Err(error) => {
                give_back();
                Err(error)
            }
        }
    }
}

impl Drop for OnTerminal {
    fn drop(&mut self) {
        give_back();
    }
}

/// A terminal that is gone needs nothing given back.
fn give_back() {
    let _ = execute!(io::stdout(), DisableBracketedPaste, LeaveAlternateScreen);
    let _ = disable_raw_mode();
    let _ = execute!(io::stdout(), ratatui::crossterm::cursor::Show);
}

/// Reading blocks, so it has a thread. It ends with the process, or when the terminal is gone.
pub(crate) fn hands() -> mpsc::Receiver<Hand> {
    let (sender, receiver) = mpsc::channel(KEYS);
    std::thread::spawn(move || {
        while let Ok(event) = event::read() {
            let hand = match event {
                Event::Key(key) if key.kind != KeyEventKind::Release => Hand::Key(key),
                Event::Paste(text) => Hand::Paste(text),
                Event::Resize(..) => Hand::Resize,
                _ => continue,
            };
            if sender.blocking_send(hand).is_err() {
                return;
            }
        }
    });
    receiver
}
