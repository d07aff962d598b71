//! The server is ended with SIGKILL at seeded moments while several teams work: no acknowledged command is lost, no log
//! has a gap, every run comes back on hold, and every log runs again to the same digests.

use deadship_tests::load::{Seeded, Teams};
use deadship_tests::run;
use deadship_tests::server::ServerProcess;

const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

/// Kills in the short test, unless the variable `DEADSHIP_KILLS` says another number.
const KILLS: u64 = 20;

/// Kills in the full one.
const ALL_KILLS: u64 = 200;

const TEAMS: usize = 3;

async fn kill_again_and_again(kills: u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().join("data");
    let mut server = ServerProcess::start(SERVER, &data);
    let mut teams = Teams::open(&server, TEAMS).await;
    for round in 0..kills {
        let wanted = 1 + Seeded(round).below(30);
        teams.work_until(server, round, wanted, ServerProcess::kill).await;
        server = ServerProcess::start(SERVER, &data);
        assert!(server.printed.contains("on hold"), "{}", server.printed);
        teams.check(&server, round);
    }
    server.kill();
    // The logs have only grown, so this looks at every one that there was.
    let said = run(SERVER, &["verify", "--replay", "--data", &data.display().to_string()]);
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);
    assert_eq!(said.out.matches("digests are the same").count(), TEAMS, "{}", said.out);
    println!("{} acknowledged over {kills} kills, none lost;\n{}", teams.acknowledged(), said.out.trim());
}

fn kills(usual: u64) -> u64 {
    std::env::var("DEADSHIP_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_acknowledged_is_lost_by_kills() {
    kill_again_and_again(kills(KILLS)).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "the full one: two hundred kills take minutes"]
async fn nothing_acknowledged_is_lost_by_two_hundred_kills() {
    kill_again_and_again(kills(ALL_KILLS)).await;
}
