//! End to end, references, crashes, load, tidy.
