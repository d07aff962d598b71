//! A bilge well: what leaks in its place and above runs into it, a pump empties it to a holding tank.

use super::declare::*;
use super::harm::Sensor;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SUPPLY = port("supply", Net::Ac, 0, "Electric supply of its pump."),
});
declare!(LINKS: LinkDef {
    DRAIN = watch("drain", false, "Flow that runs into it by a line, besides what leaks: the inflow of an opening."),
});
declare!(PARAMS: ParamDef {
    CAPACITY = quantity("capacity", Dimension::Volume, 1e-3, 1e3, "Content up to the plates that cover it."),
    PUMP_FLOW = quantity("pump-flow", Dimension::Flow, 1e-6, 1.0, "What its pump takes out."),
    PUMP_POWER = quantity("pump-power", Dimension::Power, 1.0, 1e6, "Electric power that its pump takes."),
});
declare!(STATE: StateDef {
    VOLUME = state("volume", Dimension::Volume, (0.0, 1e4), 0.0, "Content, with what stands on the tank top above it."),
    ON = state_flag("on", false, "Its pump switched on?"),
    PUMPED = inner("pumped", 0.0, "What was pumped to the holding tank, m3."),
    INFLOW = inner("inflow", 0.0, "What runs in now, m3/s."),
    HELD = inner("held-level", 0.0, "Level that the gauge showed last."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 5.0, "Start its pump: to the bilge holding tank, never overboard."),
    STOP = act(Verb::Stop, Reach::Remote, 5.0, "Stop its pump."),
});
declare!(FAULTS: FaultDef {
    FLOAT = untrue("float-hangs", 1.0, "The float hangs: the gauge shows the level at which it stuck, no alert comes; the sounding tells the truth."),
    CHOKED = fault("suction-choked", 0.9, "Rags on the mud box: the pump takes out less by this share."),
});
declare!(READINGS: ReadingDef {
    R_LEVEL = reading("level", Dimension::Ratio, Seen::Remote, "Level as the gauge shows it: what alerts look at."),
    R_VOLUME = reading("volume", Dimension::Volume, Seen::Local, "Content by sounding, with what stands above the plates."),
    R_ON = reading_words("pump-on", NO_YES, Seen::Remote, "Is its pump on?"),
    R_PUMPED = reading("pumped", Dimension::Volume, Seen::Remote, "What its pump has put into the holding tank since the beginning."),
    R_INFLOW = reading("inflow", Dimension::Flow, Seen::Hidden, "What runs into it."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "bilge-well",
    doc: "The bilge well of a machinery space with its pump. What leaks from lines, glands, seals and \
          tanks of its place, and of places that drain to it, runs into it within the tick (several wells of a place share it alike). Oil, fuel and water stand in \
          it together: the pump puts them into the bilge holding tank, there is no way overboard. (Oily water may leave a \
          ship only by filtering equipment with not more than 15 parts of oil in a million: MARPOL Annex I, from memory.)",
    physics: "dV/dt = leaks + drain - pump; level V over capacity. The pump takes its flow while it has voltage and something \
              to take, drops out without, and comes back by hand. What does not fit stands on the tank top and runs back. \
              What runs over from a tank goes by its overflow line and does not come here. Left out: oil parted from water, \
              list, trim, the content of the holding tank.",
    source: "volume balance",
    ports: PORTS,
    links: LINKS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        after: Some(after),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn settle(ctx: &mut Ctx<'_>) {
    let place = ctx.wiring.spills_to;
    ctx.nets.bilge.add_well(place);
}

/// Share of its voltage below which the contactor of its pump drops out.
const DROPS_OUT: f64 = 0.7;

fn control(ctx: &mut Ctx<'_>) {
    let share = ctx.voltage_share(SUPPLY);
    if !ctx.is(ON) {
        return;
    }
    if share < DROPS_OUT {
        ctx.set(ON, 0.0);
        return;
    }
    let node = ctx.node(SUPPLY);
    let voltage = ctx.nets.ac.nominal_v[node] * share;
    let admittance = Complex::new(ctx.p(PUMP_POWER) / (voltage * voltage), 0.0);
    ctx.nets.ac.add_standing(node, admittance);
}

fn after(ctx: &mut Ctx<'_>) {
    let place = ctx.wiring.spills_to;
    let leaked_m3_s = ctx.nets.bilge.share_m3_s(place);
    let drained_m3_s = if ctx.has_link(DRAIN) { ctx.watched(DRAIN).max(0.0) } else { 0.0 };
    let inflow_m3_s = leaked_m3_s + drained_m3_s;
    ctx.set(INFLOW, inflow_m3_s);
    let there_m3 = ctx.s(VOLUME) + ctx.dt_s * inflow_m3_s;
    let wanted_m3_s = if ctx.is(ON) { ctx.p(PUMP_FLOW) * (1.0 - ctx.fault(CHOKED)) } else { 0.0 };
    let taken_m3 = (ctx.dt_s * wanted_m3_s).min(there_m3);
    ctx.set(VOLUME, there_m3 - taken_m3);
    let pumped_m3 = ctx.s(PUMPED) + taken_m3;
    ctx.set(PUMPED, pumped_m3);
}

const GAUGE: Sensor = Sensor { frozen: Some(FLOAT), reads_high: None, noisy: None, dead: None, held: HELD };

fn publish(ctx: &mut Ctx<'_>) {
    let level = (ctx.s(VOLUME) / ctx.p(CAPACITY)).min(1.0);
    let shown = GAUGE.shows(ctx, level, 0.0, 0.0);
    ctx.read_out(R_LEVEL, shown);
    ctx.read_out(R_VOLUME, ctx.s(VOLUME));
    ctx.read_out(R_ON, ctx.s(ON));
    ctx.read_out(R_PUMPED, ctx.s(PUMPED));
    ctx.read_out(R_INFLOW, ctx.s(INFLOW));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == START && view.voltage_share(SUPPLY) < DROPS_OUT {
        blocks.push(Block { code: "no-supply", text: "no voltage at its pump's starter".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set_is(ON, act.index == START);
}

#[cfg(test)]
mod tests {
    use super::{START, STOP};
    use crate::kinds::testkit::Rig;

    const RIG: &str = include_str!("../../../data/rigs/bilge-well.toml");

    /// The rig's hole as its file says: 0.05 of 4 m3/h at 1 bar.
    const HOLE_M3_S: f64 = 0.05 * 4.0 / 3600.0;

    /// Torricelli through a hole that passes `HOLE_M3_S` at 1 bar, out of a tank of 1 m2 filled 2 m high, 985 kg/m3: the
    /// root of the level falls in a straight line. What the tank loses stands in the well of the place below, not in
    /// that of the other place, with nothing missing.
    #[test]
    fn what_leaks_on_the_flat_stands_in_the_well_below_it() {
        let mut rig = Rig::read(RIG, Some("tank full"));
        rig.run(1.0);
        let before_m3 = rig.value("tank.volume");
        rig.fault("line", "leaks", 1.0);
        rig.tick();
        assert!(rig.value("well.inflow") > 0.5 * HOLE_M3_S * 0.19_f64.sqrt(), "within a tick");
        rig.run(4.0 * 3600.0 - 0.05);
        let k = HOLE_M3_S * (985.0 * crate::fluid::GRAVITY / 1e5).sqrt();
        let root = before_m3.sqrt() - 0.5 * k * 4.0 * 3600.0;
        let (lost_m3, well_m3) = (before_m3 - rig.value("tank.volume"), rig.value("well.volume"));
        let expected_m3 = before_m3 - root * root;
        println!("lost {lost_m3:.5} m3, in the well {well_m3:.5} m3, by Torricelli {expected_m3:.5} m3");
        assert!((lost_m3 / expected_m3 - 1.0).abs() < 0.01);
        assert!((well_m3 - lost_m3).abs() < 1e-5 * lost_m3, "a leak from nowhere or to nowhere");
        assert_eq!(rig.value("other.volume"), 0.0);
        assert_eq!(rig.value("well.level"), 1.0, "what does not fit stands above the plates");
    }

    /// A cracked tank and an open drain: both run into the well, by what they lose.
    #[test]
    fn a_cracked_tank_and_a_drain_run_into_it() {
        let mut rig = Rig::read(RIG, Some("tank full"));
        rig.act("drain", crate::kinds::valve::OPEN, 0.0);
        rig.fault("tank", "leaks", 0.5);
        rig.run(600.0);
        let lost_m3 = 2.0 - rig.value("tank.volume");
        assert!(lost_m3 > 0.1);
        // The drain's reading is a tick old, and its valve was opening in the first seconds.
        assert!((rig.value("well.volume") - lost_m3).abs() < 1e-3 * lost_m3);
    }

    /// 120 L at 6 m3/h are 72 s; what was pumped is what was there. Without voltage it drops out and stays out.
    #[test]
    fn its_pump_empties_it_while_it_has_voltage() {
        let mut rig = Rig::read(RIG, Some("well filled"));
        rig.run(1.0);
        rig.act("well", START, 0.0);
        rig.run(36.0);
        assert!((rig.value("well.volume") - 0.06).abs() < 1e-3);
        rig.act("shore", rig_open(), 0.0);
        rig.run(1.0);
        assert_eq!(rig.value("well.pump-on"), 0.0);
        let stands_m3 = rig.value("well.volume");
        rig.run(10.0);
        assert_eq!(rig.value("well.volume"), stands_m3);
        assert_eq!(rig.codes("well", START), ["no-supply"]);
        assert!((rig.value("well.pumped") + stands_m3 - 0.12).abs() < 1e-9);
    }

    #[test]
    fn a_hanging_float_deceives_the_gauge_and_rags_slow_the_pump() {
        let mut rig = Rig::read(RIG, Some("well filled"));
        rig.run(1.0);
        rig.fault("well", "float-hangs", 1.0);
        rig.fault("well", "suction-choked", 0.9);
        rig.act("well", START, 0.0);
        rig.run(36.0);
        assert!((rig.value("well.volume") - 0.114).abs() < 1e-3);
        assert_eq!(rig.value("well.level"), 0.6);
        rig.act("well", STOP, 0.0);
        rig.fault("well", "float-hangs", 0.0);
        rig.run(1.0);
        assert!((rig.value("well.level") - 0.57).abs() < 0.01);
    }

    /// Index of the act that opens the switch of the supply.
    fn rig_open() -> usize {
        let kind = &crate::kinds::shore_supply::KIND;
        kind.acts.iter().position(|act| act.verb == crate::kind::Verb::Open).expect("it has a switch")
    }
}
