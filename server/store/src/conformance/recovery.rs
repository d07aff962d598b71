//! What every store must do that can be made to fail: come back from a failure at any step, and from a failure at any
//! step of coming back.

use std::sync::Arc;

use super::{assert_holds, end_of, filled, ok, records, refused};
use crate::error::StoreError;
use crate::store::EventStore;
use crate::types::{Appended, Expected, NewRecord, StreamId};

/// A store whose medium can be made to fail.
pub trait Breakable {
    /// The store.
    fn store(&self) -> Arc<dyn EventStore>;
    /// The n-th change of the medium from now on, from 1, fails, and all after it.
    fn break_down(&mut self, nth: u64);
    /// The medium works again.
    fn mend(&mut self);
    /// Opens the same store again. Nobody else holds it.
    fn reopen(&mut self);
}

/// Most changes of the medium that an append or a recovery could make. More would mean that it never ends.
const MOST_STEPS: u64 = 200;

/// Runs the suite; `make` makes an empty store.
pub fn run_recoveries(make: &mut dyn FnMut() -> Box<dyn Breakable>) {
    let mut broken_at = 0;
    for nth in 1.. {
        assert!(nth < MOST_STEPS, "the appends never end");
        if !comes_back(make().as_mut(), nth) {
            break;
        }
        broken_at = nth;
    }
    assert!(broken_at > 0, "nothing was ever broken");
}

/// Breaks the n-th step of some appends. `false`: there are not so many steps.
fn comes_back(bench: &mut dyn Breakable, nth: u64) -> bool {
    let store = bench.store();
    let (quiet, of_quiet) = filled(store.as_ref(), &[2, 3]);
    let (busy, mut kept) = filled(store.as_ref(), &[1, 2]);
    bench.break_down(nth);
    let Some((stream, in_doubt, error)) = append_until_broken(store.as_ref(), busy, &mut kept) else {
        return false;
    };
    assert!(matches!(error, StoreError::Io { .. } | StoreError::Full { .. }), "{error}");
    assert_closed(store.as_ref(), quiet, &of_quiet);
    assert_holds(store.as_ref(), busy, &kept);
    assert!(matches!(refused(store.recover()), StoreError::Io { .. } | StoreError::Full { .. }));
    assert_closed(store.as_ref(), quiet, &of_quiet);
    recover_through_failures(bench, store.as_ref());
    assert_eq!(store.health().poisoned, None);
    // Nothing acknowledged is lost, and nothing is there that was refused.
    assert_holds(store.as_ref(), quiet, &of_quiet);
    assert_holds(store.as_ref(), busy, &kept);
    let expected = Expected::Exact(if stream == busy { kept.len() as u64 } else { 0 });
    let again = ok(store.append(stream, expected, &in_doubt));
    assert!(matches!(again, Appended::Written { .. }), "what was refused was there: {again:?}");
    let again = ok(store.append(stream, expected, &in_doubt));
    assert!(matches!(again, Appended::Already { .. }), "{again:?}");
    if stream == busy {
        kept.extend(in_doubt);
    } else {
        assert_holds(store.as_ref(), stream, &in_doubt);
    }
    let head = end_of(store.as_ref(), busy);
    drop(store);
    bench.reopen();
    let store = bench.store();
    assert_holds(store.as_ref(), quiet, &of_quiet);
    assert_holds(store.as_ref(), busy, &kept);
    assert_eq!(end_of(store.as_ref(), busy), head);
    true
}

/// Appends to a stream and to a new one until it is refused: where, what, and why.
fn append_until_broken(
    store: &dyn EventStore,
    busy: StreamId,
    kept: &mut Vec<NewRecord>,
) -> Option<(StreamId, Vec<NewRecord>, StoreError)> {
    for size in [1, 4] {
        let new = records(size);
        match store.append(busy, Expected::Exact(kept.len() as u64), &new) {
            Ok(_) => kept.extend(new),
            Err(error) => return Some((busy, new, error)),
        }
    }
    let (fresh, new) = (StreamId::random(), records(2));
    store.append(fresh, Expected::NoStream, &new).err().map(|error| (fresh, new, error))
}

/// No change is accepted, everything acknowledged can be read.
fn assert_closed(store: &dyn EventStore, stream: StreamId, all: &[NewRecord]) {
    assert!(store.health().poisoned.is_some());
    for stream in [stream, StreamId::random()] {
        let seq = ok(store.head(stream)).map_or(0, |head| head.seq);
        let error = refused(store.append(stream, Expected::Exact(seq), &records(1)));
        assert!(matches!(error, StoreError::Poisoned { .. }), "{error}");
    }
    let error = refused(store.delete(stream, end_of(store, stream)));
    assert!(matches!(error, StoreError::Poisoned { .. }), "{error}");
    assert_holds(store, stream, all);
}

/// Every step of the recovery fails once, before it is let through.
fn recover_through_failures(bench: &mut dyn Breakable, store: &dyn EventStore) {
    for nth in 1.. {
        assert!(nth < MOST_STEPS, "the recovery never ends");
        bench.mend();
        bench.break_down(nth);
        match store.recover() {
            Ok(recovered) => {
                assert!(recovered.reason.is_some() && recovered.refused.is_empty(), "{recovered:?}");
                break;
            }
            Err(error) => {
                assert!(matches!(error, StoreError::Io { .. } | StoreError::Full { .. }), "{error}");
                assert!(store.health().poisoned.is_some());
            }
        }
    }
    bench.mend();
}
