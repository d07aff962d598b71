//! The server, for tests.

fn main() {}
