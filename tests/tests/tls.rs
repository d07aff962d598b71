//! Encryption from end to end: a real server with its own authority, and the real terminal that trusts it, or does not.

use deadship_tests::server::ServerProcess;
use deadship_tests::{Said, run};
use std::path::PathBuf;

const CLIENT: &str = env!("CARGO_BIN_EXE_deadship-under-test");
const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

struct Site {
    server: ServerProcess,
    folder: tempfile::TempDir,
}

impl Site {
    fn start(words: &[&str]) -> Site {
        let folder = tempfile::tempdir().expect("a folder");
        Site { server: ServerProcess::start_with(SERVER, words, folder.path()), folder }
    }

    fn authority(&self) -> PathBuf {
        self.folder.path().join("authority/authority.pem")
    }

    /// Teaches with nothing to say: comes in and goes.
    fn teach(&self, scheme: &str, authority: Option<&PathBuf>) -> Said {
        let address = format!("{scheme}{}", self.server.address);
        let (key, file) = (self.server.key(), authority.map(|file| file.display().to_string()));
        let mut args = vec!["teach", &address, "--key", &key];
        args.extend(file.iter().flat_map(|file| ["--authority", file.as_str()]));
        run(CLIENT, &args)
    }
}

fn refused(said: &Said, words: &[&str]) {
    let all = format!("{}{}", said.out, said.err);
    assert_eq!(said.status, 2, "{all}");
    for word in words {
        assert!(all.contains(word), "'{word}' is not in: {all}");
    }
}

#[test]
fn the_terminal_trusts_the_box_whose_file_it_has() {
    let tls = Site::start(&["--tls"]);
    for word in ["https://127.0.0.1", "wss://127.0.0.1", "authority.pem", "SHA-256", "DEADSHIP_AUTHORITY"] {
        assert!(tls.server.printed.contains(word), "'{word}' is not in: {}", tls.server.printed);
    }
    let said = tls.teach("https://", Some(&tls.authority()));
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);

    // Without the file, with the file of another box, with a file that is none: not a byte of the key is sent.
    refused(&tls.teach("https://", None), &["encryption", "--authority FILE", "DEADSHIP_AUTHORITY"]);
    let other = Site::start(&["--tls"]);
    refused(&tls.teach("https://", Some(&other.authority())), &["not vouched for", "SHA-256"]);
    refused(&tls.teach("https://", Some(&tls.folder.path().join("FORMAT"))), &["FORMAT", "authority.pem"]);

    // Without encryption on the port that has it, and the other way round: each is told what to write.
    refused(&tls.teach("", None), &["https://127.0.0.1", "--tls", "--authority"]);
    let plain = Site::start(&[]);
    refused(&plain.teach("https://", Some(&tls.authority())), &["without encryption", "http://127.0.0.1"]);

    // The same authority after a restart: who trusted it once need do nothing.
    let Site { server, folder } = tls;
    let (kept, key) =
        (std::fs::read(folder.path().join("authority/authority.pem")).expect("read"), server.key());
    server.kill();
    let server = ServerProcess::start_with(SERVER, &["--tls"], folder.path());
    assert_eq!(std::fs::read(folder.path().join("authority/authority.pem")).expect("read"), kept);
    let file = folder.path().join("authority/authority.pem").display().to_string();
    let args = ["teach", &format!("wss://{}", server.address), "--key", &key, "--authority", &file];
    let said = run(CLIENT, &args);
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);
}

#[test]
fn the_authority_is_backed_up_and_restored() {
    let place = tempfile::tempdir().expect("a folder");
    let path = |name: &str| place.path().join(name);
    let text = |name: &str| path(name).display().to_string();
    let keep = |words: &[&str], status: i32| -> Said {
        let said = run(SERVER, words);
        assert_eq!(said.status, status, "{words:?}: {}{}", said.out, said.err);
        said
    };
    // By the file this time, not by a flag.
    std::fs::create_dir(path("data")).expect("made");
    std::fs::write(path("data/deadship.toml"), "tls = true\n").expect("written");
    let server = ServerProcess::start(SERVER, &path("data"));
    let key = server.key();
    let print = server.printed.split_whitespace().find(|word| word.matches(':').count() == 31);
    let print = print.unwrap_or_else(|| panic!("no SHA-256 in: {}", server.printed)).to_owned();
    let made = keep(&["backup", &text("backup"), "--data", &text("data")], 0);
    for word in ["secret key", print.as_str(), "nobody else reads it"] {
        assert!(made.out.contains(word), "'{word}' is not in: {}", made.out);
    }
    server.kill();
    let restored = keep(&["restore", &text("backup"), "--data", &text("again")], 0);
    assert!(restored.out.contains(&print), "{}", restored.out);
    let verified = keep(&["verify", &text("again"), &text("backup")], 0);
    assert_eq!(verified.out.matches(&print).count(), 2, "{}", verified.out);
    // Who trusts the box goes on trusting it.
    let server = ServerProcess::start_with(SERVER, &["--tls"], &path("again"));
    let address = format!("https://{}", server.address);
    let args = ["teach", &address, "--key", &key, "--authority", &text("data/authority/authority.pem")];
    let said = run(CLIENT, &args);
    assert_eq!(said.status, 0, "{}{}", said.out, said.err);
    server.kill();

    std::fs::write(path("backup/authority/authority.key"), "nothing").expect("written");
    let verified = keep(&["verify", &text("backup")], 1);
    assert!(verified.out.contains("authority.key: DAMAGED"), "{}", verified.out);
    let refused = keep(&["restore", &text("backup"), "--data", &text("third")], 2);
    assert!(refused.err.contains("authority/authority.key is missing or damaged"), "{}", refused.err);
    std::fs::remove_file(path("again/authority/authority.key")).expect("removed");
    let verified = keep(&["verify", "--data", &text("again")], 1);
    assert!(verified.out.contains("the box's own authority: DAMAGED"), "{}", verified.out);
}
