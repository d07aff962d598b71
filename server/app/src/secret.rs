//! Keys, codes and tokens: made from the system's randomness, kept as hashes.

use serde::{Deserialize, Serialize};

/// Letters and digits that cannot be mistaken for each other, read aloud or off a board.
const ALPHABET: &[u8; 31] = b"23456789ABCDEFGHJKMNPQRSTUVWXYZ";

/// Characters of a join code.
pub(crate) const CODE_LENGTH: usize = 6;

/// Characters of the instructor's key: 31^20, more than 2^99 possibilities.
const KEY_LENGTH: usize = 20;

/// The hash of a secret. Comparing takes the same time whatever differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hashed(blake3::Hash);

impl Hashed {
    /// Of a secret as it was given out.
    pub(crate) fn of(secret: &str) -> Hashed {
        Hashed(blake3::hash(secret.as_bytes()))
    }

    /// Is this the secret?
    pub(crate) fn is(&self, secret: &str) -> bool {
        // The hash's own equality compares in constant time.
        Hashed::of(secret) == *self
    }
}

impl Serialize for Hashed {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&self.0.to_hex())
    }
}

impl<'de> Deserialize<'de> for Hashed {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Hashed, D::Error> {
        let text = String::deserialize(from)?;
        blake3::Hash::from_hex(&text).map(Hashed).map_err(serde::de::Error::custom)
    }
}

/// The system gave no randomness.
#[derive(Debug, thiserror::Error)]
#[error("the system gave no random numbers: {0}")]
pub struct NoRandomness(getrandom::Error);

/// A token: 32 random bytes in hexadecimal.
pub(crate) fn token() -> Result<String, NoRandomness> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(NoRandomness)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// A join code.
pub(crate) fn code() -> Result<String, NoRandomness> {
    letters(CODE_LENGTH)
}

/// An instructor's key, in groups of four.
pub(crate) fn key() -> Result<String, NoRandomness> {
    let letters = letters(KEY_LENGTH)?;
    let groups: Vec<&str> = (0..KEY_LENGTH / 4).map(|group| &letters[group * 4..group * 4 + 4]).collect();
    Ok(groups.join("-"))
}

/// A key or code as typed, as it was given out: without gaps, in capitals.
pub(crate) fn tidy(typed: &str) -> String {
    typed.chars().filter(|c| !c.is_whitespace() && *c != '-').map(|c| c.to_ascii_uppercase()).collect()
}

fn letters(count: usize) -> Result<String, NoRandomness> {
    // Bytes beyond a multiple of the alphabet's length are thrown away, so that every letter is equally likely.
    let most = 256 - 256 % ALPHABET.len();
    let mut text = String::with_capacity(count);
    while text.len() < count {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map_err(NoRandomness)?;
        let fair = bytes.iter().map(|byte| usize::from(*byte)).filter(|byte| *byte < most);
        text.extend(fair.take(count - text.len()).map(|byte| char::from(ALPHABET[byte % ALPHABET.len()])));
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_found_again_as_typed() {
        let key = key().unwrap();
        assert_eq!(key.len(), KEY_LENGTH + 4);
        let kept = Hashed::of(&tidy(&key));
        assert!(kept.is(&tidy(&format!(" {}", key.to_lowercase()))));
        assert!(!kept.is(&tidy("AAAA")));
        let text = serde_json::to_string(&kept).unwrap();
        assert_eq!(serde_json::from_str::<Hashed>(&text).unwrap(), kept);
    }

    #[test]
    fn codes_hold_no_letter_that_can_be_mistaken() {
        let code = code().unwrap();
        assert_eq!(code.len(), CODE_LENGTH);
        assert!(code.bytes().all(|byte| ALPHABET.contains(&byte)));
        assert_ne!(token().unwrap(), token().unwrap());
    }
}
