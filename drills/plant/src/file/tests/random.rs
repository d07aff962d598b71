//! Whatever is done to a ship's text, reading it ends with an answer.

use super::bad::BAD;
use super::good::GOOD;
use super::{read, said};
use proptest::prelude::*;

/// A change: replace some characters from one place on by text.
fn change() -> impl Strategy<Value = (usize, usize, String)> {
    let text = prop_oneof![
        "[ -~\\n]{0,6}",
        Just("[[pipe]]\n".to_owned()),
        Just("\"*.\"".to_owned()),
        Just("{no}".to_owned()),
        Just("\u{e4}\u{1f6a2}".to_owned()),
        Just("= [1, {a = 'b'}]\n".to_owned()),
    ];
    (0..GOOD.len(), 0usize..12, text)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn mutations_never_panic(changes in prop::collection::vec(change(), 1..6)) {
        let mut letters: Vec<char> = GOOD.chars().collect();
        for (at, length, text) in changes {
            let at = at.min(letters.len());
            let end = (at + length).min(letters.len());
            letters.splice(at..end, text.chars());
        }
        let text: String = letters.into_iter().collect();
        let lines = text.split('\n').count() as u32;
        if let Err(problems) = read(&text) {
            prop_assert!(!problems.is_empty());
            for pair in problems.windows(2) {
                prop_assert!((pair[0].line, pair[0].column) <= (pair[1].line, pair[1].column));
            }
            prop_assert!(problems.iter().all(|problem| (1..=lines).contains(&problem.line) && problem.column >= 1));
        }
    }

    /// Lines lost, doubled or exchanged: TOML stays well formed more often than with single letters.
    #[test]
    fn lines_never_panic(base in prop::sample::select(vec![GOOD, BAD]), moves in prop::collection::vec((0usize..200, 0usize..200, 0u8..3), 1..8)) {
        let mut lines: Vec<&str> = base.lines().collect();
        for (from, to, what) in moves {
            let (from, to) = (from % lines.len(), to % lines.len());
            match what {
                0 => drop(lines.remove(from)),
                1 => lines.insert(to, lines[from]),
                _ => lines.swap(from, to),
            }
        }
        let text = lines.join("\n");
        // The same text gives the same answer.
        prop_assert_eq!(said(&text), said(&text));
    }
}
