//! Names of things for the world outside. None can be resolved: `.invalid` never will be (RFC 2606), so that nobody
//! else's names are taken.

use std::fmt::Write;

/// What all of them begin with.
pub(crate) const HOME: &str = "https://deadship.invalid";

/// The name of a thing: the parts of its path.
pub(crate) fn iri(path: &[&str]) -> String {
    path.iter().fold(HOME.to_owned(), |mut iri, part| {
        iri.push('/');
        push_segment(&mut iri, part);
        iri
    })
}

/// One segment of a path: what is not unreserved is percent-encoded (RFC 3986, 2.1 and 2.3).
fn push_segment(iri: &mut String, part: &str) {
    for byte in part.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => iri.push(char::from(byte)),
            // Writing to a text cannot fail.
            _ => drop(write!(iri, "%{byte:02X}")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_names_stay_one_segment() {
        assert_eq!(iri(&["ships", "quillmere"]), "https://deadship.invalid/ships/quillmere");
        assert_eq!(iri(&["drills", "a b/ö?#%"]), "https://deadship.invalid/drills/a%20b%2F%C3%B6%3F%23%25");
    }
}
