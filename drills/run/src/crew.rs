//! The robot crew.
