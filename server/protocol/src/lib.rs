//! What goes over the wire between server and clients.
