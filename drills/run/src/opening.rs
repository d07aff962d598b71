//! What a run is opened with: every text it depends on, so that a file that changes later changes no run.

use crate::dials::Dials;
use crate::drill_file::extended_by;
use deadship_plant::spec::Problem;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A file as it was when the run was opened.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub struct TextFile {
    /// Name, for messages: `ships/quillmere/main.toml`.
    pub name: String,
    /// Text.
    pub text: String,
}

impl TextFile {
    /// Name and text.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> TextFile {
        TextFile { name: name.into(), text: text.into() }
    }

    /// The name without folders and ending: `main`.
    pub fn stem(&self) -> &str {
        let file = self.name.rsplit('/').next().unwrap_or(&self.name);
        file.strip_suffix(".toml").unwrap_or(file)
    }
}

/// The texts that a drill extends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Base {
    /// The file of the drill that it extends.
    pub drill_file: TextFile,
    /// Procedures of that drill that the drill's own extend.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub procedures: Vec<TextFile>,
}

/// The instant of another run that a run was forked from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Parent {
    /// The run.
    pub run: Uuid,
    /// Its last event that was copied or stood before the fork.
    pub seq: u64,
    /// Its tick.
    pub tick: u64,
}

/// The first event of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Opening {
    /// Name of the drill.
    pub drill: String,
    /// The drill's file.
    pub drill_file: TextFile,
    /// Name of the ship.
    pub ship: String,
    /// The ship's files, in order.
    pub ship_files: Vec<TextFile>,
    /// Procedures for this drill.
    pub procedures: Vec<TextFile>,
    /// Start state of the ship; `None`: what the drill says.
    pub start: Option<String>,
    /// Seed of whatever the model draws by lot.
    pub seed: u64,
    /// Version of the model.
    pub model: u32,
    /// Length of a tick, s.
    pub tick_s: f64,
    /// Where it was forked from.
    pub parent: Option<Parent>,
    /// Is the team shown ratings that are given when the run is over? `None`: as the drill says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub team_sees_ratings: Option<bool>,
    /// What the drill extends; `None`: nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub base: Option<Base>,
    /// Where its dials stand.
    #[serde(default, skip_serializing_if = "Dials::are_usual")]
    pub dials: Dials,
}

impl Opening {
    /// The same for a drill that extends another, of whose procedures those are kept that its own extend.
    pub fn extending(mut self, base: Option<(TextFile, Vec<TextFile>)>) -> Opening {
        self.base = base.map(|(drill_file, mut procedures)| {
            let extended: Vec<String> =
                self.procedures.iter().filter_map(|own| extended_by(&own.text)).collect();
            let is_own = |name: &str| self.procedures.iter().any(|own| own.stem() == name);
            procedures.retain(|one| !is_own(one.stem()) && extended.iter().any(|name| name == one.stem()));
            Base { drill_file, procedures }
        });
        self
    }

    /// For this version of the model, nothing forked.
    pub fn new(
        drill_file: TextFile,
        ship: &str,
        ship_files: Vec<TextFile>,
        procedures: Vec<TextFile>,
        seed: u64,
    ) -> Opening {
        Opening {
            drill: drill_file.stem().to_owned(),
            drill_file,
            ship: ship.to_owned(),
            ship_files,
            procedures,
            start: None,
            seed,
            model: deadship_plant::MODEL_VERSION,
            tick_s: deadship_plant::TICK_S,
            parent: None,
            team_sees_ratings: None,
            base: None,
            dials: Dials::default(),
        }
    }
}

/// Why a run cannot be opened.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OpenError {
    /// Something is wrong with files; all of it.
    #[error("{}", lines(.0))]
    Files(Vec<Problem>),
    /// The plant cannot be stepped while it settles.
    #[error("the ship cannot be brought to her start state: {0}")]
    Settle(#[from] deadship_plant::plant::StepFailure),
}

fn lines(problems: &[Problem]) -> String {
    problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}
