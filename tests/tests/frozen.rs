//! One log of each released format, never rewritten: every later version reads it. What a newer model computes may
//! differ; what was recorded stands.

use deadship_tests::{run, top};

#[test]
fn logs_of_all_formats_can_be_read() {
    let folder = top().join("tests/fixtures");
    let mut read = 0;
    for entry in std::fs::read_dir(&folder).expect("the fixtures").flatten() {
        let path = entry.path().display().to_string();
        if !path.ends_with(".jsonl") {
            continue;
        }
        let said = run(env!("CARGO_BIN_EXE_deadship-under-test"), &["timeline", &path, "--all"]);
        assert_eq!(said.status, 0, "{path}: {}{}", said.out, said.err);
        assert!(
            said.out.contains("opens the run") && said.out.contains("the run is over"),
            "{path}:\n{}",
            said.out
        );
        read += 1;
    }
    assert!(read >= 1, "no frozen log was found");
}
