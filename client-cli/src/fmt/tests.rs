//! The rules one by one, and what holds for every file of the library, as it is and with its white space disturbed.

use super::layout::laid_out;
use super::proof::says_the_same;
use super::*;
use deadship_run::library::BUILT_IN;
use proptest::prelude::*;
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

/// The text laid out; it says the same, and stays as it is from now on.
#[track_caller]
fn sound(text: &str) -> String {
    let once = laid_out(text);
    assert_eq!(says_the_same(text, &once), Ok(()));
    assert!(laid_out(&once) == once, "laid out again it is another: {}", laid_out(&once));
    once
}

#[track_caller]
fn becomes(text: &str, wanted: &str) {
    assert_eq!(sound(text), wanted);
    assert_eq!(sound(wanted), wanted);
}

#[test]
fn keys_and_values() {
    becomes("format=1\na  =  'b'  \n\tc.\"d e\" . f=true", "format = 1\na = 'b'\nc.\"d e\".f = true\n");
    becomes(
        "day = 1979-05-27 07:32:00  # a day\nless = -1.5e+3",
        "day = 1979-05-27 07:32:00  # a day\nless = -1.5e+3\n",
    );
    // Quotes stay, and so does everything within them.
    becomes(
        "a=\"\"\"\n  b = [1,2]  \n\n\n# no comment\"\"\"\n",
        "a = \"\"\"\n  b = [1,2]  \n\n\n# no comment\"\"\"\n",
    );
    becomes("a='[x] == \"y\"'\n", "a = '[x] == \"y\"'\n");
}

#[test]
fn blank_lines_and_heads() {
    becomes(
        "\n\na = 1\n\n\nb = 2\n[ c . 'd' ]\n\ne = 3\n[[f]]\n\n\n",
        "a = 1\n\nb = 2\n\n[c.'d']\ne = 3\n\n[[f]]\n",
    );
    // Comments right over a head belong to it; others stand alone.
    becomes("a = 1\n# of b\n# of b too\n[b]\n", "a = 1\n\n# of b\n# of b too\n[b]\n");
    becomes("a = 1\n# of a\n\n[b]\n", "a = 1\n# of a\n\n[b]\n");
    becomes("[b]\n\n# first\nc = 1\n", "[b]\n\n# first\nc = 1\n");
    // Where a table goes on with one of its own, the author chooses.
    becomes("[[state]]\nname = 1\n[state.set]\n", "[[state]]\nname = 1\n[state.set]\n");
    becomes("[[state]]\nname = 1\n\n\n[state.set]\n", "[[state]]\nname = 1\n\n[state.set]\n");
    becomes("[a]\n[[a.b]]\n[c.d]\n", "[a]\n\n[[a.b]]\n\n[c.d]\n");
}

#[test]
fn comments_stay_where_they_are() {
    becomes(
        "  # far in  \na=1   # aligned\nbb=2#close\n[c]# of c\n",
        "  # far in\na = 1   # aligned\nbb = 2 #close\n\n[c] # of c\n",
    );
    becomes(
        "a = [ # of all\n1,# of one\n\n\n# alone\n2 # of two\n, # behind\n\n]\n",
        "a = [ # of all\n    1, # of one\n\n    # alone\n    2, # of two\n    # behind\n]\n",
    );
    becomes("a = [\n# nothing else\n]\n", "a = [\n    # nothing else\n]\n");
}

#[test]
fn lists_and_tables_in_braces() {
    becomes(
        "a=[1,2 ,3,]\nb=[ ]\nc={}\nd={x=1,y.z = [ 'q' ]}\n",
        "a = [1, 2, 3]\nb = []\nc = {}\nd = { x = 1, y.z = ['q'] }\n",
    );
    becomes("a = [\n1, 2,\n [3,\n4]]\n", "a = [\n    1,\n    2,\n    [\n        3,\n        4,\n    ],\n]\n");
    becomes("a = [\n\n]\n", "a = []\n");
    becomes("a = [{x=[\n1]}]\n", "a = [{ x = [\n    1,\n] }]\n");
    becomes("a = {\n x=1, # one\n y=2 }\n", "a = {\n    x = 1, # one\n    y = 2,\n}\n");
}

#[test]
fn lists_that_are_too_wide_are_broken() {
    let list = |last: usize| format!("abc = [\"{}\", \"{}\"]\n", "x".repeat(50), "y".repeat(last));
    // 7 before it, 52 and 58 with quotes, 2 between them, a bracket.
    becomes(&list(56), &list(56));
    let wide = sound(&list(57));
    assert_eq!(wide, format!("abc = [\n    \"{}\",\n    \"{}\",\n]\n", "x".repeat(50), "y".repeat(57)));
    // One text alone is as wide on a line of its own.
    let alone = format!("abc = [\"{}\"]\n", "x".repeat(150));
    becomes(&alone, &alone);
    // Nothing in braces is broken: TOML 1.0 would not read it.
    let braces = format!("a = {{ b = [\"{}\"], c = 1 }}\n", "x".repeat(150));
    becomes(&braces, &braces);
    // Outer lists first; inner ones only when they are still too wide.
    let nested = format!("a = [[\"{0}\", \"{0}\"], [1]]\n", "x".repeat(60));
    let inner = format!("    [\n        \"{0}\",\n        \"{0}\",\n    ],\n", "x".repeat(60));
    becomes(&nested, &format!("a = [\n{inner}    [1],\n]\n"));
}

