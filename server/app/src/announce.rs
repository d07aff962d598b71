//! What is printed at the start.

use crate::args::Args;
use crate::privacy::Expired;
use crate::server::Server;
use crate::tls::Authority;
use crate::{addresses, qr};
use deadship_protocol::{DEFAULT_PORT, PATH};
use deadship_run::drill::SAFETY;
use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::time::Duration;

/// Everything that somebody needs to go on.
pub(crate) fn started(server: &Server, data: &Path, args: &Args, took: Duration) {
    let address = server.address();
    let new = if server.first_start() { "new" } else { "found" };
    say!("deadship {}   data {} ({new})", env!("CARGO_PKG_VERSION"), data.display());
    say!("{} drills found: {}", server.drills().len(), server.drills().join(", "));
    if let Some(expired) = server.expired() {
        say!("{}", told(expired, args.keep_days.unwrap_or_default()));
    }
    came_back(server);
    if !server.report().is_clean() {
        complain!("The data folder: {}", server.report());
    }
    say!();
    let reachable = reachable(address);
    for (i, host) in reachable.iter().enumerate() {
        let title = if i == 0 { "Address" } else { "" };
        if args.tls {
            say!("  {title:<11} https://{host}/   link wss://{host}{PATH}");
        } else {
            say!("  {title:<11} http://{host}/   link ws://{host}{PATH}");
        }
    }
    if let Some(key) = server.instructor_key() {
        say!("  Key         {key}   (the instructor's; shown once, --new-key makes another)");
    }
    let key = server.instructor_key().unwrap_or("KEY");
    let host = reachable.first().map_or_else(|| address.to_string(), Clone::clone);
    let host = if args.tls { format!("https://{host}") } else { host };
    let client = Called::here().client();
    say!("  Instructor  {client} teach {host} --key {key}");
    say!("  Team        {client} join {host} CODE NAME   (the codes come with the class)");
    if let Some(authority) = server.authority() {
        trust(authority);
    }
    if address.ip().is_loopback() {
        lan(address, args);
    } else {
        say!("\n  Anyone on this network can reach it. A Wi-Fi that keeps its guests apart blocks joining.");
        on_telephones(args, &reachable);
    }
    say!("\n{SAFETY}");
    say!("\nReady in {:.1} s, serving on {address}. Ctrl-C stops and keeps everything.", took.as_secs_f64());
}

/// What became of runs that have been kept for long enough.
fn told(expired: &Expired, days: u32) -> String {
    match expired {
        Expired::Removed(runs) => {
            format!("{} removed: nobody has done anything in them for {days} days (keep-days).", count(*runs))
        }
        Expired::AllDue(runs) => format!(
            "All {} would have to be removed, because nobody has done anything in them for {days} days (keep-days). That \
             looks like a clock that is wrong, so nothing was; if the clock is right: deadship-server expire {days}",
            count(*runs)
        ),
    }
}

fn came_back(server: &Server) {
    let came = server.came_back();
    if !came.on_hold.is_empty() {
        let runs: Vec<String> = came.on_hold.iter().map(|(team, time)| format!("{team} at {time}")).collect();
        say!("{} came back on hold: {}", count(runs.len()), runs.join(", "));
    }
    if came.over > 0 {
        say!("{} from before can be read", count(came.over));
    }
    for (team, why) in &came.failed {
        complain!("The run of {team} could not be brought back: {why}");
    }
}

fn count(runs: usize) -> String {
    if runs == 1 { "1 run".to_owned() } else { format!("{runs} runs") }
}

/// How the programs are called where this one was started, so that what is shown can be typed as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Called {
    /// By cargo, from the source tree.
    ByCargo,
    /// By name, with what stands before the name: nothing where the search path finds them.
    ByName(String),
}

impl Called {
    fn here() -> Called {
        // Cargo tells the programs that it runs.
        if std::env::var_os("CARGO_MANIFEST_DIR").is_some() {
            return Called::ByCargo;
        }
        let typed = std::env::args().next().unwrap_or_default();
        let name_at = typed.rfind(std::path::is_separator).map_or(0, |separator| separator + 1);
        Called::ByName(typed[..name_at].to_owned())
    }

