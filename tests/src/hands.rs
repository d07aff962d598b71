//! Hands at terminals: the real client on a real terminal (tmux), or line by line without one.
// Waiting for a screen needs a clock, so that what never comes is told.
#![allow(clippy::disallowed_types, clippy::disallowed_methods)]

use std::io::{Read, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How long something may take to come to a screen.
const PATIENCE: Duration = Duration::from_secs(60);

/// Somebody at the client.
pub trait Hands {
    /// Types a line and sends it.
    fn line(&mut self, text: &str);
    /// All that can be seen now.
    fn seen(&self) -> String;

    /// Waits until this is seen.
    ///
    /// # Panics
    /// When it does not come.
    fn wait(&self, what: &str) -> String {
        let began = Instant::now();
        loop {
            let seen = self.seen();
            if seen.contains(what) {
                return seen;
            }
            assert!(began.elapsed() < PATIENCE, "`{what}` does not come:\n{seen}");
            std::thread::yield_now();
        }
    }
}

/// A server of tmux of its own, which ends with this.
pub struct Tmux {
    socket: String,
    config: tempfile::NamedTempFile,
}

impl Tmux {
    /// With a name that no other test has.
    ///
    /// # Panics
    /// When tmux is not there: the screens cannot be tested then, and that must be seen.
    pub fn new(name: &str) -> Tmux {
        let mut config = match tempfile::NamedTempFile::new() {
            Ok(file) => file,
            Err(error) => panic!("no file for tmux: {error}"),
        };
        let settings =
            "set -g default-terminal \"tmux-256color\"\nset -g escape-time 0\nset -g remain-on-exit on\n";
        if let Err(error) = config.write_all(settings.as_bytes()) {
            panic!("no settings for tmux: {error}");
        }
        let tmux = Tmux { socket: format!("deadship-{name}-{}", std::process::id()), config };
        let version = Command::new("tmux").arg("-V").output();
        assert!(version.is_ok(), "tmux is not installed: the screens are tested on it");
        tmux
    }

    fn run(&self, words: &[&str]) -> String {
        let config = self.config.path().display().to_string();
        let output = Command::new("tmux")
            .args(["-L", &self.socket, "-f", &config])
            .args(words)
            .env("TERM", "xterm-256color")
            .output();
        match output {
            Ok(output) => String::from_utf8_lossy(&output.stdout).into_owned(),
            Err(error) => panic!("tmux {words:?}: {error}"),
        }
    }

    /// A terminal of this size with the client on it.
    pub fn open(self: &Arc<Tmux>, name: &str, size: (u16, u16), command: &str) -> Pane {
        let (wide, high) = (size.0.to_string(), size.1.to_string());
        self.run(&["new-session", "-d", "-s", name, "-x", &wide, "-y", &high, command]);
        Pane { tmux: Arc::clone(self), name: name.to_owned() }
    }
}

impl Drop for Tmux {
    fn drop(&mut self) {
        self.run(&["kill-server"]);
    }
}

/// A terminal with the client on it.
pub struct Pane {
    tmux: Arc<Tmux>,
    name: String,
}

impl Pane {
    /// Presses keys by their names: `Enter`, `F3`, `6`.
    pub fn keys(&self, keys: &[&str]) {
        let mut words = vec!["send-keys", "-t", &self.name];
        words.extend(keys);
        self.tmux.run(&words);
    }

    /// Another size.
    pub fn resize(&self, wide: u16, high: u16) {
        let (wide, high) = (wide.to_string(), high.to_string());
        self.tmux.run(&["resize-window", "-t", &self.name, "-x", &wide, "-y", &high]);
    }

    /// Pastes text as a terminal does, with marks around it.
    pub fn paste(&self, text: &str) {
        self.tmux.run(&["set-buffer", "-b", &self.name, text]);
        self.tmux.run(&["paste-buffer", "-p", "-b", &self.name, "-t", &self.name]);
    }
}

impl Hands for Pane {
    fn line(&mut self, text: &str) {
        self.tmux.run(&["send-keys", "-t", &self.name, "-l", text]);
        self.keys(&["Enter"]);
    }

    fn seen(&self) -> String {
        self.tmux.run(&["capture-pane", "-p", "-t", &self.name])
    }
}

/// The client without a terminal, as a script drives it.
pub struct Plain {
    child: Child,
    input: Option<ChildStdin>,
    seen: Arc<Mutex<String>>,
}

impl Plain {
    /// Starts it.
    ///
    /// # Panics
    /// When it cannot be started.
    pub fn start(program: &str, words: &[&str], state: &std::path::Path) -> Plain {
        let started = Command::new(program)
            .args(words)
            .env("XDG_STATE_HOME", state)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let mut child = match started {
            Ok(child) => child,
            Err(error) => panic!("{program}: {error}"),
        };
        let seen = Arc::new(Mutex::new(String::new()));
        if let Some(mut output) = child.stdout.take() {
            let seen = Arc::clone(&seen);
            std::thread::spawn(move || {
                let mut bytes = [0; 4096];
                while let Ok(count @ 1..) = output.read(&mut bytes) {
                    let text = String::from_utf8_lossy(&bytes[..count]).into_owned();
                    seen.lock().unwrap_or_else(PoisonError::into_inner).push_str(&text);
                }
            });
        }
        let input = child.stdin.take();
        Plain { child, input, seen }
    }

    /// No more lines: the client ends by itself. Its exit status.
    ///
    /// # Panics
    /// When it does not end.
    pub fn end(mut self) -> i32 {
        drop(self.input.take());
        match self.child.wait() {
            Ok(status) => status.code().unwrap_or(-1),
            Err(error) => panic!("the client does not end: {error}"),
        }
    }
}

impl Hands for Plain {
    fn line(&mut self, text: &str) {
        let input = self.input.as_mut();
        if let Some(Err(error)) = input.map(|input| writeln!(input, "{text}").and_then(|()| input.flush())) {
            panic!("{text}: {error}");
        }
    }

    fn seen(&self) -> String {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

impl Drop for Plain {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
