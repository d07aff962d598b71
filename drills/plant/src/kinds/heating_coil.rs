//! A steam coil in a tank, with a thermostatic valve; steam is a boundary.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    TANK = port("tank", Net::Liquid, 0, "Content that it warms."),
});
declare!(LINKS: LinkDef {
    STEAM_PRESSURE = watch("steam-pressure", false, "Pressure of its steam; where it is not given there is always steam."),
});
declare!(PARAMS: ParamDef {
    UA = quantity("conductance", Dimension::HeatConductance, 1.0, 1e6, "Heat conductance from steam to content."),
    STEAM = quantity_or("steam", Dimension::Temperature, (330.0, 500.0), 438.15, "Temperature at which its steam condenses (165 degC: 6 bar)."),
    HOLDS = quantity("holds", Dimension::Temperature, 280.0, 420.0, "Temperature that its thermostat holds in automatic."),
    BAND = quantity_or("band", Dimension::TemperatureDifference, (0.2, 20.0), 4.0, "Proportional band of the thermostat."),
    LEAST_STEAM = quantity_or("least-steam", Dimension::Pressure, (0.0, 2e6), 1e5, "Steam pressure below which nothing condenses in it."),
});
declare!(STATE: StateDef {
    SELECTOR = state_choice("selector", MANUAL_AUTOMATIC, 1, "Who positions its valve."),
    POSITION = state("position", Dimension::Ratio, (0.0, 1.0), 0.0, "Opening of its steam valve."),
    HEATING = inner("heating", 0.0, "Heat given now, W."),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Local, 15.0, "Open its steam valve by hand."),
    CLOSE = act(Verb::Close, Reach::Local, 15.0, "Shut its steam valve by hand."),
    SET_SELECTOR = set_choice("selector", MANUAL_AUTOMATIC, Reach::Local, 5.0, "Hand it to its thermostat or take it by hand."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The steam valve does not move: the tank goes on warming, or cools."),
    FOULED = fault("fouled", 0.6, "Deposits on the coil: this share of its conductance is lost; it warms slower."),
    DRAIN = fault("trap-shut", 1.0, "Its steam trap does not drain: condensate floods the coil, which gives up to a tenth of its heat."),
});
declare!(NEEDS: NeedDef {
    N_STEAM = need("steam", "Steam, while its valve is open."),
});
declare!(READINGS: ReadingDef {
    R_POSITION = reading("position", Dimension::Ratio, Seen::Local, "Opening of its steam valve."),
    R_HEAT = reading("heat", Dimension::Power, Seen::Hidden, "Heat given."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Local, "Temperature of the content."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "heating-coil",
    doc: "A steam coil in a tank with a thermostatic valve.",
    physics: "P = x UA (T_steam - T), x by a proportional thermostat or by hand. Steam is a boundary and condenses at one temperature.",
    source: "heat transfer with one side condensing; control common practice, no source",
    ports: PORTS,
    links: LINKS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    hooks: Hooks {
        control: Some(control),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn has_steam(ctx: &Ctx<'_>) -> bool {
    !ctx.has_link(STEAM_PRESSURE) || ctx.watched(STEAM_PRESSURE) > ctx.p(LEAST_STEAM)
}

fn control(ctx: &mut Ctx<'_>) {
    if ctx.is(SELECTOR) && ctx.fault(STUCK) < 0.5 {
        let error = (ctx.p(HOLDS) - ctx.temperature_k(TANK)) / ctx.p(BAND);
        ctx.set(POSITION, (error + 0.5).clamp(0.0, 1.0));
    }
    let steam = has_steam(ctx);
    ctx.need_while(N_STEAM, ctx.s(POSITION) > 0.02, steam);
}

fn heat(ctx: &mut Ctx<'_>) {
    let works = (1.0 - ctx.fault(FOULED)) * (1.0 - 0.9 * ctx.fault(DRAIN));
    let over_k = (ctx.p(STEAM) - ctx.temperature_k(TANK)).max(0.0);
    let given = if has_steam(ctx) { ctx.s(POSITION) * ctx.p(UA) * works * over_k } else { 0.0 };
    ctx.set(HEATING, given);
    ctx.heat_node_w(TANK, given);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_POSITION, ctx.s(POSITION));
    ctx.read_out(R_HEAT, ctx.s(HEATING));
    ctx.read_out(R_TEMPERATURE, ctx.temperature_k(TANK));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index != SET_SELECTOR && view.is(SELECTOR) {
        let text = "its thermostat holds the valve: set its selector to manual first".into();
        blocks.push(Block { code: "in-automatic", text });
    }
    if act.index != SET_SELECTOR && view.fault(STUCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the valve does not move".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        OPEN => ctx.set(POSITION, 1.0),
        CLOSE => ctx.set(POSITION, 0.0),
        _ => ctx.set(SELECTOR, act.value),
    }
}
