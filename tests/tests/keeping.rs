//! Backing up while the server serves, restoring, verifying: the programs as a technician uses them.

use deadship_protocol::Identity;
use deadship_tests::run;
use deadship_tests::server::ServerProcess;
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

fn words<'w>(words: &[&'w str], paths: &[&'w Path]) -> Vec<&'w str> {
    let paths = paths.iter().filter_map(|path| path.to_str());
    words.iter().copied().chain(paths).collect()
}

#[tokio::test]
async fn a_backup_of_a_serving_server_is_served_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let (data, dest, again) =
        (folder.path().join("data"), folder.path().join("backup"), folder.path().join("again"));
    let server = ServerProcess::start(SERVER, &data);
    let key = server.key();
    let body = json!({ "drill": "first-light", "teams": ["Red", "Blue"], "hold": false });
    let (status, text) = server.rest("POST", "/api/runs", &key, Some(&body));
    assert_eq!(status, 201, "{text}");
    let opened: Value = serde_json::from_str(&text).expect("JSON");
    let code = opened["runs"][0]["code"].as_str().expect("a code").to_owned();
    let join = |name: &str| Identity::Join { code: code.clone(), name: name.into(), station: None };
    let mut link = server.link(join("Ada"), None, None).await;
    for n in 0..5 {
        link.line(&format!("say before {n}")).await;
    }
    let made = run(SERVER, &words(&["--data", data.to_str().expect("a path"), "backup"], &[&dest]));
    assert_eq!(made.status, 0, "{}{}", made.out, made.err);
    assert!(
        made.out.contains("Red (first-light)") && made.out.contains("read back and compared"),
        "{}",
        made.out
    );
    // In use, and not empty: nothing is touched.
    let refused = run(SERVER, &words(&["restore"], &[&dest, Path::new("--data"), &data]));
    assert_eq!(refused.status, 2, "{}{}", refused.out, refused.err);
    assert!(refused.err.contains("in use"), "{}", refused.err);
    link.line("say after").await;
    let verified = run(SERVER, &words(&["verify", "--replay"], &[&dest]));
    assert_eq!(verified.status, 0, "{}{}", verified.out, verified.err);
    assert!(
        verified.out.contains("digests are the same") && verified.out.contains("All is whole"),
        "{}",
        verified.out
    );
    server.kill();
    let refused = run(SERVER, &words(&["restore"], &[&dest, Path::new("--data"), &data]));
    assert!(refused.status == 2 && refused.err.contains("not empty"), "{}", refused.err);
    let restored = run(SERVER, &words(&["restore"], &[&dest, Path::new("--data"), &again]));
    assert_eq!(restored.status, 0, "{}{}", restored.out, restored.err);
    // The same key, the same codes, what was said before the backup.
    let server = ServerProcess::start(SERVER, &again);
    assert!(server.printed.contains("2 runs") || server.printed.contains("on hold"), "{}", server.printed);
    let mut link = server.link(join("Bo"), None, Some(0)).await;
    link.wait("what was said", |message| format!("{message:?}").contains("before 4").then_some(())).await;
    let (status, text) = server.rest("GET", "/api/runs", &key, None);
    assert!(status == 200 && text.contains("Blue"), "{text}");
}

#[test]
fn damage_is_named_and_told_by_the_exit_status() {
    let folder = tempfile::tempdir().expect("a folder");
    let data = folder.path().join("data");
    let server = ServerProcess::start(SERVER, &data);
    let body = json!({ "drill": "first-light", "teams": ["Red"], "hold": false });
    let (status, text) = server.rest("POST", "/api/runs", &server.key(), Some(&body));
    assert_eq!(status, 201, "{text}");
    server.kill();
    let verified = run(SERVER, &words(&["verify", "--data"], &[&data]));
    assert_eq!(verified.status, 0, "{}{}", verified.out, verified.err);
    let opened: Value = serde_json::from_str(&text).expect("JSON");
    let id = opened["runs"][0]["run"].as_str().expect("an id");
    let file = data.join("archive").join(format!("{id}.jsonl"));
    let mut bytes = fs::read(&file).expect("read");
    bytes[400] ^= 1;
    fs::write(&file, bytes).expect("written");
    let verified = run(SERVER, &words(&["verify", "--data"], &[&data]));
    assert!(verified.status == 1 && verified.out.contains("Red (first-light)"), "{}", verified.out);
    assert!(verified.out.contains("DAMAGED"), "{}", verified.out);
    let one = run(SERVER, &words(&["verify"], &[&file]));
    assert!(one.status == 1 && one.out.contains("line 2"), "{}", one.out);
    let nothing = run(SERVER, &words(&["backup", "x", "--data"], &[&folder.path().join("nowhere")]));
    assert_eq!(nothing.status, 2, "{}", nothing.out);
}
