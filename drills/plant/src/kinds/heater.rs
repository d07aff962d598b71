//! An electric heater in a liquid line: the preheater.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, NeedDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "In."),
    OUTLET = port("outlet", Net::Liquid, 0, "Out."),
    SUPPLY = port("supply", Net::Ac, 0, "Electric supply."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("power", Dimension::Power, 1.0, 1e7, "Electric power at nominal voltage."),
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient."),
    ON_BELOW = quantity("on-below", Dimension::Temperature, 250.0, 450.0, "Switches on below this inlet temperature, in automatic."),
    OFF_ABOVE = quantity("off-above", Dimension::Temperature, 250.0, 450.0, "Switches off above this."),
    LEAST_FLOW = quantity("least-flow", Dimension::Flow, 0.0, 1.0, "Flow below which it will not heat."),
});
declare!(STATE: StateDef {
    SELECTOR = state_choice("selector", MANUAL_AUTOMATIC, 0, "Who switches it."),
    ON = state_flag("on", false, "Switched on?"),
    HEATING = inner("heating", 0.0, "Heat given now, W."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 5.0, "Switch on by hand."),
    STOP = act(Verb::Stop, Reach::Remote, 5.0, "Switch off by hand."),
    SET_SELECTOR = set_choice("selector", MANUAL_AUTOMATIC, Reach::Remote, 5.0, "Hand it to its thermostat or take it by hand."),
});
declare!(FAULTS: FaultDef {
    BURNT = fault("element-burnt", 0.5, "This share of its elements is open: it warms slower."),
    THERMOSTAT = fault("thermostat-stuck", 1.0, "Its thermostat hangs: in automatic it neither switches on nor off."),
    GUARD = fault("flow-guard-open", 1.0, "The flow guard does not make contact: it does not heat though water flows."),
    WELDED = fault("contactor-welded", 1.0, "The contacts are welded: it goes on heating when it is switched off."),
});
declare!(NEEDS: NeedDef {
    N_SUPPLY = need("supply", "Voltage."),
    N_FLOW = need("flow", "Flow, while it is switched on."),
});
declare!(READINGS: ReadingDef {
    R_ON = reading_words("on", NO_YES, Seen::Remote, "Switched on?"),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Electric power."),
    R_SELECTOR = reading_words("selector", MANUAL_AUTOMATIC, Seen::Remote, "Who switches it."),
    R_INLET = reading("inlet-temperature", Dimension::Temperature, Seen::Local, "Temperature in."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "heater",
    doc: "An electric heater in a liquid line with a thermostat and a flow guard.",
    physics: "All of P = P0 (V/V0)^2 goes into the stream; no heat without flow.",
    source: "resistive load",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        control: Some(control),
        liquid: Some(liquid),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    let flowing = ctx.flow_m3_s(0) > ctx.p(LEAST_FLOW) && ctx.fault(GUARD) < 0.5;
    let live = ctx.voltage_share(SUPPLY) > 0.7;
    if ctx.is(SELECTOR) && ctx.fault(THERMOSTAT) < 0.5 {
        let inlet = ctx.temperature_k(INLET);
        if inlet < ctx.p(ON_BELOW) {
            ctx.set(ON, 1.0);
        } else if inlet > ctx.p(OFF_ABOVE) {
            ctx.set(ON, 0.0);
        }
    }
    ctx.need_while(N_SUPPLY, ctx.is(ON), live);
    ctx.need(N_FLOW, flowing || !ctx.is(ON));
    let share = ctx.voltage_share(SUPPLY);
    // Welded contacts keep what they had: heat while there was any.
    let closed = ctx.is(ON) || (ctx.fault(WELDED) >= 0.5 && ctx.s(HEATING) > 0.0);
    let heating =
        if closed && flowing && live { ctx.p(POWER) * (1.0 - ctx.fault(BURNT)) * share * share } else { 0.0 };
    ctx.set(HEATING, heating);
    let node = ctx.node(SUPPLY);
    let nominal = ctx.nets.ac.nominal_v[node] * share.max(0.3);
    let y = ctx.s(HEATING) / (nominal * nominal);
    ctx.nets.ac.add_standing(node, Complex::new(y, 0.0));
}

fn liquid(ctx: &mut Ctx<'_>) {
    let (kv, density) = (ctx.p(KV), ctx.density_kg_m3(INLET));
    ctx.liquid_branch(0).set_kv(kv, density);
}

fn heat(ctx: &mut Ctx<'_>) {
    let heating = ctx.s(HEATING);
    ctx.liquid_branch(0).heat_w = heating;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_ON, ctx.s(ON));
    ctx.read_out(R_POWER, ctx.s(HEATING));
    ctx.read_out(R_SELECTOR, ctx.s(SELECTOR));
    ctx.read_out(R_INLET, ctx.temperature_k(INLET));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index != SET_SELECTOR && view.is(SELECTOR) {
        blocks.push(Block {
            code: "in-automatic",
            text: "its selector stands in automatic: set it to manual first".into(),
        });
    }
    if act.index == START && view.voltage_share(SUPPLY) < 0.7 {
        blocks.push(Block { code: "no-supply", text: "no voltage at its switch".into() });
    }
    if act.index == START && (view.flow_m3_s(0) <= view.p(LEAST_FLOW) || view.fault(GUARD) >= 0.5) {
        blocks.push(Block { code: "no-flow", text: "its flow guard is open: start its pump first".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => ctx.set(ON, 1.0),
        STOP => ctx.set(ON, 0.0),
        _ => ctx.set(SELECTOR, act.value),
    }
}
