//! Work with a server: the line mode of team and instructor, and archives from afar.

pub(crate) mod address;
mod class;
pub(crate) mod directing;
mod fetch;
mod follow;
mod join;
pub(crate) mod line_mode;
pub(crate) mod link;
pub(crate) mod seat;
pub(crate) mod show;
mod teach;
mod trust;
mod views;

use crate::cli::{JoinArgs, TeachArgs};
use crate::failure::Failure;
use crate::io::Io;
pub(crate) use teach::WORDS as TEACH_WORDS;

use address::Address;
use std::future::Future;
use std::path::Path;

/// `deadship join`.
pub(crate) fn join(
    io: &mut Io,
    args: &JoinArgs,
    authority: Option<&Path>,
    plain: bool,
) -> Result<u8, Failure> {
    let address = Address::parse(&args.address)?.trusting(authority);
    block_on(join::join(io, &address, args, plain))?
}

/// `deadship teach`.
pub(crate) fn teach(
    io: &mut Io,
    args: &TeachArgs,
    authority: Option<&Path>,
    plain: bool,
) -> Result<u8, Failure> {
    let address = Address::parse(&args.address)?.trusting(authority);
    block_on(teach::teach(io, address, &args.key, args.name.as_deref(), plain))?
}

/// The archive of a run, as text.
///
/// # Errors
/// When the server cannot be reached, or does not give it.
pub(crate) fn fetch_archive(
    server: &str,
    authority: Option<&Path>,
    key: &str,
    run: &str,
) -> Result<String, Failure> {
    let address = Address::parse(server)?.trusting(authority);
    block_on(fetch::archive(&address, key, run))?
}

fn block_on<F: Future>(future: F) -> Result<F::Output, Failure> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    let runtime = runtime.map_err(|error| Failure::Link(format!("the network cannot be used: {error}")))?;
    Ok(runtime.block_on(future))
}

#[cfg(test)]
mod tests;
