//! The debrief.
