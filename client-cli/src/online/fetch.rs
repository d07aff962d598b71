//! The archive of a run, from its server.

use super::address::Address;
use super::link::{Link, joined};
use crate::failure::Failure;
use deadship_protocol::{ClientMessage, Identity, RunInfo, ServerMessage, VERSION};
use std::time::Duration;
use tokio::time::timeout;
use uuid::Uuid;

/// Most that is taken: a run of a day has far less.
const MOST_BYTES: usize = 512 * 1024 * 1024;
/// How long the server may take for a part.
const PATIENCE: Duration = Duration::from_secs(60);

/// `run`: its id, the beginning of its id, or its team.
pub(super) async fn archive(address: &Address, key: &str, run: &str) -> Result<String, Failure> {
    let identity = Identity::Watch { key: key.to_owned(), name: None };
    let hello = ClientMessage::Hello { version: VERSION, identity, run: None, last_seq: None };
    let opened = Link::open(address, &hello).await;
    let (mut link, _) = opened.map_err(|no| no.failure(address))?;
    let run = match Uuid::try_parse(run) {
        Ok(run) => run,
        Err(_) => find(&mut link, run).await?,
    };
    ask(&mut link, &ClientMessage::Archive { run }).await?;
    let mut text = String::new();
    loop {
        match hear(&mut link).await? {
            ServerMessage::Archive { run: of, text: part, last } if of == run => {
                if text.len() + part.len() > MOST_BYTES {
                    return Err(Failure::Link(
                        "the archive is too large to be fetched; copy its file".to_owned(),
                    ));
                }
                text.push_str(&part);
                if last {
                    link.close().await;
                    return Ok(text);
                }
            }
            ServerMessage::Error { text, remedy, .. } => return Err(Failure::Link(joined(&text, &remedy))),
            _ => {}
        }
    }
}

async fn find(link: &mut Link, name: &str) -> Result<Uuid, Failure> {
    ask(link, &ClientMessage::Runs {}).await?;
    let runs = loop {
        match hear(link).await? {
            ServerMessage::Runs { runs } => break runs,
            ServerMessage::Error { text, remedy, .. } => return Err(Failure::Link(joined(&text, &remedy))),
            _ => {}
        }
    };
    let fits = |info: &&RunInfo| {
        info.state.team.eq_ignore_ascii_case(name)
            || (name.len() >= 4 && info.state.run.to_string().starts_with(&name.to_lowercase()))
    };
    let found: Vec<&RunInfo> = runs.iter().filter(fits).collect();
    match found.as_slice() {
        [one] => Ok(one.state.run),
        [] => Err(Failure::unknown("run or team", name, runs.iter().map(|info| info.state.team.as_str()))),
        many => {
            let ids: Vec<String> = many.iter().map(|info| info.state.run.to_string()).collect();
            Err(Failure::Asked(format!("several runs fit `{name}`; name one by its id: {}", ids.join(", "))))
        }
    }
}

async fn ask(link: &mut Link, message: &ClientMessage) -> Result<(), Failure> {
    link.send(message).await.map_err(|lost| Failure::Link(lost.to_string()))
}

async fn hear(link: &mut Link) -> Result<ServerMessage, Failure> {
    match timeout(PATIENCE, link.next()).await {
        Ok(Ok(message)) => Ok(message),
        Ok(Err(lost)) => Err(Failure::Link(lost.to_string())),
        Err(_) => Err(Failure::Link("the server takes too long; try again".to_owned())),
    }
}
