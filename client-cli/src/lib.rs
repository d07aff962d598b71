//! The terminal for instructor, team, facilitator and author.
