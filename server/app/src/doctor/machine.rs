//! Port, addresses, clock, open files.

use super::Check;
use crate::{addresses, open_files};
use std::io::{self, Read as _, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::time::{Duration, Instant, SystemTime};

/// Files besides links and runs: databases, threads, the log.
const OTHER_FILES: u64 = 200;

/// Files for a large class: 30 people, their runs, and as much again.
const FILES_BAD: u64 = OTHER_FILES + 60;
const FILES_LOOK: u64 = 1_000;

/// A clock that says an earlier year was never set.
const FIRST_YEAR: u64 = 2026;

/// How long the clocks are compared, and how far apart they may go in that time.
const COMPARING: Duration = Duration::from_millis(200);
const APART: Duration = Duration::from_millis(20);

/// How long a server may take to say what it is.
const PATIENCE: Duration = Duration::from_secs(2);

/// All checks of the machine.
pub(super) fn checks(listen: SocketAddr) -> Vec<Check> {
    vec![port(listen), reach(listen), clock(), files(open_files::raise())]
}

/// Can the port be had?
fn port(listen: SocketAddr) -> Check {
    const NAME: &str = "port";
    match TcpListener::bind(listen) {
        Ok(_) => Check::ok(NAME, format!("{listen} is free")),
        Err(error) if error.kind() == io::ErrorKind::AddrInUse => match is_ours(listen) {
            true => Check::ok(NAME, format!("a deadship server listens on {listen} now")),
            false => {
                let to_do = "stop that program, or choose another port with --listen";
                Check::bad(NAME, format!("{listen} is in use by another program"), to_do)
            }
        },
        Err(error) => {
            let to_do = "choose an address of this machine, and a port from 1024 on, with --listen";
            Check::bad(NAME, format!("{listen} cannot be listened on: {error}"), to_do)
        }
    }
}

/// Does a server of ours answer there?
fn is_ours(listen: SocketAddr) -> bool {
    let ip = if listen.ip().is_unspecified() { [127, 0, 0, 1].into() } else { listen.ip() };
    let ask = || -> io::Result<String> {
        let mut stream = TcpStream::connect_timeout(&SocketAddr::new(ip, listen.port()), PATIENCE)?;
        stream.set_read_timeout(Some(PATIENCE))?;
        stream.write_all(b"GET /healthz HTTP/1.1\r\nHost: doctor\r\nConnection: close\r\n\r\n")?;
        let mut answer = Vec::new();
        stream.take(64 << 10).read_to_end(&mut answer)?;
        Ok(String::from_utf8_lossy(&answer).into_owned())
    };
    ask().is_ok_and(|answer| answer.contains("\"version\"") && answer.contains("\"live\""))
}

/// Where others reach it.
fn reach(listen: SocketAddr) -> Check {
    const NAME: &str = "addresses";
    let port = listen.port();
    let all: Vec<String> =
        addresses::of_this_machine().iter().map(|ip| SocketAddr::new(*ip, port).to_string()).collect();
    let ip = listen.ip();
    if ip.is_loopback() {
        let to_do = format!("to serve a class: --listen 0.0.0.0:{port}");
        return Check::look(NAME, format!("{listen}: only this machine itself can reach it"), to_do);
    }
    match (ip.is_unspecified(), all.is_empty()) {
        (false, _) => Check::ok(NAME, format!("others reach it at {listen}")),
        (true, false) => Check::ok(NAME, format!("others reach it at {}", all.join(", "))),
        (true, true) => Check::bad(NAME, "this machine is on no network", "plug it in, or join the Wi-Fi"),
    }
}

/// Is the year plausible, and do the clocks go alike?
fn clock() -> Check {
    let (wall, steady) = (SystemTime::now(), Instant::now());
    // The one wait of the doctor: a clock can only be seen to go over time.
    std::thread::sleep(COMPARING);
    let passed = wall.elapsed();
    judge_clock(wall, passed.ok(), steady.elapsed())
}

fn judge_clock(wall: SystemTime, passed: Option<Duration>, steady: Duration) -> Check {
    const NAME: &str = "clock";
    let now = chrono::DateTime::<chrono::Utc>::from(wall);
    let found = now.format("%Y-%m-%d %H:%M UTC").to_string();
    let to_do = "records bear the time of this clock: set it, e.g. with `timedatectl set-ntp true`";
    let year: u64 = now.format("%Y").to_string().parse().unwrap_or(0);
    let apart = passed.map(|passed| passed.abs_diff(steady));
    match apart {
        _ if year < FIRST_YEAR => Check::look(NAME, found, to_do),
        Some(apart) if apart <= APART => Check::ok(NAME, found),
        _ => Check::look(NAME, format!("{found}; it is being set, or jumps"), to_do),
    }
}

/// Are there files enough for links and runs?
fn files(limit: Option<u64>) -> Check {
    const NAME: &str = "open files";
    let Some(limit) = limit else { return Check::ok(NAME, "no limit") };
    let found = format!("{limit} allowed, a class of thirty needs about {FILES_BAD}");
    let to_do = "raise the limit: LimitNOFILE= in the unit, or `ulimit -Hn`";
    match limit {
        ..FILES_BAD => Check::bad(NAME, found, to_do),
        FILES_BAD..FILES_LOOK => Check::look(NAME, found, to_do),
        _ => Check::ok(NAME, found),
    }
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    #[test]
    fn a_port_that_is_taken_is_bad() {
        let taken = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = taken.local_addr().unwrap();
        let answer = std::thread::spawn(move || {
            let (mut stream, _) = taken.accept().unwrap();
            let _ = stream.read(&mut [0; 256]);
            stream.write_all(b"HTTP/1.1 200 OK\r\n\r\nsomething else").unwrap();
        });
        assert_eq!(port(address).verdict, Verdict::Bad);
        answer.join().unwrap();
        assert_eq!(port(SocketAddr::from(([127, 0, 0, 1], 0))).verdict, Verdict::Ok);
        // Of a block for documentation (RFC 5737): no machine has it.
        assert_eq!(port(SocketAddr::from(([192, 0, 2, 7], 7333))).verdict, Verdict::Bad);
    }

    #[test]
    fn loopback_serves_nobody_else() {
        assert_eq!(reach(SocketAddr::from(([127, 0, 0, 1], 7333))).verdict, Verdict::Look);
        assert_eq!(reach(SocketAddr::from(([192, 0, 2, 7], 7333))).verdict, Verdict::Ok);
    }

    #[test]
    fn clocks_are_judged() {
        let (good, second) =
            (SystemTime::UNIX_EPOCH + Duration::from_secs(1_800_000_000), Duration::from_secs(1));
        assert_eq!(judge_clock(good, Some(second), second).verdict, Verdict::Ok);
        assert_eq!(judge_clock(good, Some(second * 3), second).verdict, Verdict::Look);
        assert_eq!(judge_clock(good, None, second).verdict, Verdict::Look);
        assert_eq!(judge_clock(SystemTime::UNIX_EPOCH, Some(second), second).verdict, Verdict::Look);
    }

    #[test]
    fn few_files_serve_few_people() {
        assert_eq!(files(None).verdict, Verdict::Ok);
        assert_eq!(files(Some(64)).verdict, Verdict::Bad);
        assert_eq!(files(Some(512)).verdict, Verdict::Look);
        assert_eq!(files(Some(1 << 16)).verdict, Verdict::Ok);
    }
}
