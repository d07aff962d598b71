//! An ideal driver for rigs: it holds a shaft at a speed, whatever the load.

use super::declare::*;
use crate::ctx::Ctx;
use crate::kind::{
    Act, ActDef, Hooks, Joints, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Shaft that it holds."),
});
declare!(PARAMS: ParamDef {
    SPEED = quantity("speed", Dimension::Speed, 0.0, 1500.0, "Speed until another is set."),
});
declare!(STATE: StateDef {
    HELD = inner("held-speed", -1.0, "Speed that it holds, rad/s; negative before the parameter was taken over."),
});
declare!(ACTS: ActDef {
    SET_SPEED = set_quantity("speed", Dimension::Speed, (0.0, 1500.0), Reach::Local, 1.0, "Speed to hold from now on."),
});
declare!(READINGS: ReadingDef {
    R_SPEED = reading("speed", Dimension::Speed, Seen::Local, "Speed."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Power that the shaft takes from it."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "drive",
    doc: "An ideal driver for rigs.",
    physics: "The shaft turns at the speed set, at once and under any load.",
    source: "boundary condition",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    readings: READINGS,
    joints: Joints { turns: &[SHAFT], brings_inertia: |_| true, ..Joints::NONE },
    hooks: Hooks {
        settle: Some(settle),
        motion: Some(hold),
        publish: Some(publish),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Moment of inertia that it gives the shaft, kg m2: no load changes the speed within a sub-step.
const FLYWHEEL_KG_M2: f64 = 1e15;

fn settle(ctx: &mut Ctx<'_>) {
    let (node, speed) = (ctx.node(SHAFT), ctx.p(SPEED));
    ctx.set(HELD, speed);
    ctx.nets.shaft.inertia_kg_m2[node] = FLYWHEEL_KG_M2;
    hold(ctx);
}

fn hold(ctx: &mut Ctx<'_>) {
    let (node, speed) = (ctx.node(SHAFT), ctx.s(HELD));
    ctx.nets.shaft.speed_rad_s[node] = speed;
}

fn publish(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SHAFT);
    let shaft = &ctx.nets.shaft;
    let speed = shaft.speed_rad_s[node];
    let load = shaft.quadratic_nm_s2[node] * speed * speed.abs() + shaft.friction_nm[node];
    let power = (load - shaft.torque_nm[node]) * speed;
    ctx.read_out(R_SPEED, speed);
    ctx.read_out(R_POWER, power);
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(HELD, act.value);
}
