//! The wall clock, as the log wants it.

/// Now, RFC 3339 in UTC with milliseconds. Metadata: nothing in a run depends on it.
pub(crate) fn now() -> String {
    chrono::Utc::now().to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
}
