//! The drill server: rooms, links, REST, rights.
