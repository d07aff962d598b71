//! The facilitator's screen on a real terminal: a rehearsed run is looked through by keys.

use deadship_tests::album::{Album, Part};
use deadship_tests::hands::{Hands, Pane, Tmux};
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
    let mut album = Album::default();
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

    ask_why(&pane, &mut album);
    album.keep(Part::Facilitator);

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

/// Asks why an alert came, looks around while that is worked out, and goes from the answer to its cause.
fn ask_why(pane: &Pane, album: &mut Album) {
    pane.keys(&["8", "/"]);
    pane.keys(&["-l", "WARNING 10"]);
    pane.keys(&["Enter"]);
    pane.wait("events have it");
    pane.keys(&["w"]);
    pane.wait("WHY #");
    pane.keys(&["Home"]);
    pane.wait("▼0:00");
    pane.wait("other courses of this run were computed");
    pane.keys(&["Escape"]);
    pane.wait("events that have what you look for");
    pane.keys(&["w"]);
    pane.wait("other courses of this run were computed");
    pane.resize(160, 50);
    pane.wait("▹");
    album.take("The facilitator asks why an alert came", pane);
    pane.resize(80, 24);
    pane.keys(&["o"]);
    pane.wait("Lines up sea water");
    album.take("The facilitator looks at the objectives", pane);
    pane.keys(&["Escape"]);
    pane.wait("events that have what you look for");
    pane.keys(&["Escape"]);
    pane.wait("w why");
}
