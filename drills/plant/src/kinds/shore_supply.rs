//! A shore connection: voltage behind a small impedance, as stiff as the cable allows.

use super::declare::*;
use super::electric::line_a;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, Joints, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;
use std::f64::consts::{PI, TAU};

declare!(PORTS: PortDef {
    CABLE = port("cable", Net::Ac, 0, "Node at the end of the shore cable, before its breaker."),
    BUS = port("bus", Net::Ac, 0, "Node it feeds through its breaker."),
});
declare!(PARAMS: ParamDef {
    VOLTAGE = quantity_or("voltage", Dimension::Voltage, (0.0, 15e3), 0.0, "Voltage of the shore; 0: nominal voltage of the node."),
    HZ = quantity_or("frequency", Dimension::Frequency, (0.0, 100.0), 0.0, "Frequency of the shore; 0: nominal frequency of the node."),
    RESISTANCE = quantity_or("resistance", Dimension::Resistance, (1e-7, 10.0), 1e-6, "Resistance of the connection per phase."),
    REACTANCE = quantity_or("reactance", Dimension::Resistance, (0.0, 10.0), 1e-6, "Reactance of the connection per phase."),
});
declare!(STATE: StateDef {
    CLOSED = state_flag("closed", false, "Its breaker is closed."),
    ANGLE = inner("angle", 0.0, "Angle of its voltage."),
});
declare!(ACTS: ActDef {
    CLOSE = act(Verb::Close, Reach::Local, 10.0, "Close its breaker."),
    OPEN = act(Verb::Open, Reach::Local, 5.0, "Open its breaker."),
});
declare!(FAULTS: FaultDef {
    LOST = fault("voltage-lost", 1.0, "The shore's fuse is gone: no voltage at the cable."),
});
declare!(READINGS: ReadingDef {
    R_CLOSED = reading_words("closed", NO_YES, Seen::Remote, "Is its breaker closed?"),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power from the shore."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "shore-supply",
    doc: "A shore connection with its breaker.",
    physics: "A constant voltage of constant frequency behind a resistance and a reactance.",
    source: "Thevenin's theorem",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    ac_branches: &[BranchDef { from: CABLE, to: BUS }],
    joints: Joints { sources: &[CABLE], ..Joints::NONE },
    hooks: Hooks {
        settle: Some(settle),
        electric: Some(electric),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Kinetic energy of the grid behind it, J: enough that no ship's set moves its frequency.
const GRID_J: f64 = 1e15;

fn settle(ctx: &mut Ctx<'_>) {
    let branch = ctx.wiring.ac_branches;
    ctx.nets.ac.mark_source_breaker(branch);
    let closed = ctx.is(CLOSED);
    ctx.switch(0, closed);
}

fn electric(ctx: &mut Ctx<'_>) {
    let node = ctx.node(CABLE);
    let (nominal_v, nominal_hz) = (ctx.nets.ac.nominal_v[node], ctx.nets.ac.nominal_hz[node]);
    let volts = if ctx.p(VOLTAGE) > 0.0 { ctx.p(VOLTAGE) } else { nominal_v };
    let hz = if ctx.p(HZ) > 0.0 { ctx.p(HZ) } else { nominal_hz };
    let mut angle = ctx.s(ANGLE) + TAU * (hz - nominal_hz) * ctx.dt_s;
    if angle > PI {
        angle -= TAU;
    } else if angle < -PI {
        angle += TAU;
    }
    ctx.set(ANGLE, angle);
    if ctx.fault(LOST) >= 0.5 {
        return;
    }
    let y = Complex::new(ctx.p(RESISTANCE), ctx.p(REACTANCE)).inverse();
    ctx.nets.ac.add_source(node, Complex::polar(volts, angle), y, hz, GRID_J);
}

fn publish(ctx: &mut Ctx<'_>) {
    let current = ctx.branch_current(0);
    let power = ctx.nets.ac.voltage[ctx.node(CABLE)] * current.conj();
    ctx.read_out_is(R_CLOSED, ctx.branch_closed(0));
    ctx.read_out(R_POWER, power.re);
    ctx.read_out(R_CURRENT, line_a(current));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == CLOSE && view.nets.ac.source_closed_on(view.node(BUS), view.wiring.ac_branches) {
        let text =
            "a generator's breaker is closed on this bus; shore and ship do not run in parallel".into();
        blocks.push(Block { code: "another-source", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set_is(CLOSED, act.index == CLOSE);
    ctx.switch(0, act.index == CLOSE);
}
