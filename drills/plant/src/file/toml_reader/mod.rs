//! A small reader over TOML tables that remembers where everything was written.
//!
//! All our files are decoded with it by walking the tree by hand. A mistake never stops the walk: it is put on the
//! list of [`Problems`] with file, line and column, the reader gives `None`, and the caller goes on, so that an author
//! sees all mistakes at once. At the end of a table, [`Reader::finish`] reports every key that nobody asked for,
//! with the nearest one that was asked for.
//!
//! ```
//! use deadship_plant::file::toml_reader::Problems;
//! use deadship_plant::unit::Dimension;
//!
//! let files = vec![("x.toml".to_owned(), "format = 1\n[drill]\ntitel = 'Blackout'\nlength = '20 bar'".to_owned())];
//! let problems = Problems::new(&files);
//! for document in problems.parse().iter().flatten() {
//!     let root = document.root(&problems);
//!     if root.format(1) {
//!         if let Some(drill) = root.table("drill", "a drill") {
//!             let _title = drill.need("title").and_then(|field| field.text());
//!             let _length = drill.get("length").and_then(|field| field.quantity(Dimension::Time));
//!             drill.finish();
//!         }
//!         root.finish();
//!     }
//! }
//! let said: Vec<String> = problems.sorted().iter().map(ToString::to_string).collect();
//! assert_eq!(said[0], "x.toml:2:1: a drill needs `title`");
//! assert_eq!(said[1], "x.toml:3:1: a drill has no `titel` (did you mean `title`?)");
//! assert_eq!(said[2], "x.toml:4:10: `length`: `bar` is a unit of pressure; time takes s, min, h, ms");
//! ```

mod field;
mod fill;
mod glob;
mod learn;
mod nearest;
mod problems;
mod reader;
mod syntax;

pub use field::{Field, Wrong};
pub(crate) use fill::Fill;
pub use glob::matches;
pub use learn::{Form, KeyShape, Learned, TableShape};
pub use nearest::nearest;
pub use problems::{At, Parsed, Problems, Spot};
pub use reader::Reader;
