//! Limits that a client can count on and the server enforces.

/// Port that the server listens on unless told otherwise.
pub const DEFAULT_PORT: u16 = 7333;

/// Longest frame that a client may send, bytes. Frames from the server have no such limit: a brief or a part of an
/// archive can be longer.
pub const LONGEST_FRAME: usize = 16 * 1024;

/// Longest name of a person or a team, characters.
pub const LONGEST_NAME: usize = 40;

/// Longest line, characters.
pub const LONGEST_LINE: usize = 2_000;

/// Lines that a client may send in a second, on average.
pub const LINES_PER_SECOND: u32 = 20;

/// Lines that a client may send at once after a pause.
pub const BURST_LINES: u32 = 40;

/// Most teams in a class.
pub const MOST_TEAMS: usize = 24;
