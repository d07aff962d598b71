//! The controlled three-way valve of the sea water return: part goes back to the suction when the sea is too cold.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, NeedDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    RETURN = port("return", Net::Liquid, 0, "From the coolers."),
    OVERBOARD = port("overboard", Net::Liquid, 0, "To the overboard."),
    RECIRCULATION = port("recirculation", Net::Liquid, 0, "Back to the suction."),
    SENSOR = port("sensor", Net::Liquid, 0, "Node whose temperature is held."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply of positioner and controller."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-4, 10.0, "Flow coefficient of the way to the overboard, fully open."),
    BACK_KV = quantity("recirculation-kv", Dimension::FlowCoefficient, 1e-4, 10.0, "Flow coefficient of the way back, fully open."),
    HOLDS = quantity_or("holds", Dimension::Temperature, (250.0, 330.0), 283.15, "Lowest temperature to hold at the sensor."),
    BAND = quantity_or("band", Dimension::TemperatureDifference, (0.5, 30.0), 6.0, "Proportional band."),
    STROKE = quantity_or("stroke", Dimension::Time, (1.0, 300.0), 60.0, "Time from one end to the other."),
});
declare!(STATE: StateDef {
    BACK = state("recirculating", Dimension::Ratio, (0.0, 1.0), 0.0, "Share of the valve's travel that sends water back."),
    SELECTOR = state_choice("selector", MANUAL_AUTOMATIC, 1, "Who positions it."),
    MANUAL = inner("manual", 0.0, "Position asked for by hand."),
});
declare!(ACTS: ActDef {
    SET_SELECTOR = set_choice("selector", MANUAL_AUTOMATIC, Reach::Remote, 5.0, "Hand it to its controller or take it by hand."),
    SET_POSITION = set_quantity("position", Dimension::Ratio, (0.0, 1.0), Reach::Remote, 10.0, "Share to send back, when in manual."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The actuator does not move."),
    SENSOR_LOW = fault("sensor-reads-low", 0.5, "Its sensor reads up to 20 K too low: in automatic it sends water back that should go overboard; coolers get warm water."),
    RUNS_BACK = fault("runs-to-recirculation", 1.0, "The positioner has lost its feedback: it runs to full recirculation, in automatic and by hand."),
});
declare!(NEEDS: NeedDef {
    N_CONTROL = need("control-supply", "Control voltage; without it the valve stays where it is."),
});
declare!(READINGS: ReadingDef {
    R_BACK = reading("recirculating", Dimension::Ratio, Seen::Remote, "Share of travel that sends water back."),
    R_SELECTOR = reading_words("selector", MANUAL_AUTOMATIC, Seen::Remote, "Who positions it."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Remote, "Temperature at the sensor."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "return-valve",
    doc: "Controlled three-way valve of the sea water return, manual or automatic.",
    physics: "Proportional controller and an actuator of constant speed; linear characteristic of both ways.",
    source: "proportional control; values common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    liquid_branches: &[
        BranchDef { from: RETURN, to: OVERBOARD },
        BranchDef { from: RETURN, to: RECIRCULATION },
    ],
    hooks: Hooks {
        control: Some(control),
        liquid: Some(liquid),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    let alive = ctx.has_control_voltage(CONTROL);
    ctx.need(N_CONTROL, alive);
    if !alive || ctx.faulty(STUCK) {
        return;
    }
    ctx.draw_dc(CONTROL, 0.5);
    // Full return to the suction half a band below what is to be held, none half a band above.
    let felt_k = ctx.temperature_k(SENSOR) - 20.0 * ctx.fault(SENSOR_LOW);
    let error = (ctx.p(HOLDS) - felt_k) / ctx.p(BAND);
    let asked = if ctx.is(SELECTOR) { (error + 0.5).clamp(0.0, 1.0) } else { ctx.s(MANUAL) };
    let wanted = if ctx.fault(RUNS_BACK) >= 0.5 { 1.0 } else { asked };
    let step = ctx.dt_s / ctx.p(STROKE);
    let back = ctx.s(BACK);
    ctx.set(BACK, back + (wanted - back).clamp(-step, step));
}

fn liquid(ctx: &mut Ctx<'_>) {
    let back = ctx.s(BACK);
    let (kv, back_kv, density) = (ctx.p(KV), ctx.p(BACK_KV), ctx.density_kg_m3(RETURN));
    ctx.liquid_branch(0).set_kv(kv * (1.0 - back).max(0.02), density);
    ctx.liquid_branch(1).set_kv(back_kv * back, density);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_BACK, ctx.s(BACK));
    ctx.read_out(R_SELECTOR, ctx.s(SELECTOR));
    ctx.read_out(R_TEMPERATURE, ctx.temperature_k(SENSOR) - 20.0 * ctx.fault(SENSOR_LOW));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if !view.has_control_voltage(CONTROL) {
        blocks.push(Block {
            code: "no-control-supply",
            text: "no control voltage at the valve's positioner".into(),
        });
    }
    if act.index == SET_POSITION && view.is(SELECTOR) {
        blocks.push(Block {
            code: "in-automatic",
            text: "its selector stands in automatic: set it to manual first".into(),
        });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    if act.index == SET_SELECTOR {
        let back = ctx.s(BACK);
        ctx.set(MANUAL, back);
        ctx.set(SELECTOR, act.value);
    } else {
        ctx.set(MANUAL, act.value);
    }
}
