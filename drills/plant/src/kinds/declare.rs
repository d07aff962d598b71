//! Short forms for declarations, so that a kind's file reads as a table.

use crate::kind::{
    ActDef, BranchDef, FaultDef, FindingDef, LinkDef, LinkTarget, NeedDef, Net, ParamDef, ParamType, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

/// Declares a list and a constant index for each entry: `declare!(PARAMS: ParamDef { KV = …, STROKE = … });`
#[macro_export]
macro_rules! declare {
    ($list:ident : $type:ty { $($name:ident = $value:expr),* $(,)? }) => {
        #[allow(missing_docs)]
        pub const $list: &[$type] = &[$($value),*];
        $crate::declare!(@index 0usize; $($name)*);
    };
    (@index $n:expr; $name:ident $($rest:ident)*) => {
        #[allow(dead_code, missing_docs)]
        pub const $name: usize = $n;
        $crate::declare!(@index $n + 1usize; $($rest)*);
    };
    (@index $n:expr;) => {};
}

/// A quantity that the ship file must give.
pub const fn quantity(
    name: &'static str,
    dimension: Dimension,
    min: f64,
    max: f64,
    doc: &'static str,
) -> ParamDef {
    ParamDef { name, takes: ParamType::Quantity { dimension, min, max }, default: None, doc }
}
/// A quantity with a default, all in SI.
pub const fn quantity_or(
    name: &'static str,
    dimension: Dimension,
    range: (f64, f64),
    default: f64,
    doc: &'static str,
) -> ParamDef {
    let takes = ParamType::Quantity { dimension, min: range.0, max: range.1 };
    ParamDef { name, takes, default: Some(default), doc }
}
/// A word out of a list, with the index of the default.
pub const fn choice(
    name: &'static str,
    words: &'static [&'static str],
    default: usize,
    doc: &'static str,
) -> ParamDef {
    ParamDef { name, takes: ParamType::Choice(words), default: Some(default as f64), doc }
}
/// A flag with a default.
pub const fn flag(name: &'static str, default: bool, doc: &'static str) -> ParamDef {
    ParamDef { name, takes: ParamType::Flag, default: Some(if default { 1.0 } else { 0.0 }), doc }
}
/// A whole number with a default.
pub const fn whole(name: &'static str, range: (i64, i64), default: i64, doc: &'static str) -> ParamDef {
    let takes = ParamType::Whole { min: range.0, max: range.1 };
    ParamDef { name, takes, default: Some(default as f64), doc }
}

/// A port that must be given.
pub const fn port(name: &'static str, net: Net, group: u8, doc: &'static str) -> PortDef {
    PortDef { name, net, required: true, group, sets_node: false, doc }
}
/// A port that may be left free.
pub const fn free_port(name: &'static str, net: Net, group: u8, doc: &'static str) -> PortDef {
    PortDef { name, net, required: false, group, sets_node: false, doc }
}
/// A port whose node's pressure the component sets.
pub const fn setting_port(name: &'static str, net: Net, doc: &'static str) -> PortDef {
    PortDef { name, net, required: true, group: 0, sets_node: true, doc }
}

/// A branch between two ports.
pub const fn branch(from: usize, to: usize) -> BranchDef {
    BranchDef { from, to }
}

/// A link to a component of one kind.
pub const fn link(
    name: &'static str,
    kinds: &'static [&'static str],
    required: bool,
    doc: &'static str,
) -> LinkDef {
    LinkDef { name, target: LinkTarget::Component(kinds), required, doc }
}
/// A link to a reading.
pub const fn watch(name: &'static str, required: bool, doc: &'static str) -> LinkDef {
    LinkDef { name, target: LinkTarget::Reading, required, doc }
}

/// A state that start states may set.
pub const fn state(
    name: &'static str,
    dimension: Dimension,
    range: (f64, f64),
    start: f64,
    doc: &'static str,
) -> StateDef {
    let takes = ParamType::Quantity { dimension, min: range.0, max: range.1 };
    StateDef { name, takes, start, settable: true, only_with: None, doc }
}
/// A flag that start states may set.
pub const fn state_flag(name: &'static str, start: bool, doc: &'static str) -> StateDef {
    StateDef {
        name,
        takes: ParamType::Flag,
        start: if start { 1.0 } else { 0.0 },
        settable: true,
        only_with: None,
        doc,
    }
}
/// A word that start states may set.
pub const fn state_choice(
    name: &'static str,
    words: &'static [&'static str],
    start: usize,
    doc: &'static str,
) -> StateDef {
    StateDef {
        name,
        takes: ParamType::Choice(words),
        start: start as f64,
        settable: true,
        only_with: None,
        doc,
    }
}
/// A state that only the kind itself changes.
pub const fn inner(name: &'static str, start: f64, doc: &'static str) -> StateDef {
    let takes = ParamType::Quantity { dimension: Dimension::None, min: f64::MIN, max: f64::MAX };
    StateDef { name, takes, start, settable: false, only_with: None, doc }
}

/// An act without a value.
pub const fn act(verb: Verb, reach: Reach, seconds: f64, doc: &'static str) -> ActDef {
    ActDef { verb, setting: "", takes: None, reach, seconds, only_with: None, doc }
}
/// A setting that takes a word.
pub const fn set_choice(
    setting: &'static str,
    words: &'static [&'static str],
    reach: Reach,
    seconds: f64,
    doc: &'static str,
) -> ActDef {
    ActDef {
        verb: Verb::Set,
        setting,
        takes: Some(ParamType::Choice(words)),
        reach,
        seconds,
        only_with: None,
        doc,
    }
}
/// A setting that takes a quantity.
pub const fn set_quantity(
    setting: &'static str,
    dimension: Dimension,
    range: (f64, f64),
    reach: Reach,
    seconds: f64,
    doc: &'static str,
) -> ActDef {
    let takes = ParamType::Quantity { dimension, min: range.0, max: range.1 };
    ActDef { verb: Verb::Set, setting, takes: Some(takes), reach, seconds, only_with: None, doc }
}

/// A fault with its usual severity.
pub const fn fault(name: &'static str, usual: f64, doc: &'static str) -> FaultDef {
    FaultDef { name, doc, usual, deceives: false, only_with: None }
}
/// A fault of a sensor: it changes what is shown, not the plant.
pub const fn untrue(name: &'static str, usual: f64, doc: &'static str) -> FaultDef {
    FaultDef { name, doc, usual, deceives: true, only_with: None }
}
/// A need.
pub const fn need(name: &'static str, doc: &'static str) -> NeedDef {
    NeedDef { name, doc }
}
/// A reading with a dimension.
pub const fn reading(name: &'static str, dimension: Dimension, seen: Seen, doc: &'static str) -> ReadingDef {
    ReadingDef { name, dimension, words: &[], seen, latched: false, doc }
}
/// A reading in words.
pub const fn reading_words(
    name: &'static str,
    words: &'static [&'static str],
    seen: Seen,
    doc: &'static str,
) -> ReadingDef {
    ReadingDef { name, dimension: Dimension::None, words, seen, latched: false, doc }
}
/// A finding.
pub const fn finding(code: &'static str, dimension: Dimension, text: &'static str) -> FindingDef {
    FindingDef { code, text, dimension }
}

/// Words of a yes-or-no reading.
pub const NO_YES: &[&str] = &["no", "yes"];
/// Words of a selector.
pub const MANUAL_AUTOMATIC: &[&str] = &["manual", "automatic"];
/// Words of a control position.
pub const LOCAL_REMOTE: &[&str] = &["local", "remote"];
