//! How quick the screens are: from a key to its echo, from a command to what it does on the screen, and what a client
//! costs that nobody touches. The real client on a terminal of its own (a pseudo-terminal, read by a terminal emulator's
//! library), the real server, on loopback; the readings of a plant in recovery change meanwhile.
//!
//! `cargo run --release -p deadship-tests --bin deadship-keys`; figures stand in docs/measured.md.

#![allow(clippy::disallowed_types, clippy::disallowed_methods, reason = "it measures time")]

use deadship_protocol::{Identity, ServerMessage};
use deadship_tests::server::ServerProcess;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};
use serde_json::{Value, json};
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// Keys and commands that are measured.
const KEYS: usize = 300;
const COMMANDS: usize = 100;
/// How long an idle client is looked at.
const IDLE: Duration = Duration::from_secs(20);
/// The screen.
const SIZE: (u16, u16) = (160, 50);

type Failure = Box<dyn std::error::Error>;

/// A client on a terminal.
struct OnPty {
    child: Child,
    keys: File,
    from: Receiver<Vec<u8>>,
    screen: vt100::Parser,
}

impl OnPty {
    fn start(program: &Path, words: &[&str], state: &Path) -> Result<OnPty, Failure> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?.into_string()?;
        let size = Winsize { ws_col: SIZE.0, ws_row: SIZE.1, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&master, size)?;
        let side = || OpenOptions::new().read(true).write(true).open(&name);
        let child = Command::new(program)
            .args(words)
            .env("TERM", "xterm-256color")
            .env("XDG_STATE_HOME", state)
            .stdin(Stdio::from(side()?))
            .stdout(Stdio::from(side()?))
            .stderr(Stdio::null())
            .spawn()?;
        let keys = File::from(master);
        let mut output = keys.try_clone()?;
        let (sender, from) = channel();
        std::thread::spawn(move || {
            let mut bytes = [0; 65_536];
            while let Ok(count @ 1..) = output.read(&mut bytes) {
                if sender.send(bytes[..count].to_vec()).is_err() {
                    return;
                }
            }
        });
        Ok(OnPty { child, keys, from, screen: vt100::Parser::new(SIZE.1, SIZE.0, 0) })
    }

    fn press(&mut self, keys: &str) -> Result<(), Failure> {
        self.keys.write_all(keys.as_bytes())?;
        Ok(())
    }

    /// Waits until this stands on the screen; how long that took.
    fn until(&mut self, seen: impl Fn(&str) -> bool) -> Result<Duration, Failure> {
        let began = Instant::now();
        loop {
            if seen(&self.screen.screen().contents()) {
                return Ok(began.elapsed());
            }
            match self.from.recv_timeout(Duration::from_secs(20)) {
                Ok(bytes) => self.screen.process(&bytes),
                Err(_) => {
                    return Err(format!("it does not come:\n{}", self.screen.screen().contents()).into());
                }
            }
        }
    }

    /// Takes what comes for so long.
    fn look_for(&mut self, time: Duration) {
        let began = Instant::now();
        while let Some(left) = time.checked_sub(began.elapsed()) {
            if let Ok(bytes) = self.from.recv_timeout(left) {
                self.screen.process(&bytes);
            }
        }
    }

    /// Seconds of processor time that it has used, from Linux's account of it.
    fn processor_s(&self) -> Result<f64, Failure> {
        let account = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id()))?;
        let after = account.rsplit_once(')').map_or("", |(_, after)| after);
        let fields: Vec<&str> = after.split_whitespace().collect();
        // Fields 14 and 15 of the whole line, in ticks of 1/100 s (proc(5)).
        let ticks =
            |field: usize| fields.get(field - 3).and_then(|ticks| ticks.parse::<f64>().ok()).unwrap_or(0.0);
        Ok((ticks(14) + ticks(15)) / 100.0)
    }
}

