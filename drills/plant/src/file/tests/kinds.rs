//! A tank, a pipe with a valve, a motor, and an air bottle.

use crate::kind::{
    BranchDef, KindDef, LinkDef, LinkTarget, Net, ParamDef, ParamType, PortDef, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

pub(super) static ALL: [&KindDef; 4] = [&TANK, &PIPE, &MOTOR, &BOTTLE];

const fn port(name: &'static str, net: Net, required: bool, sets_node: bool) -> PortDef {
    PortDef { name, net, required, group: 0, sets_node, doc: "" }
}

const fn quantity(dimension: Dimension, min: f64, max: f64) -> ParamType {
    ParamType::Quantity { dimension, min, max }
}

const fn param(name: &'static str, takes: ParamType, default: Option<f64>) -> ParamDef {
    ParamDef { name, takes, default, doc: "" }
}

const fn state(name: &'static str, takes: ParamType, settable: bool) -> StateDef {
    StateDef { name, takes, start: 0.0, settable, doc: "" }
}

const fn reading(name: &'static str, dimension: Dimension) -> ReadingDef {
    ReadingDef { name, dimension, words: &[], seen: Seen::Local, doc: "" }
}

static TANK: KindDef = KindDef {
    name: "tank",
    ports: &[port("outlet", Net::Liquid, true, true)],
    params: &[param("capacity", quantity(Dimension::Volume, 0.01, 1000.0), None)],
    state: &[
        state("volume", quantity(Dimension::Volume, 0.0, 1000.0), true),
        state("pressure", quantity(Dimension::Pressure, 0.0, 1e6), false),
    ],
    readings: &[reading("volume", Dimension::Volume), reading("temperature", Dimension::Temperature)],
    ..KindDef::EMPTY
};

static PIPE: KindDef = KindDef {
    name: "pipe",
    ports: &[port("inlet", Net::Liquid, true, false), port("outlet", Net::Liquid, true, false)],
    params: &[
        param("kv", quantity(Dimension::FlowCoefficient, 0.0, 1.0), None),
        param("drive", ParamType::Choice(&["hand", "motor"]), Some(0.0)),
    ],
    state: &[
        state("position", quantity(Dimension::Ratio, 0.0, 1.0), true),
        state("mode", ParamType::Choice(&["manual", "automatic"]), true),
    ],
    readings: &[reading("flow", Dimension::Flow), reading("open", Dimension::None)],
    liquid_branches: &[BranchDef { from: 0, to: 1 }],
    ..KindDef::EMPTY
};

static MOTOR: KindDef = KindDef {
    name: "motor",
    ports: &[port("supply", Net::Ac, true, false), port("shaft", Net::Shaft, false, false)],
    params: &[
        param("power", quantity(Dimension::Power, 100.0, 1e6), None),
        param("poles", ParamType::Whole { min: 2, max: 16 }, Some(4.0)),
        param("heater", ParamType::Flag, Some(0.0)),
    ],
    links: &[
        LinkDef { name: "pipe", target: LinkTarget::Component(&["pipe"]), required: false, doc: "" },
        LinkDef { name: "sensor", target: LinkTarget::Reading, required: false, doc: "" },
    ],
    state: &[state("running", ParamType::Flag, true)],
    readings: &[reading("running", Dimension::None), reading("speed", Dimension::Speed)],
    ..KindDef::EMPTY
};

static BOTTLE: KindDef =
    KindDef { name: "bottle", ports: &[port("air", Net::Air, true, true)], ..KindDef::EMPTY };
