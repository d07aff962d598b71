//! A QR code in a terminal, so that a telephone finds the page that says how to join.

use clap::ValueEnum;
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;
use std::io::IsTerminal as _;

/// When a QR code is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Qr {
    /// Always.
    Yes,
    /// Never.
    No,
    /// Where the output is a terminal that can show it.
    Auto,
}

/// Modules of quiet around the code: four, as ISO/IEC 18004 asks.
const QUIET: usize = 4;

/// Spaces before each line.
const INDENT: &str = "  ";

/// The drawing of this text, if it is wanted here; lines that end in a line feed.
pub(crate) fn drawing(wish: Qr, text: &str) -> Option<String> {
    let terminal = std::io::stdout().is_terminal();
    let set = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let wanted = match wish {
        Qr::Yes => true,
        Qr::No => false,
        Qr::Auto => terminal && can_show(set("TERM").as_deref(), locale(set).as_deref()),
    };
    // A log that is read later should hold no colours; nor should who asked for none get them.
    let coloured = terminal && set("NO_COLOR").is_none();
    if wanted { draw(text, coloured) } else { None }
}

fn locale(set: impl Fn(&str) -> Option<String>) -> Option<String> {
    set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"))
}

/// Blocks need a terminal that moves its cursor, and an encoding that has them.
fn can_show(term: Option<&str>, locale: Option<&str>) -> bool {
    let unicode = locale.is_some_and(|locale| {
        let locale = locale.to_lowercase();
        locale.contains("utf-8") || locale.contains("utf8")
    });
    term.is_none_or(|term| term != "dumb") && unicode
}

/// Two rows of modules in a row of characters. Without colours the light modules are drawn: on the usual dark terminal
/// that is the right way round.
fn draw(text: &str, coloured: bool) -> Option<String> {
    let code = QrCode::with_error_correction_level(text, EcLevel::L).ok()?;
    let (width, modules) = (code.width(), code.to_colors());
    let size = width + 2 * QUIET;
    let light = |x: usize, y: usize| {
        let inside = (QUIET..QUIET + width).contains(&x) && (QUIET..QUIET + width).contains(&y);
        // Below the last row there is nothing to be seen.
        y < size && !(inside && modules[(y - QUIET) * width + x - QUIET] == Color::Dark)
    };
    let mut drawn = String::new();
    for y in (0..size).step_by(2) {
        let row: String = (0..size)
            .map(|x| match (light(x, y), light(x, y + 1)) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            })
            .collect();
        // Writing into a String cannot fail.
        let _ = match coloured {
            true => writeln!(drawn, "{INDENT}\u{1b}[97;40m{row}\u{1b}[0m"),
            false => writeln!(drawn, "{INDENT}{row}"),
        };
    }
    Some(drawn)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The modules as drawn, true for dark, without the quiet zone, which must be light.
    fn modules(drawn: &str) -> Vec<Vec<bool>> {
        let mut rows = Vec::new();
        for line in drawn.lines() {
            let cells: Vec<char> = line.strip_prefix(INDENT).unwrap().chars().collect();
            rows.push(cells.iter().map(|c| !matches!(c, '█' | '▀')).collect::<Vec<bool>>());
            rows.push(cells.iter().map(|c| !matches!(c, '█' | '▄')).collect());
        }
        let size = rows[0].len();
        rows.truncate(size);
        let quiet = |i: usize| !(QUIET..size - QUIET).contains(&i);
        let border = (0..size).flat_map(|y| (0..size).map(move |x| (x, y)));
        assert!(border.filter(|(x, y)| quiet(*x) || quiet(*y)).all(|(x, y)| !rows[y][x]), "not quiet");
        let inner = rows[QUIET..size - QUIET].iter().map(|row| row[QUIET..size - QUIET].to_vec());
        inner.collect()
    }

    #[test]
    fn what_is_drawn_is_the_code() {
        let text = "http://192.168.178.120:7333/";
        let drawn = modules(&draw(text, false).unwrap());
        let code = QrCode::with_error_correction_level(text, EcLevel::L).unwrap();
        let dark: Vec<bool> = code.to_colors().iter().map(|color| *color == Color::Dark).collect();
        assert_eq!(drawn.concat(), dark);
        // The three finder patterns that every reader looks for: a dark ring of seven modules.
        let last = drawn.len() - 7;
        for (x, y) in [(0, 0), (last, 0), (0, last)] {
            assert!((0..7).all(|i| drawn[y][x + i] && drawn[y + 6][x + i] && drawn[y + i][x]));
            assert!(!drawn[y + 1][x + 1] && drawn[y + 3][x + 3]);
        }
    }

    #[test]
    fn it_is_drawn_where_it_can_be_seen() {
        assert!(can_show(Some("xterm-256color"), Some("en_GB.UTF-8")) && can_show(None, Some("C.utf8")));
        assert!(!can_show(Some("dumb"), Some("en_GB.UTF-8")) && !can_show(Some("xterm"), None));
        assert!(drawing(Qr::No, "x").is_none() && drawing(Qr::Yes, "x").is_some());
        assert!(!draw("x", false).unwrap().contains('\u{1b}'));
    }
}
