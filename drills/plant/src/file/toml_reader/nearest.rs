//! The nearest known name to a name that is not known.

/// Longest name that is looked for, characters. No name of ours is half as long, and comparing takes as long as both
/// lengths multiplied: whoever sends long names shall not keep anybody waiting.
const LONGEST: usize = 120;

/// The known name that the author most likely meant; `None` when nothing is near enough to be worth saying.
///
/// Of equally near names the first wins, so the answer depends only on the order of `known`.
pub fn nearest<'k>(name: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    // Looked at before anything else is done with it: a name can be as long as a frame.
    let typed = name.chars().take(LONGEST + 1).count();
    if typed > LONGEST {
        return None;
    }
    // A third of the letters may be wrong, and never more than four.
    let allowed = (typed / 3).clamp(1, 4);
    let wanted = name.to_lowercase();
    let length = wanted.chars().count();
    let mut best: Option<(usize, &str)> = None;
    for candidate in known {
        // Each letter more or less is one wrong at least. Names of ours are ASCII: most are passed over by their length.
        if candidate.is_ascii() && candidate.len().abs_diff(length) > allowed {
            continue;
        }
        let lower = candidate.to_lowercase();
        if lower.chars().count().abs_diff(length) > allowed {
            continue;
        }
        let distance = strsim::osa_distance(&wanted, &lower);
        if distance <= allowed && candidate != name && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// What to say about a name that is not known: the nearest one, or all where there are few.
pub(super) fn help<'k>(name: &str, known: &[&'k str]) -> (Option<&'k str>, Option<String>) {
    const FEW: usize = 12;
    match nearest(name, known.iter().copied()) {
        Some(near) => (Some(near), Some(format!("did you mean `{near}`?"))),
        None if known.is_empty() || known.len() > FEW => (None, None),
        None => (None, Some(format!("known: {}", known.join(", ")))),
    }
}

#[cfg(test)]
mod tests {
    use super::{LONGEST, nearest};

    #[test]
    fn only_what_is_near() {
        let known = ["suction", "delivery", "kv"];
        assert_eq!(nearest("sucton", known), Some("suction"));
        assert_eq!(nearest("Delivery", known), Some("delivery"));
        assert_eq!(nearest("kw", known), Some("kv"));
        assert_eq!(nearest("pressure", known), None);
        assert_eq!(nearest("", known), None);
    }

    #[test]
    fn a_length_that_differs_by_what_may_be_wrong_is_still_near() {
        let known = ["governor.speed", "governor.speed.set", "cooler"];
        assert_eq!(nearest("governor.spee", known), Some("governor.speed"));
        // Four letters more, four letters less; five are too many.
        assert_eq!(nearest("governor.speed.set.now", known), Some("governor.speed.set"));
        assert_eq!(nearest("governor.speed.set.onces", known), None);
        assert_eq!(nearest("vernor.speed", ["governor.speed", "governor.speed.set"]), Some("governor.speed"));
        assert_eq!(nearest("nor.speed", ["governor.speed"]), None);
        // Of equally near ones the first.
        assert_eq!(nearest("kx", ["cooler", "kv", "kw"]), Some("kv"));
    }

    #[test]
    fn names_longer_than_any_are_not_looked_for() {
        let (longest, longer) = ("a".repeat(LONGEST), "a".repeat(LONGEST + 1));
        let known = format!("{longest}b");
        assert_eq!(nearest(&longest, [known.as_str()]), Some(known.as_str()));
        assert_eq!(nearest(&longer, [known.as_str()]), None);
    }
}
