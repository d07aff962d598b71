//! Times as people write and read them.

/// Longest time that is taken, s: ten days.
const LONGEST_S: f64 = 864_000.0;

/// Why a text is not a time.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimeProblem {
    /// Not a number, not a unit, or nothing at all.
    #[error("`{0}` is not a time: write it as `90s`, `12m30s`, `2 min 5 s`, `1h` or `12:30`")]
    NotATime(String),
    /// More than ten days.
    #[error("`{0}` is too long: ten days are the most")]
    TooLong(String),
}

/// Reads a time: `300s`, `12m30s`, `2 min 5 s`, `1h`, `0.5 s`, `12:30`, `1:02:03`.
///
/// # Errors
/// When it is something else.
pub fn parse_time(text: &str) -> Result<f64, TimeProblem> {
    let trimmed = text.trim();
    let bad = || TimeProblem::NotATime(trimmed.to_owned());
    let seconds = if trimmed.contains(':') { with_colons(trimmed) } else { with_units(trimmed) };
    let seconds = seconds.ok_or_else(bad)?;
    if seconds > LONGEST_S { Err(TimeProblem::TooLong(trimmed.to_owned())) } else { Ok(seconds) }
}

/// `[h:]m:s`.
fn with_colons(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    if parts.len() > 3 {
        return None;
    }
    let mut seconds = 0.0;
    for (i, part) in parts.iter().enumerate() {
        let last = i + 1 == parts.len();
        let value = number(part).filter(|value| last || value.fract() == 0.0)?;
        if i > 0 && value >= 60.0 {
            return None;
        }
        seconds = seconds * 60.0 + value;
    }
    Some(seconds)
}

/// Numbers each with a unit, the greatest first.
fn with_units(text: &str) -> Option<f64> {
    let mut rest = text;
    let mut seconds = 0.0;
    let mut greatest = f64::INFINITY;
    if rest.is_empty() {
        return None;
    }
    while !rest.is_empty() {
        let end = rest.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(rest.len());
        let value = number(&rest[..end])?;
        rest = rest[end..].trim_start();
        let end = rest.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(rest.len());
        let unit_s = match &rest[..end] {
            "h" => 3600.0,
            "m" | "min" => 60.0,
            "s" => 1.0,
            "ms" => 0.001,
            _ => return None,
        };
        if unit_s >= greatest {
            return None;
        }
        greatest = unit_s;
        seconds += value * unit_s;
        rest = rest[end..].trim_start();
    }
    Some(seconds)
}

/// Digits with at most one point, nothing else.
fn number(text: &str) -> Option<f64> {
    let plain =
        text.bytes().all(|b| b.is_ascii_digit() || b == b'.') && text.bytes().any(|b| b.is_ascii_digit());
    if plain { text.parse().ok() } else { None }
}

/// For the options of the command line.
pub(crate) fn time_option(text: &str) -> Result<f64, String> {
    parse_time(text).map_err(|problem| problem.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_as_people_write_them() {
        for (text, seconds) in [
            ("300s", 300.0),
            ("12m30s", 750.0),
            ("2 min 5 s", 125.0),
            ("2min5s", 125.0),
            ("1h", 3600.0),
            (" 0.5 s ", 0.5),
            ("50ms", 0.05),
            ("12:30", 750.0),
            ("1:02:03", 3723.0),
            ("0:00.5", 0.5),
        ] {
            assert_eq!(parse_time(text), Ok(seconds), "{text}");
        }
        for text in
            ["", "300", "5 x", "s", "5s 2m", "1s1s", "-5s", "12:75", "1:2:3:4", "1.5:00", ".", "5 s,", "1e3s"]
        {
            assert!(parse_time(text).is_err(), "{text}");
        }
        assert_eq!(parse_time("9999h"), Err(TimeProblem::TooLong("9999h".to_owned())));
    }
}
