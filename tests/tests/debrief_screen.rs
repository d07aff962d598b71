//! The facilitator's screen on a real terminal: a rehearsed run is looked through by keys.

use deadship_tests::hands::{Hands, Tmux};
use std::process::Command;
use std::sync::Arc;

const CLIENT: &str = env!("CARGO_BIN_EXE_deadship-under-test");

#[test]
fn a_run_is_looked_through_by_keys() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = folder.path().join("run.jsonl");
    let rehearsed = Command::new(CLIENT)
        .args(["rehearse", "first-light", "--quiet", "--record"])
        .arg(&record)
        .output()
        .expect("the client runs");
    assert!(rehearsed.status.success(), "{}", String::from_utf8_lossy(&rehearsed.stderr));

    let tmux = Arc::new(Tmux::new("debrief"));
    // What the shell says afterwards shows that the terminal was given back.
    let command = format!("{CLIENT} debrief {}; echo ended with $?; read wait", record.display());
    let pane = tmux.open("facilitator", (80, 24), &command);
    // Lanes and events are there before the plant has been replayed.
    pane.wait("[8Events]");
    pane.keys(&["g"]);
    pane.keys(&["-l", "12:30"]);
    pane.keys(&["Enter"]);
    pane.wait("▼12:30");
    pane.keys(&["Tab", "1"]);
    let seen = pane.wait("eyes of robot (engine): Generator flat");
    assert!(seen.contains("[1Here]"), "{seen}");
    pane.keys(&["2"]);
    pane.wait("DG 1 starting air low");

    pane.resize(160, 50);
    pane.wait("▹  12:");
    pane.resize(50, 12);
    pane.wait("least 60 and 16");
    pane.resize(80, 24);
    pane.wait("[2Alerts]");

    // It plays to the end and stands there.
    pane.keys(&["g"]);
    pane.keys(&["-l", "16:10"]);
    pane.keys(&["Enter"]);
    pane.wait("16:10 of 16:30  stands");
    pane.keys(&["s", "s", "Space"]);
    pane.wait("16:30 of 16:30  stands (×16)");
    pane.keys(&["q"]);
    pane.wait("ended with 0");
}
