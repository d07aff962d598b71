//! The program as it is called: settings from flags, environment and file, and the doctor.
#![allow(clippy::unwrap_used, reason = "helpers of tests are not seen as tests")]

use std::path::Path;
use std::process::{Command, Output};

fn server(data: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_deadship-server"));
    for name in ["LISTEN", "DATA", "DRILLS", "CONFIG", "LOG", "TLS"] {
        command.env_remove(format!("DEADSHIP_{name}"));
    }
    command.arg("--data").arg(data).args(words);
    command
}

fn text_of(output: &Output) -> (String, String) {
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&output.stdout), text(&output.stderr))
}

#[test]
fn flags_win_over_the_environment_and_that_over_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("deadship.toml");
    std::fs::write(&file, "listen = \"127.0.0.1:7101\"\nlog = \"json\"\n").unwrap();
    let listen = |command: &mut Command| {
        let (out, err) = text_of(&command.output().unwrap());
        let line =
            out.lines().find(|line| line.starts_with("listen")).unwrap_or_else(|| panic!("{out}{err}"));
        line.split_whitespace().skip(1).collect::<Vec<_>>().join(" ")
    };
    let place = format!("{}:1:10", file.display());
    assert_eq!(listen(&mut server(folder.path(), &["config"])), format!("127.0.0.1:7101 {place}"));
    let mut command = server(folder.path(), &["config"]);
    assert_eq!(listen(command.env("DEADSHIP_LISTEN", "127.0.0.1:7102")), "127.0.0.1:7102 environment");
    let mut command = server(folder.path(), &["config", "--listen", "127.0.0.1:7103"]);
    assert_eq!(listen(command.env("DEADSHIP_LISTEN", "127.0.0.1:7102")), "127.0.0.1:7103 flag");

    let mut command = server(folder.path(), &["config"]);
    let (out, err) = text_of(&command.env("DEADSHIP_TLS", "true").output().unwrap());
    assert!(
        out.lines().any(|line| line.starts_with("tls  ")
            && line.contains(" true ")
            && line.ends_with("environment")),
        "{out}{err}"
    );
    let output = server(folder.path(), &["config"]).env("DEADSHIP_TLS", "yse").output().unwrap();
    assert!(output.status.code() == Some(2) && text_of(&output).1.contains("yse"), "{output:?}");

    std::fs::write(&file, "# For the class.\nlisten = \"127.0.0.1:7101\"\nlgo = \"json\"\n").unwrap();
    for words in [&["config"][..], &[]] {
        let output = server(folder.path(), words).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        let (_, err) = text_of(&output);
        assert!(err.contains(&format!("{}:3:1: ", file.display())) && err.contains("`log`"), "{err}");
    }
}

#[test]
fn the_doctor_says_what_is_wrong_and_fails() {
    let folder = tempfile::tempdir().unwrap();
    let output = server(folder.path(), &["doctor", "--listen", "127.0.0.1:0", "--json"]).output().unwrap();
    let (out, err) = text_of(&output);
    let report: serde_json::Value = serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}{err}"));
    assert_eq!((output.status.code(), &report["fit"]), (Some(0), &serde_json::Value::Bool(true)), "{out}");
    let names: Vec<&str> =
        report["checks"].as_array().unwrap().iter().map(|check| check["name"].as_str().unwrap()).collect();
    let expected =
        ["folder", "archives", "space", "disk", "port", "addresses", "clock", "open files", "pace"];
    for name in expected {
        assert!(names.contains(&name), "{name}: {out}");
    }

    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    drop(std::thread::spawn(move || taken.incoming().for_each(drop)));
    let output = server(folder.path(), &["doctor", "--listen", &address]).output().unwrap();
    let (out, _) = text_of(&output);
    assert_eq!(output.status.code(), Some(1), "{out}");
    let port = format!("BAD  port         {address} is in use by another program");
    assert!(out.lines().any(|line| line.starts_with(&port)), "{out}");
    assert!(out.contains("not fit"), "{out}");
}

#[test]
fn the_file_that_is_installed_is_read_with_all_its_settings() {
    let folder = tempfile::tempdir().unwrap();
    let packaged = include_str!("../packaging/deadship.toml");
    // What stands behind a `#` and has a `=` is a setting to be taken into use.
    let used: Vec<&str> = packaged
        .lines()
        .map(|line| line.strip_prefix("# ").filter(|l| l.contains(" = ")).unwrap_or(line))
        .collect();
    let file = folder.path().join("packaged.toml");
    for (text, listen) in [(packaged.to_owned(), "127.0.0.1:7333"), (used.join("\n"), "0.0.0.0:7333")] {
        std::fs::write(&file, text).unwrap();
        let output = server(folder.path(), &["config", "--config"]).arg(&file).output().unwrap();
        let (out, err) = text_of(&output);
        assert!(output.status.success() && out.contains(listen), "{out}{err}");
    }
}
