//! A tank, a pipe with a valve, a motor, an air bottle, and what it takes to join them badly.

use crate::kind::{
    BranchDef, Joints, KindDef, LinkDef, LinkTarget, Net, OneWay, ParamDef, ParamType, PortDef, ReadingDef,
    Seen, StateDef,
};
use crate::unit::Dimension;

pub(super) static ALL: [&KindDef; 9] =
    [&TANK, &PIPE, &MOTOR, &BOTTLE, &PUMP, &CHECK_VALVE, &COOLER, &GENERATOR, &HOSE];

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
    StateDef { name, takes, start: 0.0, settable, only_with: None, doc: "" }
}

const fn reading(name: &'static str, dimension: Dimension) -> ReadingDef {
    ReadingDef { name, dimension, words: &[], seen: Seen::Local, latched: false, doc: "" }
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
    joints: Joints { turns: &[1], ..Joints::NONE },
    state: &[state("running", ParamType::Flag, true)],
    readings: &[reading("running", Dimension::None), reading("speed", Dimension::Speed)],
    ..KindDef::EMPTY
};

static BOTTLE: KindDef = KindDef {
    name: "bottle",
    ports: &[port("air", Net::Air, true, true)],
    joints: Joints { stores_air: &[0], ..Joints::NONE },
    ..KindDef::EMPTY
};

static HOSE: KindDef = KindDef {
    name: "hose",
    ports: &[port("inlet", Net::Air, true, false), port("outlet", Net::Air, true, false)],
    air_branches: &[BranchDef { from: 0, to: 1 }],
    ..KindDef::EMPTY
};

static PUMP: KindDef = KindDef {
    name: "pump",
    ports: &[
        port("suction", Net::Liquid, true, false),
        port("delivery", Net::Liquid, true, false),
        port("shaft", Net::Shaft, false, false),
    ],
    liquid_branches: &[BranchDef { from: 0, to: 1 }],
    joints: Joints { pumps: &[0], ..Joints::NONE },
    ..KindDef::EMPTY
};

static CHECK_VALVE: KindDef = KindDef {
    name: "check-valve",
    ports: &[port("inlet", Net::Liquid, true, false), port("outlet", Net::Liquid, true, false)],
    params: &[param("flap", ParamType::Flag, Some(1.0))],
    liquid_branches: &[BranchDef { from: 0, to: 1 }],
    joints: Joints { one_way: &[OneWay { branch: 0, when: Some(0), sprung: false }], ..Joints::NONE },
    ..KindDef::EMPTY
};

const fn side(name: &'static str, group: u8) -> PortDef {
    PortDef { name, net: Net::Liquid, required: true, group, sets_node: false, doc: "" }
}

static COOLER: KindDef = KindDef {
    name: "cooler",
    ports: &[side("hot-in", 1), side("hot-out", 1), side("cold-in", 2), side("cold-out", 2)],
    liquid_branches: &[BranchDef { from: 0, to: 1 }, BranchDef { from: 2, to: 3 }],
    joints: Joints { exchanges: &[(0, 1)], ..Joints::NONE },
    ..KindDef::EMPTY
};

static GENERATOR: KindDef = KindDef {
    name: "generator",
    ports: &[port("terminals", Net::Ac, true, false), port("shaft", Net::Shaft, false, false)],
    params: &[param("inertia", quantity(Dimension::Inertia, 0.0, 1e6), Some(0.0))],
    joints: Joints { sources: &[0], brings_inertia: |params| params[0] > 0.0, ..Joints::NONE },
    ..KindDef::EMPTY
};
