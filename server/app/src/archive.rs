//! The archive of a run as text, for those who fetch it.

use crate::fault::Fault;
use deadship_protocol::ErrorCode;
use deadship_store::archive::ArchiveWriter;
use deadship_store::{EventStore, StoreError, StreamId};
use uuid::Uuid;

/// Records in one read.
const PAGE: u32 = 2_000;

/// The archive file of a run. Blocks. It goes through a file of its own, so that there is one writer of the format.
pub(crate) fn text(store: &dyn EventStore, run: Uuid) -> Result<String, Fault> {
    let stream = StreamId(run);
    if store.head(stream)?.is_none() || stream == crate::house::HOUSE_STREAM {
        return Err(Fault::unknown_run(run));
    }
    let io = |error: &std::io::Error| {
        Fault::new(
            ErrorCode::StoreFailed,
            format!("the archive cannot be put together: {error}"),
            "free some space",
        )
    };
    let folder = tempfile::tempdir().map_err(|error| io(&error))?;
    let path = folder.path().join("archive.jsonl");
    copy(store, stream, &path)?;
    std::fs::read_to_string(&path).map_err(|error| io(&error))
}

fn copy(store: &dyn EventStore, stream: StreamId, path: &std::path::Path) -> Result<(), StoreError> {
    let mut writer = ArchiveWriter::create(path, stream)?;
    let mut from = 1;
    // An append that is being written meanwhile is whole or not there.
    let end = store.head(stream)?.map_or(0, |head| head.seq);
    while from <= end {
        let page = store.read(stream, from, PAGE)?;
        for record in page.iter().filter(|record| record.seq <= end) {
            writer.copy(record)?;
        }
        let Some(last) = page.last() else { break };
        from = last.seq + 1;
    }
    writer.finish().map(|_| ())
}
