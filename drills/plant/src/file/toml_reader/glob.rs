//! Patterns with `*`.

/// Does the pattern match the whole text? `*` stands for any run of characters, also dots, also none.
pub fn matches(pattern: &str, text: &str) -> bool {
    let mut parts = pattern.split('*');
    let first = parts.next().unwrap_or("");
    let Some(mut rest) = text.strip_prefix(first) else {
        return false;
    };
    let mut parts = parts.peekable();
    if parts.peek().is_none() {
        return rest.is_empty();
    }
    // The leftmost match of each part leaves most for the parts after it; the last one must reach the end.
    while let Some(part) = parts.next() {
        if parts.peek().is_none() {
            return rest.ends_with(part);
        }
        match rest.find(part) {
            Some(at) => rest = &rest[at + part.len()..],
            None => return false,
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::matches;

    #[test]
    fn stars_match_runs() {
        assert!(matches("*.valve.position", "dg1.ht.valve.position"));
        assert!(matches("dg*.sump.volume", "dg1.sump.volume"));
        assert!(matches("*", ""));
        assert!(matches("a*b*c", "a.b.b.c"));
        assert!(matches("a", "a"));
        assert!(!matches("a", "ab"));
        assert!(!matches("*.valve.position", "valve.position"));
        assert!(!matches("a*ba", "aba.b"));
        assert!(!matches("ab*ba", "aba"));
    }
}
