//! The nearest known name to a name that is not known.

/// The known name that the author most likely meant; `None` when nothing is near enough to be worth saying.
///
/// Of equally near names the first wins, so the answer depends only on the order of `known`.
pub fn nearest<'k>(name: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    let wanted = name.to_lowercase();
    let mut best: Option<(usize, &str)> = None;
    for candidate in known {
        let distance = strsim::osa_distance(&wanted, &candidate.to_lowercase());
        if candidate != name && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    let (distance, candidate) = best?;
    // A third of the letters may be wrong, and never more than four.
    let allowed = (name.chars().count() / 3).clamp(1, 4);
    (distance <= allowed).then_some(candidate)
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
    use super::nearest;

    #[test]
    fn only_what_is_near() {
        let known = ["suction", "delivery", "kv"];
        assert_eq!(nearest("sucton", known), Some("suction"));
        assert_eq!(nearest("Delivery", known), Some("delivery"));
        assert_eq!(nearest("kw", known), Some("kv"));
        assert_eq!(nearest("pressure", known), None);
        assert_eq!(nearest("", known), None);
    }
}
