//! A pressure-reducing valve in an air line: holds the pressure behind it.

use super::air_valve::nozzle_conductance;
use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Air, 0, "High pressure."),
    OUTLET = port("outlet", Net::Air, 0, "Reduced pressure."),
});
declare!(PARAMS: ParamDef {
    BORE = quantity("bore", Dimension::Length, 1e-4, 0.1, "Bore of the equivalent nozzle fully open."),
    PRESSURE = quantity_or("pressure", Dimension::Pressure, (1e4, 5e6), 7e5, "Pressure that it holds without flow, until another is set."),
    BAND = quantity_or("band", Dimension::Pressure, (1e3, 1e6), 5e4, "Fall of that pressure at which it is fully open (common practice, no source)."),
});
declare!(STATE: StateDef {
    SET = state("set-pressure", Dimension::Pressure, (-1.0, 5e6), -1.0, "Pressure that its spring is set to; silent: that of the ship file."),
});
declare!(ACTS: ActDef {
    SET_PRESSURE = set_quantity("pressure", Dimension::Pressure, (0.0, 5e6), Reach::Local, 10.0, "Turn its spring to this pressure."),
});
declare!(FAULTS: FaultDef {
    OPEN = fault("leaks-through", 0.3, "Dirt on its seat: it never shuts further than this share; pressure behind it climbs to the safety valve."),
    SHUT = fault("blocked", 1.0, "Ice or dirt in it: this share of its bore is shut; pressure behind it falls with consumption."),
});
declare!(READINGS: ReadingDef {
    R_PRESSURE = reading("pressure", Dimension::Pressure, Seen::Remote, "Pressure behind it."),
    R_INLET = reading("inlet-pressure", Dimension::Pressure, Seen::Local, "Pressure before it."),
    R_FLOW = reading("flow", Dimension::MassFlow, Seen::Hidden, "Mass flow."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "air-reducer",
    doc: "A pressure-reducing valve in an air line, for control air.",
    physics: "ISO 6358 nozzle whose opening goes in proportion to the pressure that is missing behind it. Does not relieve.",
    source: "ISO 6358-1; proportional spring: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    air_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        settle: Some(settle),
        air: Some(air),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Discharge coefficient of its nozzle; common practice, no source.
const DISCHARGE: f64 = 0.8;

fn settle(ctx: &mut Ctx<'_>) {
    if ctx.s(SET) < 0.0 {
        let pressure = ctx.p(PRESSURE);
        ctx.set(SET, pressure);
    }
}

fn air(ctx: &mut Ctx<'_>) {
    let missing = (ctx.s(SET) - ctx.air_pa(OUTLET)) / ctx.p(BAND);
    let open = missing.clamp(0.0, 1.0).max(ctx.fault(OPEN)) * (1.0 - ctx.fault(SHUT));
    let conductance = open * nozzle_conductance(ctx.p(BORE), DISCHARGE);
    let branch = ctx.air_branch(0);
    branch.conductance_m3_s_pa = conductance;
    branch.critical_ratio = 0.528;
    branch.one_way = true;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_PRESSURE, ctx.air_pa(OUTLET));
    ctx.read_out(R_INLET, ctx.air_pa(INLET));
    ctx.read_out(R_FLOW, ctx.air_flow_kg_s(0));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let most = 1.3 * view.p(PRESSURE);
    if act.value > most {
        let text = format!("its spring goes to {:.1} bar", most / 1e5);
        blocks.push(Block { code: "out-of-range", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(SET, act.value);
}

#[cfg(test)]
mod tests {
    use crate::kinds::testkit::Rig;

    fn rig() -> Rig {
        Rig::read(include_str!("../../../data/rigs/air-reducer.toml"), Some("in service"))
    }

    /// The rig says from where.
    #[test]
    fn it_holds_its_pressure_less_the_band_of_its_opening() {
        let mut rig = rig();
        rig.run(120.0);
        for (name, share) in [("small", 1.0 / 36.0), ("large", 16.0 / 36.0)] {
            let value = |reading: &str| rig.value(&format!("{name}.reducer.{reading}"));
            let (low, high) = (value("pressure"), value("inlet-pressure"));
            let open = share * (low + 101_325.0) / (high + 101_325.0);
            let wanted = 7e5 - 5e4 * open;
            assert!((low - wanted).abs() < 500.0, "{name}: {low} Pa for {wanted} Pa");
        }
    }

    #[test]
    fn dirt_on_its_seat_lifts_the_safety_valve_and_a_blocked_one_starves() {
        let mut rig = rig();
        rig.run(20.0);
        rig.fault("small.reducer", "leaks-through", 0.3);
        rig.fault("large.reducer", "blocked", 1.0);
        rig.run(30.0);
        let (leaking, blocked) = (rig.value("small.reducer.pressure"), rig.value("large.reducer.pressure"));
        assert!((8.8e5..10.5e5).contains(&leaking), "{leaking} Pa");
        assert!(blocked < 5e5, "{blocked} Pa");
    }
}
