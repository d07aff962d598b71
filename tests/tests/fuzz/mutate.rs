//! Damage to valid text: bytes, words, pieces of other seeds, numbers that nobody expects. The same number gives the same
//! damage, so that whatever is found can be found again.

/// Longest text that is made, bytes: what one frame or one small file can hold.
const LONGEST: usize = 32 * 1024;

/// Pieces that readers stumble over: ends of numbers, brackets, quotes, unseen letters, words of ours elsewhere.
const ODD: &[&str] = &[
    "0",
    "-0",
    "-1",
    "1e308",
    "1e-320",
    "1e999",
    "NaN",
    "inf",
    "18446744073709551616",
    "9223372036854775807",
    "99999999999999999999999999999999999999",
    "0x10",
    "1_000",
    ".5",
    "5.",
    "%",
    "°C",
    "bar",
    " 440 V",
    "1 h",
    "null",
    "true",
    "{",
    "}",
    "[",
    "]",
    "[[",
    "]]",
    "(",
    ")",
    "((((((((",
    "\"",
    "'",
    "\"\"\"",
    "'''",
    "\\",
    "\\u0000",
    "\\ud800",
    "\n",
    "\r\n",
    "\t",
    "\u{0}",
    "\u{1b}[2J",
    "\u{202e}",
    "\u{200b}",
    "\u{feff}",
    "é",
    "𝛀",
    "=",
    "==",
    "&&",
    "||",
    "!",
    "?",
    ":",
    "#",
    "*",
    "**",
    "..",
    ".",
    ",",
    ";",
    "name",
    "type",
    "format",
    "template",
    "use",
    "$",
    "all",
    "to",
    "set",
    "fault",
    "over",
    "every",
];

/// Numbers in a fixed order (SplitMix64).
pub struct Dice(pub u64);

impl Dice {
    /// The next number.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Below this.
    pub fn below(&mut self, most: usize) -> usize {
        (self.next() % most.max(1) as u64) as usize
    }

    /// One of these.
    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.below(of.len())]
    }
}

/// A seed with one to six kinds of damage. What is no text any more is made one, as every reader's caller does.
pub fn damaged(dice: &mut Dice, seeds: &[String]) -> String {
    let mut bytes = dice.one(seeds).clone().into_bytes();
    for _ in 0..=dice.below(6) {
        damage(dice, seeds, &mut bytes);
        bytes.truncate(LONGEST);
    }
    String::from_utf8(bytes).unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
}

fn damage(dice: &mut Dice, seeds: &[String], bytes: &mut Vec<u8>) {
    let at = dice.below(bytes.len() + 1);
    match dice.below(9) {
        0 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
        1 if at < bytes.len() => bytes[at] = dice.next() as u8,
        2 => {
            let end = (at + 1 + dice.below(40)).min(bytes.len());
            bytes.drain(at..end);
        }
        3 => {
            let odd = dice.one(ODD);
            bytes.splice(at..at, odd.bytes());
        }
        // A word or number becomes something odd.
        4 => {
            let (from, to) = word_at(bytes, at);
            let odd = dice.one(ODD);
            bytes.splice(from..to, odd.bytes());
        }
        // A word stands where another stood.
        5 => {
            let other = dice.below(bytes.len() + 1);
            let (from, to) = word_at(bytes, other);
            let word = bytes[from..to].to_vec();
            let (from, to) = word_at(bytes, at);
            bytes.splice(from..to, word);
        }
        // The beginning of this and the end of another.
        6 => {
            let other = dice.one(seeds).as_bytes();
            let from = dice.below(other.len() + 1);
            bytes.truncate(at);
            bytes.extend_from_slice(&other[from..]);
        }
        // A piece again, and again.
        7 => {
            let end = (at + 1 + dice.below(30)).min(bytes.len());
            let most = if dice.below(20) == 0 { 2_000 } else { 6 };
            let piece = bytes[at..end].repeat(1 + dice.below(most));
            bytes.splice(at..at, piece);
        }
        _ => {
            let end = (at + 1 + dice.below(200)).min(bytes.len());
            let piece: Vec<u8> = bytes.drain(at..end).collect();
            let to = dice.below(bytes.len() + 1);
            bytes.splice(to..to, piece);
        }
    }
}

/// Where the word around this place begins and ends.
fn word_at(bytes: &[u8], at: usize) -> (usize, usize) {
    let part = |b: &u8| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-' | b'.');
    let from = bytes[..at].iter().rposition(|b| !part(b)).map_or(0, |at| at + 1);
    let to = bytes[at..].iter().position(|b| !part(b)).map_or(bytes.len(), |length| at + length);
    (from, to)
}
