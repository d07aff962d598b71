//! The dials of a drill on the command line.

use clap::Args;
use deadship_run::dials::{Dials, Position};

/// Where the dials stand: `usual` is the drill as it was written.
#[derive(Clone, Copy, Debug, Default, Args)]
pub struct DialArgs {
    /// The dial for difficulty (the plant, and what must be found out): `low`, `usual` or `high`.
    #[arg(long, value_name = "POSITION", default_value = "usual")]
    pub difficulty: Position,
    /// The dial for stress (calls, orders, interruptions): `low`, `usual` or `high`.
    #[arg(long, value_name = "POSITION", default_value = "usual")]
    pub stress: Position,
}

impl DialArgs {
    /// The dials.
    pub fn dials(self) -> Dials {
        Dials { difficulty: self.difficulty, stress: self.stress }
    }
}
