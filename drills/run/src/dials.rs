//! The two dials that a run is opened with: how hard it is to find out what is wrong and to put it right, and how much presses
//! on people meanwhile. Both stand at `usual` unless somebody turns them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where a dial stands.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// Less than usual.
    Low,
    /// The drill as it was written.
    #[default]
    Usual,
    /// More than usual.
    High,
}

/// The words of all positions, in order.
pub const POSITIONS: [&str; 3] = ["low", "usual", "high"];

impl Position {
    /// The word.
    pub fn word(self) -> &'static str {
        POSITIONS[self as usize]
    }
}

impl std::str::FromStr for Position {
    type Err = String;

    fn from_str(word: &str) -> Result<Position, String> {
        match word {
            "low" => Ok(Position::Low),
            "usual" => Ok(Position::Usual),
            "high" => Ok(Position::High),
            other => Err(format!("`{other}` is no position of a dial: it is low, usual or high")),
        }
    }
}

/// Both dials.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Dials {
    /// The plant, and what must be found out about it.
    #[serde(default)]
    pub difficulty: Position,
    /// Calls, orders, interruptions, little time.
    #[serde(default)]
    pub stress: Position,
}

impl Dials {
    /// Do both stand as the drill was written?
    pub fn are_usual(&self) -> bool {
        *self == Dials::default()
    }

    /// For people: `difficulty usual, stress high`.
    pub fn words(&self) -> String {
        format!("difficulty {}, stress {}", self.difficulty.word(), self.stress.word())
    }

    /// The same where a dial is turned, else nothing.
    pub fn turned(&self) -> Option<String> {
        (!self.are_usual()).then(|| self.words())
    }
}

/// With which positions of the dials something of a drill is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Positions {
    /// Of the dial for difficulty, by position.
    pub difficulty: [bool; 3],
    /// Of the dial for stress, by position.
    pub stress: [bool; 3],
}

impl Positions {
    /// With every position.
    pub const ALL: Positions = Positions { difficulty: [true; 3], stress: [true; 3] };

    /// Is it there when the dials stand so?
    pub fn hold(&self, dials: Dials) -> bool {
        self.difficulty[dials.difficulty as usize] && self.stress[dials.stress as usize]
    }

    /// Dials with which this is there and the other is not.
    pub fn beyond(&self, other: &Positions) -> Option<Dials> {
        use Position::{High, Low, Usual};
        // The nearest to what is usual is the best example.
        let all = [Usual, High, Low];
        let pairs = all
            .into_iter()
            .flat_map(|difficulty| all.into_iter().map(move |stress| Dials { difficulty, stress }));
        pairs.into_iter().find(|dials| self.hold(*dials) && !other.hold(*dials))
    }

    /// For people: `difficulty high; stress usual or high`. `None`: it is always there.
    pub fn words(&self) -> Option<String> {
        let of_one = |name: &str, held: &[bool; 3]| {
            let words: Vec<&str> =
                POSITIONS.iter().zip(held).filter(|(_, held)| **held).map(|(word, _)| *word).collect();
            (words.len() < POSITIONS.len()).then(|| format!("{name} {}", words.join(" or ")))
        };
        let parts = [of_one("difficulty", &self.difficulty), of_one("stress", &self.stress)];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        (!parts.is_empty()).then(|| parts.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_there_beyond_another_is_named_by_dials_that_show_it() {
        let high = Positions { difficulty: [false, false, true], ..Positions::ALL };
        let calm = Positions { stress: [true, true, false], ..Positions::ALL };
        assert_eq!(high.beyond(&Positions::ALL), None);
        assert_eq!(Positions::ALL.beyond(&high), Some(Dials::default()));
        let both = Dials { difficulty: Position::High, stress: Position::High };
        assert_eq!(high.beyond(&calm), Some(both));
        assert_eq!(high.words().as_deref(), Some("difficulty high"));
        assert_eq!(calm.words().as_deref(), Some("stress low or usual"));
        assert_eq!(Positions::ALL.words(), None);
    }

    #[test]
    fn words_and_positions_are_one() {
        for word in POSITIONS {
            assert_eq!(word.parse::<Position>().unwrap().word(), word);
        }
        assert!("hihg".parse::<Position>().is_err());
    }
}
