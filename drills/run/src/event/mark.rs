//! What a mark is about.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a mark is about: which part of the talk afterwards it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Category {
    /// Something to be praised.
    WellDone,
    /// A mistake without danger.
    Slip,
    /// Someone or something could have come to harm.
    Unsafe,
    /// How they spoke with each other.
    Communication,
    /// To be talked about; no judgement.
    Discuss,
}

/// The categories, as they are typed and written.
pub const CATEGORIES: [(&str, Category); 5] = [
    ("well-done", Category::WellDone),
    ("slip", Category::Slip),
    ("unsafe", Category::Unsafe),
    ("communication", Category::Communication),
    ("discuss", Category::Discuss),
];

impl Category {
    /// Its word.
    pub fn word(self) -> &'static str {
        CATEGORIES.iter().find(|known| known.1 == self).map_or("", |known| known.0)
    }

    /// The category with this word.
    pub fn of_word(word: &str) -> Option<Category> {
        CATEGORIES.iter().find(|known| known.0 == word).map(|known| known.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_category_is_typed_as_it_is_written() {
        for (word, category) in CATEGORIES {
            assert_eq!(serde_json::to_value(category).unwrap(), word);
            assert_eq!((category.word(), Category::of_word(word)), (word, Some(category)));
        }
        assert_eq!(Category::of_word("slips"), None);
    }
}
