//! The program as it is called: settings from flags, environment and file, and the doctor.

use std::path::Path;
use std::process::{Command, Output};

fn server(data: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_deadship-server"));
    for name in ["DEADSHIP_LISTEN", "DEADSHIP_DATA", "DEADSHIP_DRILLS", "DEADSHIP_CONFIG", "DEADSHIP_LOG"] {
        command.env_remove(name);
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

    std::fs::write(&file, "# For the class.\nlisten = \"127.0.0.1:7101\"\nlgo = \"json\"\n").unwrap();
    for words in [&["config"][..], &[]] {
        let output = server(folder.path(), words).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        let (_, err) = text_of(&output);
        assert!(err.contains(&format!("{}:3:1: ", file.display())) && err.contains("`log`"), "{err}");
    }
}