#[test]
fn ends_of_lines_and_of_files() {
    becomes("", "");
    becomes("\n \n", "");
    becomes("# only\n\n\n  # comments", "# only\n\n  # comments\n");
    becomes("\u{feff}a = 1\n", "a = 1\n");
    becomes("a=1\r\n\r\n\r\nb='''\r\nx\r\n'''", "a = 1\r\n\r\nb = '''\r\nx\r\n'''\r\n");
    // The first line decides; what stands in a text of several lines is the author's.
    becomes("a=1\nb=2\r\nc='''\r\nx'''\r\n", "a = 1\nb = 2\nc = '''\r\nx'''\n");
}

#[test]
fn the_first_line_that_differs_is_told() {
    for (text, line, help) in [
        ("a = 1\nb=2\n", 2, "becomes `b = 2`"),
        ("a = 1\n[b]\n", 2, "a blank line before it"),
        ("a = 1\n\n\nb = 1\n", 3, "without this blank line"),
        ("a = 1 \n", 1, "no spaces at its end"),
        ("a = 1\n\n", 3, "no blank line at the end"),
        ("a = 1", 2, "a line end at the end"),
        ("\u{feff}a = 1\n", 1, "without the byte order mark at the beginning"),
        ("a = 1\nb = 2\r\n", 2, "lines end as the first one does, also the last one"),
    ] {
        let file = TextFile::new("a.toml", text);
        let told = first_difference(&file, &laid_out(text), "is not formatted");
        assert_eq!((told.line, told.help.as_deref()), (line, Some(help)), "{text:?}");
    }
}

#[test]
fn the_library_is_formatted() {
    for (name, text) in BUILT_IN {
        assert!(sound(text) == *text, "{name}");
    }
}

/// Numbers from a seed (Knuth's constants): what is disturbed needs no more.
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % sides
    }

    fn one<'w>(&mut self, words: &[&'w str]) -> &'w str {
        words[self.below(words.len())]
    }
}

/// The text with other white space, where that changes nothing. `wild`: also line ends within lists, and more blank lines.
fn disturbed(text: &str, dice: &mut Dice, wild: bool) -> String {
    const SPACES: [&str; 5] = ["", "", " ", "   ", "\t "];
    const BREAKS: [&str; 6] = ["", " ", "\n", "  \n ", "\n\n\n", "\t"];
    const ENDS: [&str; 4] = ["\n", " \n", "\n\n", "\n \t\n\n"];
    let mut out = String::new();
    // Brackets that are open, in values; the head of a table opens none.
    let mut open: Vec<TokenKind> = Vec::new();
    let (mut in_head, mut at_start) = (false, true);
    for token in Source::new(text).lex() {
        let raw = &text[token.span().start()..token.span().end()];
        let kind = token.kind();
        in_head |= at_start && kind == TokenKind::LeftSquareBracket;
        if at_start && !matches!(kind, TokenKind::Comment | TokenKind::Newline | TokenKind::Whitespace) {
            out.push_str(dice.one(&SPACES));
        }
        at_start = kind == TokenKind::Newline && open.is_empty();
        let around = |dice: &mut Dice, open: &[TokenKind]| match open.last() {
            Some(TokenKind::LeftSquareBracket) if wild => dice.one(&BREAKS),
            _ => dice.one(&SPACES),
        };
        match kind {
            TokenKind::Newline => {
                in_head = false;
                let ends = if wild { dice.one(&ENDS) } else { dice.one(&ENDS[..2]) };
                out.push_str(ends);
            }
            TokenKind::Equals => {
                out.push_str(dice.one(&SPACES));
                out.push('=');
                out.push_str(dice.one(&SPACES));
            }
            TokenKind::LeftSquareBracket | TokenKind::LeftCurlyBracket if !in_head => {
                open.push(kind);
                out.push_str(raw);
                out.push_str(around(dice, &open));
            }
            TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket if !in_head => {
                out.push_str(around(dice, &open));
                open.pop();
                out.push_str(raw);
            }
            TokenKind::Comma => {
                out.push_str(around(dice, &open));
                out.push(',');
                out.push_str(around(dice, &open));
            }
            _ => out.push_str(raw),
        }
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn white_space_that_means_nothing_is_undone(at in 0..BUILT_IN.len(), seed: u64) {
        let (name, text) = BUILT_IN[at];
        let other = disturbed(text, &mut Dice(seed), false);
        prop_assert_eq!(says_the_same(text, &other), Ok(()), "{}", name);
        prop_assert!(laid_out(&other) == text, "{}", name);
    }

    #[test]
    fn whatever_the_white_space_nothing_is_lost(at in 0..BUILT_IN.len(), seed: u64) {
        let (name, text) = BUILT_IN[at];
        let other = disturbed(text, &mut Dice(seed), true);
        prop_assert_eq!(says_the_same(text, &other), Ok(()), "{}", name);
        let once = laid_out(&other);
        prop_assert_eq!(says_the_same(text, &once), Ok(()), "{}", name);
        prop_assert!(laid_out(&once) == once, "{}", name);
        prop_assert!(once.lines().all(|line| !line.ends_with([' ', '\t'])) || text.contains(" \n"), "{}", name);
        prop_assert!(!once.contains("\n\n\n") || text.contains("\n\n\n"), "{}", name);
    }
}
