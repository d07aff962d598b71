//! How many files may be open: every link is one, every run another.

/// Raises what holds to what is allowed. Gives what holds then; `None`: no limit, or none that this system tells.
#[cfg(unix)]
pub(crate) fn raise() -> Option<u64> {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    let maximum = getrlimit(Resource::Nofile).maximum;
    // If it is not allowed after all, what held before holds still.
    let _ = setrlimit(Resource::Nofile, Rlimit { current: maximum, maximum });
    getrlimit(Resource::Nofile).current
}

/// Raises nothing: this system has no such limit.
#[cfg(not(unix))]
pub(crate) fn raise() -> Option<u64> {
    None
}
