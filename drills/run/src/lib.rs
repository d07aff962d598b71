//! Runs: commands, events, decide and evolve, drill files, alerts' life, crew, replay, marks.
