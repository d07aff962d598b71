//! The drill server: rooms, links, REST, rights.
//!
//! [`run`] is the program; [`start`] gives a [`Server`] to those who want to hold one in their hands, such as tests.
//!
//! One task owns each run (`run_task`) and is the single writer of its log; a client's own task is the only one that
//! talks to its socket (`link`); `rooms` knows all runs; `house` keeps what the server itself must remember.
//! What happened is on disk before anyone is told.
#![forbid(unsafe_code)]
#![allow(
    clippy::disallowed_types,
    reason = "a server lives with the wall clock; runs and plant do not see it"
)]

#[macro_use]
mod say;

mod addresses;
mod announce;
mod archive;
mod args;
mod clock;
mod convert;
mod demo;
mod describe;
mod doctor;
mod fault;
mod house;
mod keeping;
mod link;
mod loading;
mod log;
mod metrics;
mod open_files;
mod page;
mod privacy;
mod program;
mod qr;
mod rest;
mod rooms;
mod run_task;
mod secret;
mod server;
mod settings;
mod setups;
mod tls;
mod watched_store;

pub use args::{Args, Command};
pub use describe::Document;
pub use fault::Fault;
pub use house::{HOUSE_STREAM, HouseError};
pub use log::{LogForm, log_to};
pub use program::run;
pub use qr::Qr;
pub use rooms::CameBack;
pub use secret::NoRandomness;
pub use server::{Config, Server, StartError, start};
pub use tls::{Authority, TlsError};
