//! What the program prints. Nobody need read it, and the disk under a log file can be full: neither is a reason to stop
//! serving, so nothing here can fail (`println!` panics).

/// A line on standard output.
macro_rules! say {
    ($($text:tt)*) => {{
        use std::io::Write as _;
        let _ = writeln!(std::io::stdout(), $($text)*);
    }};
}

/// A line on standard error.
macro_rules! complain {
    ($($text:tt)*) => {{
        use std::io::Write as _;
        let _ = writeln!(std::io::stderr(), $($text)*);
    }};
}
