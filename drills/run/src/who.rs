//! Who did something.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What someone is in a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Runs the class: may do anything anywhere, sets faults, holds and ends.
    Instructor,
    /// One of the team.
    Trainee,
    /// Leads the debrief: sees all, notes, works nothing.
    Facilitator,
    /// Looks on.
    Observer,
}

impl Role {
    /// The word in events and for people.
    pub const fn word(self) -> &'static str {
        match self {
            Role::Instructor => "instructor",
            Role::Trainee => "trainee",
            Role::Facilitator => "facilitator",
            Role::Observer => "observer",
        }
    }
}

/// Who did something.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "as", rename_all = "kebab-case")]
pub enum Who {
    /// A person.
    Person {
        /// Name, unique within a run.
        name: String,
        /// Role.
        role: Role,
        /// Station held, as the run knows it; what a caller puts here is not looked at.
        station: Option<String>,
    },
    /// The robot crew member at a station.
    Robot {
        /// Station.
        station: String,
    },
    /// The drill's own schedule.
    Drill,
    /// The plant.
    Plant,
}

impl Who {
    /// A person without station.
    pub fn person(name: &str, role: Role) -> Who {
        Who::Person { name: name.to_owned(), role, station: None }
    }

    /// The key of someone in the list of people; `None` for drill and plant, who stand nowhere. A person cannot be
    /// mistaken for a robot: names of people hold no `/`.
    pub fn key(&self) -> Option<String> {
        match self {
            Who::Person { name, .. } => Some(name.clone()),
            Who::Robot { station } => Some(format!("robot/{station}")),
            Who::Drill | Who::Plant => None,
        }
    }

    /// The role; robots are trainees, the drill may do what the instructor may.
    pub fn role(&self) -> Role {
        match self {
            Who::Person { role, .. } => *role,
            Who::Robot { .. } => Role::Trainee,
            Who::Drill | Who::Plant => Role::Instructor,
        }
    }
}

/// For people: `Ada (engine)`, `robot (boards)`, `instructor Bo`, `drill`, `plant`.
impl std::fmt::Display for Who {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Who::Person { name, station: Some(station), .. } => write!(f, "{name} ({station})"),
            Who::Person { name, role: Role::Trainee, .. } => write!(f, "{name}"),
            // `instructor-1`, too: that is how they are called where names are left out.
            Who::Person { name, role, .. } if name.starts_with(role.word()) => write!(f, "{name}"),
            Who::Person { name, role, .. } => write!(f, "{} {name}", role.word()),
            Who::Robot { station } => write!(f, "robot ({station})"),
            Who::Drill => write!(f, "drill"),
            Who::Plant => write!(f, "plant"),
        }
    }
}