impl Drop for OnPty {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn beside(name: &str) -> Result<PathBuf, Failure> {
    let mut path = std::env::current_exe()?;
    path.set_file_name(name);
    Ok(path)
}

fn share(times: &mut [Duration], percent: usize) -> f64 {
    times.sort_unstable();
    let at = (times.len() * percent / 100).min(times.len() - 1);
    times[at].as_secs_f64() * 1e3
}

/// All readings as they are now.
async fn readings(server: &ServerProcess, key: &str, run: &str) -> Result<Vec<String>, Failure> {
    let watch = Identity::Watch { key: key.to_owned(), name: None };
    let mut link = server.link(watch, Some(run.parse()?), None).await;
    link.wait("welcome", |message| matches!(message, ServerMessage::Welcome(_)).then_some(())).await;
    link.line("watch *").await;
    let full = |message: &ServerMessage| match message {
        ServerMessage::Gauges(gauges) if gauges.base == gauges.tick => Some(gauges.readings.clone()),
        _ => None,
    };
    Ok(link.wait("gauges", full).await.into_iter().map(|gauge| gauge.text).collect())
}

fn main() -> Result<(), Failure> {
    let folder = tempfile::tempdir()?;
    let server_program = beside("deadship-server-under-test")?.display().to_string();
    let server = ServerProcess::start(&server_program, &folder.path().join("data"));
    let key = server.key();
    let body = json!({ "drill": "first-light", "teams": ["Red"], "hold": false, "crew": "first-light" });
    let (_, text) = server.rest("POST", "/api/runs", &key, Some(&body));
    let opened: Value = serde_json::from_str(&text)?;
    let run = opened["runs"][0]["run"].as_str().ok_or("no run")?.to_owned();
    let line = |text: &str| {
        server.rest("POST", &format!("/api/runs/{run}/line"), &key, Some(&json!({ "text": text })));
    };
    let client = beside("deadship-under-test")?;
    let words = ["teach", server.address.as_str(), "--key", key.as_str()];
    let mut pty = OnPty::start(&client, &words, folder.path())?;
    pty.until(|seen| seen.contains("Quillmere"))?;
    // Into the middle of the recovery, where most changes.
    line("speed 60");
    pty.press("8")?;
    pty.until(|seen| seen.contains("start dg1.controls"))?;
    line("speed 16");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let before = runtime.block_on(readings(&server, &key, &run))?;

    let mut echoes = Vec::new();
    for number in 0..KEYS {
        let letter = char::from(b'a' + (number % 26) as u8);
        let wanted = format!("> {letter}");
        let began = Instant::now();
        pty.press(&letter.to_string())?;
        pty.until(|seen| seen.contains(&wanted))?;
        echoes.push(began.elapsed());
        pty.press("\u{15}")?;
        pty.until(|seen| !seen.contains(&wanted))?;
    }
    let mut effects = Vec::new();
    for number in 0..COMMANDS {
        pty.press(&format!("say word {number} of many"))?;
        let wanted = format!("says: word {number} of many");
        pty.until(|seen| seen.contains(&format!("> say word {number} of many")))?;
        let began = Instant::now();
        pty.press("\r")?;
        pty.until(|seen| seen.contains(&wanted))?;
        effects.push(began.elapsed());
        // No faster than people: a server takes twenty lines a second.
        pty.look_for(Duration::from_millis(60));
    }
    let after = runtime.block_on(readings(&server, &key, &run))?;
    let differ = before.iter().zip(&after).filter(|(before, after)| before != after).count();
    println!("readings that changed meanwhile: {differ} of {}", after.len());
    println!("key to echo:       p50 {:.1} ms, p99 {:.1} ms", share(&mut echoes, 50), share(&mut echoes, 99));
    println!(
        "command to effect: p50 {:.1} ms, p99 {:.1} ms",
        share(&mut effects, 50),
        share(&mut effects, 99)
    );

    for (what, order) in
        [("watching at speed 16", "speed 16"), ("watching at speed 1", "speed 1"), ("on hold", "hold")]
    {
        line(order);
        let (began, used) = (Instant::now(), pty.processor_s()?);
        pty.look_for(IDLE);
        let share = (pty.processor_s()? - used) / began.elapsed().as_secs_f64() * 100.0;
        println!("processor of a client, {what}: {share:.1} %");
    }
    Ok(())
}
