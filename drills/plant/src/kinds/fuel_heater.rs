//! The final heater of heavy fuel: electric, holding a temperature or a viscosity, warming no faster than its ramp.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::fluid::fuel_temperature_k;
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

const MODES: &[&str] = &["off", "temperature", "viscosity"];
const VISCOSITY: f64 = 2.0;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "In."),
    OUTLET = port("outlet", Net::Liquid, 0, "Out; temperature and viscosity are taken here."),
    SUPPLY = port("supply", Net::Ac, 0, "Electric supply."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply of its controller."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("power", Dimension::Power, 1.0, 1e7, "Electric power at nominal voltage, all elements in."),
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient."),
    HOLDS_NU = quantity_or("holds-viscosity", Dimension::Viscosity, (2e-6, 1e-4), 13.5e-6, "Viscosity that it holds at its outlet in `viscosity` (12 to 15 mm2/s at injection: common practice, no source)."),
    RAMP = quantity_or("ramp", Dimension::TemperatureDifference, (0.1, 60.0), 2.0, "Most that it raises the temperature in a minute: injection pumps must not be shocked (2 K/min: common practice, no source)."),
    LIMIT = quantity_or("limit", Dimension::Temperature, (300.0, 450.0), 423.15, "Temperature above which its thermostat cuts out whatever its controller says."),
    LEAST_FLOW = quantity_or("least-flow", Dimension::Flow, (0.0, 1.0), 3e-5, "Flow below which it will not heat."),
});
declare!(STATE: StateDef {
    MODE = state_choice("mode", MODES, 0, "What it holds."),
    WANTED = state("holds", Dimension::Temperature, (273.15, 450.0), 403.15, "Temperature that it holds in `temperature`."),
    SET = inner("ramped", 0.0, "Temperature that the ramp has reached, K; 0 while it is off."),
    TRIM = inner("trim", 0.0, "Integral part of its controller, W."),
    HEATING = inner("heating", 0.0, "Heat given now, W."),
    CUT = inner("cut-out", 0.0, "1 while its thermostat has cut it out."),
});
declare!(ACTS: ActDef {
    SET_MODE = set_choice("mode", MODES, Reach::Remote, 5.0, "Switch it off, or let it hold a temperature or a viscosity."),
    SET_WANTED = set_quantity("temperature", Dimension::Temperature, (303.15, 423.15), Reach::Remote, 5.0, "Temperature to hold in `temperature`."),
});
declare!(FAULTS: FaultDef {
    BURNT = fault("element-burnt", 0.5, "This share of its elements is open: at load the fuel stays too cold and thick."),
    THICK = fault("viscometer-reads-high", 0.5, "Deposits in the viscometer: it shows up to twice the viscosity, so in `viscosity` the fuel gets too hot and thin."),
    STUCK = fault("controller-stuck", 1.0, "The controller gives what it gave: temperature wanders with flow."),
});
declare!(NEEDS: NeedDef {
    N_SUPPLY = need("supply", "Voltage, while it is switched on."),
    N_FLOW = need("flow", "Flow, while it is switched on."),
});
declare!(READINGS: ReadingDef {
    R_MODE = reading_words("mode", MODES, Seen::Remote, "What it holds."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Electric power."),
    R_OUT = reading("outlet-temperature", Dimension::Temperature, Seen::Remote, "Temperature out."),
    R_NU = reading("viscosity", Dimension::Viscosity, Seen::Remote, "Viscosity as the viscometer shows it."),
    R_SET = reading("set-temperature", Dimension::Temperature, Seen::Remote, "Where its ramp stands; what the fuel has while it is off."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow through it."),
});
declare!(FINDINGS: FindingDef {
    F_CUT = finding("cut-out", Dimension::Temperature, "cut out by its thermostat at {measured}, limit {limit}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "fuel-heater",
    doc: "An electric heater in a fuel line, holding a temperature or a viscosity.",
    physics: "P = flow x heat x (set - inlet) plus an integral of (set - outlet), between nothing and P0 (V/V0)^2, all into the \
              stream. The set temperature runs to what is wanted at the ramp, from the outlet's when switched on; for a viscosity it \
              is the temperature at which the fuel in its outlet has it (Walther). It heats only with flow and below its limit.",
    source: "resistive load; ASTM D341; control common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
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

/// Heat that its controller adds in a second for each kelvin that the outlet is below the set, over its power.
const INTEGRAL_PER_K_S: f64 = 0.001;
/// Below its limit by this much the thermostat lets it heat again, K.
const BACK_K: f64 = 5.0;

fn shown_viscosity_m2_s(ctx: &Ctx<'_>) -> f64 {
    ctx.viscosity_m2_s(OUTLET) * (1.0 + ctx.fault(THICK))
}

/// Temperature that it works towards, before the ramp.
fn wanted_k(ctx: &Ctx<'_>) -> f64 {
    if ctx.s(MODE) < VISCOSITY {
        return ctx.s(WANTED);
    }
    // A viscometer that shows too much asks for a fuel that is as much thinner.
    fuel_temperature_k(ctx.p(HOLDS_NU) / (1.0 + ctx.fault(THICK)), ctx.heavy_share(OUTLET))
}

fn control(ctx: &mut Ctx<'_>) {
    regulate(ctx);
    let share = ctx.voltage_share(SUPPLY).max(0.3);
    let node = ctx.node(SUPPLY);
    let volts = ctx.nets.ac.nominal_v[node] * share;
    let y = ctx.s(HEATING) / (volts * volts);
    ctx.nets.ac.add_standing(node, Complex::new(y, 0.0));
}

fn regulate(ctx: &mut Ctx<'_>) {
    let on = ctx.s(MODE) > 0.5;
    let share = ctx.voltage_share(SUPPLY);
    let live = share > 0.7 && ctx.has_control_voltage(CONTROL);
    let flowing = ctx.flow_m3_s(0) > ctx.p(LEAST_FLOW);
    // Found in service, it has voltage and flow from the second tick on.
    let found = ctx.tick <= 2;
    ctx.need_while(N_SUPPLY, on && !found, live);
    ctx.need(N_FLOW, flowing || !on || found);
    let out_k = ctx.temperature_k(OUTLET);
    watch_limit(ctx, out_k);
    if !on || !live || !flowing || ctx.is(CUT) {
        ctx.set(HEATING, 0.0);
        ctx.set(TRIM, 0.0);
        ctx.set(SET, 0.0);
        return;
    }
    let most = ctx.p(POWER) * (1.0 - ctx.fault(BURNT)) * share * share;
    if ctx.faulty(STUCK) {
        let held = ctx.s(HEATING).min(most);
        ctx.set(HEATING, held);
        return;
    }
    let before = if ctx.s(SET) > 0.0 { ctx.s(SET) } else { out_k };
    let step = ctx.p(RAMP) / 60.0 * ctx.dt_s;
    // Ahead of a heater at its limit the ramp waits.
    let set = (before + (wanted_k(ctx) - before).clamp(-step, step)).min(out_k.max(before - step) + 10.0);
    ctx.set(SET, set);
    let rate = ctx.nets.heat.capacity_rate_w_k(&ctx.nets.liquid, ctx.wiring.liquid_branches);
    let ahead = rate * (set - ctx.temperature_k(INLET));
    let asked = ahead + ctx.s(TRIM);
    let given = asked.clamp(0.0, most);
    ctx.set(HEATING, given);
    if asked == given {
        let trim = ctx.s(TRIM) + INTEGRAL_PER_K_S * ctx.p(POWER) * (set - out_k) * ctx.dt_s;
        ctx.set(TRIM, trim.clamp(-ctx.p(POWER), ctx.p(POWER)));
    }
}

fn watch_limit(ctx: &mut Ctx<'_>, out_k: f64) {
    if out_k > ctx.p(LIMIT) && !ctx.is(CUT) {
        ctx.set(CUT, 1.0);
        ctx.find(F_CUT, out_k, ctx.p(LIMIT), 0.0);
    } else if out_k < ctx.p(LIMIT) - BACK_K {
        ctx.set(CUT, 0.0);
    }
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
    ctx.read_out(R_MODE, ctx.s(MODE));
    ctx.read_out(R_POWER, ctx.s(HEATING));
    let out_k = ctx.temperature_k(OUTLET);
    ctx.read_out(R_OUT, out_k);
    let shown = shown_viscosity_m2_s(ctx);
    ctx.read_out(R_NU, shown);
    ctx.read_out(R_SET, if ctx.s(SET) > 0.0 { ctx.s(SET) } else { out_k });
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == SET_MODE && act.value > 0.5 {
        if view.voltage_share(SUPPLY) < 0.7 {
            blocks.push(Block { code: "no-supply", text: "no voltage at its switch".into() });
        }
        if view.flow_m3_s(0) <= view.p(LEAST_FLOW) {
            blocks
                .push(Block { code: "no-flow", text: "its flow guard is open: start its pump first".into() });
        }
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_MODE => ctx.set(MODE, act.value),
        _ => ctx.set(WANTED, act.value),
    }
}