    fn client(&self) -> String {
        match self {
            Called::ByCargo => "cargo run --release -q -p deadship --".to_owned(),
            Called::ByName(before) => format!("{before}deadship"),
        }
    }

    fn server(&self) -> String {
        match self {
            Called::ByCargo => "cargo run --release --".to_owned(),
            Called::ByName(before) => format!("{before}deadship-server"),
        }
    }
}

/// The command that serves a class, with the folders that this start was given.
fn class_words(called: &Called, args: &Args, port: u16) -> String {
    let mut words = format!("{} --listen 0.0.0.0:{port}", called.server());
    if args.tls {
        words.push_str(" --tls");
    }
    for (flag, folder) in [("--config", &args.config), ("--data", &args.data), ("--drills", &args.drills)] {
        if let Some(folder) = folder {
            let folder = folder.display().to_string();
            let folder = if folder.contains(' ') { format!("'{folder}'") } else { folder };
            words.push_str(&format!(" {flag} {folder}"));
        }
    }
    words
}

/// Where it can be reached under this address, the best first.
fn reachable(address: SocketAddr) -> Vec<String> {
    if !address.ip().is_unspecified() {
        return vec![address.to_string()];
    }
    let mut hosts: Vec<String> = addresses::of_this_machine()
        .into_iter()
        .map(|ip| SocketAddr::new(ip, address.port()).to_string())
        .collect();
    hosts.push(SocketAddr::new(IpAddr::from([127, 0, 0, 1]), address.port()).to_string());
    hosts
}

/// The page that says how to join, for those who do not like typing.
fn on_telephones(args: &Args, reachable: &[String]) {
    // A machine without a network has its own address first.
    let Some(host) = reachable.first().filter(|host| !host.starts_with("127.")) else { return };
    let page = format!("{}://{host}/", if args.tls { "https" } else { "http" });
    if let Some(drawing) = qr::drawing(args.qr, &page) {
        say!("  How to join, for a telephone: {page}\n{drawing}");
    }
}

/// How to trust the box.
fn trust(authority: &Authority) {
    let file = authority.file.display();
    say!("\n  Encrypted by this box's own authority, whose file is {file}");
    say!("  SHA-256     {}", authority.fingerprint);
    say!(
        "  Carry that file to every machine on a stick or the like (the key beside it stays here), and there:"
    );
    say!("      export DEADSHIP_AUTHORITY=…/authority.pem   (or --authority FILE with each command)");
    say!("  Browsers: import the file as an authority for web sites, after comparing the SHA-256.");
}

/// The one command that serves a class, and where it would be.
fn lan(address: SocketAddr, args: &Args) {
    let port = if args.listen.port() == 0 { DEFAULT_PORT } else { address.port() };
    say!("\n  Only this machine can reach it. To serve a class on the LAN:");
    say!("      {}", class_words(&Called::here(), args, port));
    let hosts: Vec<String> =
        addresses::of_this_machine().into_iter().map(|ip| SocketAddr::new(ip, port).to_string()).collect();
    if hosts.is_empty() {
        say!("  (this machine is on no network now)");
    } else {
        say!("  It will be at {}", hosts.join(", "));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[test]
    fn the_command_for_a_class_is_the_one_to_type() {
        let args = Args::try_parse_from(["deadship-server", "--data", "/srv/my drills"]).unwrap();
        assert_eq!(
            class_words(&Called::ByName("target/release/".into()), &args, 7333),
            "target/release/deadship-server --listen 0.0.0.0:7333 --data '/srv/my drills'"
        );
        let args = Args::try_parse_from(["deadship-server"]).unwrap();
        assert_eq!(
            class_words(&Called::ByCargo, &args, 7333),
            "cargo run --release -- --listen 0.0.0.0:7333"
        );
    }
}
