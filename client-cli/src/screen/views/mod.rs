//! The views of one run: each gives rows, none knows keys. Team, instructor and facilitator share them.

pub(crate) mod alerts;
pub(crate) mod asked;
pub(crate) mod checklist;
pub(crate) mod component;
pub(crate) mod crew;
pub(crate) mod faults;
pub(crate) mod here;
pub(crate) mod orders;
pub(crate) mod plan;
pub(crate) mod talk;
pub(crate) mod teams;
pub(crate) mod trends;
