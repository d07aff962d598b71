//! What goes over the wire between server and clients: JSON text frames over one WebSocket at [`PATH`].
//!
//! One frame is one message: a JSON object whose `type` says which. The client opens with
//! [`ClientMessage::Hello`]; the server answers with [`ServerMessage::Welcome`], or with an
//! [`ServerMessage::Error`] and a [`ServerMessage::Bye`]. There is one version number; client and server must have the
//! same, and the server says so when they have not.
//!
//! Two kinds of traffic come from the server. *Events* are complete and in order: each bears its `seq`, and whoever
//! comes back says the last one that they have and is given what they missed. People are not told everything (a
//! trainee is not told which fault was set), so the numbers that they see ascend but may have gaps. *Gauges* are
//! replaceable: the latest one counts.
//!
//! Nothing is acknowledged or shown to anyone before it is on the server's disk.
#![forbid(unsafe_code)]

mod board;
mod client;
mod code;
mod limits;
mod rest;
mod server;

pub use board::{BoardClass, BoardTeam, Pulse};
pub use client::{ClientMessage, Identity, decode_client};
pub use code::{BadFrame, ByeCode, ErrorCode};
pub use limits::{
    BURST_LINES, DEFAULT_PORT, LINES_PER_SECOND, LONGEST_FRAME, LONGEST_LINE, LONGEST_NAME, MOST_TEAMS,
};
pub use rest::{
    BeginFrom, ClassLineBody, DialPosition, ErrorBody, EventsQuery, HandBody, HandedBody, HealthBody,
    LineBody, OpenBody, OpenedBody, StoreHealthBody,
};
pub use server::{
    DrillInfo, EventMessage, Gauge, GaugesMessage, OpenedRun, Reason, Role, RunInfo, RunState, ServerMessage,
    StationInfo, TeamReply, WelcomeMessage, decode_server,
};

/// Version of the protocol. Client and server must have the same.
pub const VERSION: u32 = 2;

/// Path of the WebSocket.
pub const PATH: &str = "/link";

#[cfg(test)]
mod tests;
