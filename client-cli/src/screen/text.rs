//! Text for cells: what others wrote made harmless, cut to its width.

use deadship_run::words::is_unseen;
use ratatui::text::Span;

/// Width in cells.
pub(crate) fn width(text: &str) -> usize {
    Span::raw(text).width()
}

/// Text of others cannot command the terminal or hide in it: what cannot be seen is shown as such.
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c == '\t' {
                ' '
            } else if is_unseen(c) {
                '\u{FFFD}'
            } else {
                c
            }
        })
        .collect()
}

/// Cut to a width in cells, with a sign that there was more.
pub(crate) fn cut(text: &str, most: usize) -> String {
    if width(text) <= most {
        return text.to_owned();
    }
    let mut cut = String::new();
    let mut used = 0;
    for c in text.chars() {
        let wide = width(c.encode_utf8(&mut [0; 4]));
        if used + wide + 1 > most {
            break;
        }
        used += wide;
        cut.push(c);
    }
    if most > 0 {
        cut.push('…');
    }
    cut
}

/// Cut or filled to exactly this width.
pub(crate) fn fit(text: &str, wide: usize) -> String {
    let cut = cut(text, wide);
    let gap = wide.saturating_sub(width(&cut));
    cut + &" ".repeat(gap)
}

/// Broken at spaces into lines of at most this width; a word that is wider alone is broken.
pub(crate) fn wrap(text: &str, wide: usize) -> Vec<String> {
    let wide = wide.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut word = word.to_owned();
        if !line.is_empty() && width(&line) + 1 + width(&word) > wide {
            lines.push(std::mem::take(&mut line));
        }
        while width(&word) > wide {
            let head: String = take_width(&word, wide);
            word = word[head.len()..].to_owned();
            lines.push(head);
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(&word);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// The beginning of a text that fits; at least one character.
fn take_width(text: &str, wide: usize) -> String {
    let mut head = String::new();
    for c in text.chars() {
        let more = width(c.encode_utf8(&mut [0; 4]));
        if !head.is_empty() && width(&head) + more > wide {
            break;
        }
        head.push(c);
    }
    head
}

/// Ticks as minutes and seconds: `3:20`.
pub(crate) fn clock(tick: u64) -> String {
    let seconds = tick / 20;
    match seconds / 3600 {
        0 => format!("{}:{:02}", seconds / 60, seconds % 60),
        hours => format!("{hours}:{:02}:{:02}", seconds / 60 % 60, seconds % 60),
    }
}

/// How long ago, short: `12 s`, `3 min`.
pub(crate) fn age(ticks: u64) -> String {
    let seconds = ticks / 20;
    match seconds {
        0..=99 => format!("{seconds} s"),
        _ => format!("{} min", seconds / 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_cut_by_cells_not_by_letters() {
        assert_eq!(cut("pump", 4), "pump");
        assert_eq!(cut("pumps", 4), "pum…");
        assert_eq!(width(&fit("水泵间", 5)), 5);
        assert_eq!(fit("水泵间", 5), "水泵…");
        assert_eq!(fit("a", 3), "a  ");
        assert_eq!(cut("abc", 0), "");
    }

    #[test]
    fn what_others_wrote_is_harmless() {
        assert_eq!(clean("a\u{1b}[2J\tb\u{202e}"), "a\u{fffd}[2J b\u{fffd}");
    }

    #[test]
    fn long_words_are_broken() {
        assert_eq!(wrap("an overlongword here", 6), ["an", "overlo", "ngword", "here"]);
        assert_eq!(wrap("", 6), [""]);
    }

    #[test]
    fn times_are_short() {
        assert_eq!((clock(4_000), clock(75_000)), ("3:20".to_owned(), "1:02:30".to_owned()));
        assert_eq!((age(40), age(2_400)), ("2 s".to_owned(), "2 min".to_owned()));
    }
}
