//! What stands in the way of an engine's acts, in the same words for every engine. Not a kind.

/// Takes a block: its code and its text.
pub trait Say: FnMut(&'static str, String) {}
impl<F: FnMut(&'static str, String)> Say for F {}

/// It is in a phase in which it cannot be started.
pub fn not_stopped(say: &mut impl Say, phase: &str) {
    say("not-stopped", format!("it is {phase}"));
}

/// A shutdown is latched.
pub fn latched(say: &mut impl Say, cause: &str) {
    let text = format!("shutdown latched ({cause}): find the cause, then reset it at the engine");
    say("shutdown-not-reset", text);
}

/// Its turning gear is in.
pub fn gear_in(say: &mut impl Say) {
    say("turning-gear-in", "the turning gear is in".into());
}

/// Nobody blows it through from afar.
pub fn cocks_open(say: &mut impl Say) {
    say("indicator-cocks-open", "its indicator cocks are open: shut them at the engine".into());
}

/// It turns, and this act needs standstill.
pub fn still_turning(say: &mut impl Say) {
    say("still-turning", "it has not come to rest".into());
}

/// There is nothing to stop.
pub fn not_running(say: &mut impl Say) {
    say("not-running", "it is not running".into());
}
