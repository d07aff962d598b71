//! A pressure gauge and thermometer on a liquid line, with its own ways of telling untruths.

use super::declare::*;
use super::harm::Sensor;
use crate::ctx::Ctx;
use crate::kind::{FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    LINE = port("line", Net::Liquid, 0, "Where it is fitted."),
});
declare!(PARAMS: ParamDef {
    RANGE = quantity_or("range", Dimension::Pressure, (1e4, 1e8), 1e6, "Full scale of the pressure gauge."),
});
declare!(STATE: StateDef {
    HELD_PA = inner("held-pressure", 0.0, "What a frozen gauge shows, Pa."),
    HELD_K = inner("held-temperature", 300.0, "What a frozen thermometer shows, K."),
});
declare!(FAULTS: FaultDef {
    FROZEN = untrue("frozen", 1.0, "The pointer sticks: it shows what it showed when it froze."),
    DRIFTS = untrue("reads-high", 0.3, "It reads high by up to a tenth of its range; the line itself is as it was."),
    DEAD = untrue("dead", 1.0, "No signal: pressure reads nothing, temperature the end of its scale."),
    NOISY = untrue("noisy", 0.5, "A loose contact: both swing without rest, by up to a twentieth of the range; alerts come and go."),
    HOT = untrue("thermometer-reads-high", 0.5, "The thermometer reads high by up to 20 K; the line itself is as it was."),
});
declare!(READINGS: ReadingDef {
    R_PRESSURE = reading("pressure", Dimension::Pressure, Seen::Remote, "Gauge pressure as shown."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Remote, "Temperature as shown."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "gauge",
    doc: "A pressure gauge and thermometer on a liquid line, shown at the place and remotely.",
    physics: "Shows the node's values; its faults deceive the person and the alerts, never the plant.",
    source: "no physics of its own",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks { publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn publish(ctx: &mut Ctx<'_>) {
    let (pressure_pa, temperature_k, range_pa) =
        (ctx.pressure_pa(LINE), ctx.temperature_k(LINE), ctx.p(RANGE));
    let shown_pa = PRESSURE.shows(ctx, pressure_pa, 0.1 * range_pa, 0.0);
    ctx.read_out(R_PRESSURE, shown_pa.clamp(-1e5, 1.2 * range_pa));
    let shown_k = TEMPERATURE.shows(ctx, temperature_k, 20.0, SCALE_END_K);
    ctx.read_out(R_TEMPERATURE, shown_k);
}

/// What a thermometer of a broken resistance shows, K: the end of its scale; common practice, no source.
pub(crate) const SCALE_END_K: f64 = 473.15;
const PRESSURE: Sensor = Sensor {
    frozen: Some(FROZEN),
    reads_high: Some(DRIFTS),
    noisy: Some(NOISY),
    dead: Some(DEAD),
    held: HELD_PA,
};
const TEMPERATURE: Sensor = Sensor {
    frozen: Some(FROZEN),
    reads_high: Some(HOT),
    noisy: Some(NOISY),
    dead: Some(DEAD),
    held: HELD_K,
};

#[cfg(test)]
mod tests {
    use crate::kinds::testkit::Rig;

    const RIG: &str = include_str!("../../../data/rigs/gauge.toml");

    /// Two equal resistances in series share the pressure (IEC 60534: 1/Kv^2 adds).
    #[test]
    fn it_shows_the_line_and_its_faults_deceive_only_the_reader() {
        let mut rig = Rig::read(RIG, None);
        rig.run(20.0);
        assert!((rig.value("gauge.pressure") - 1.5e5).abs() < 150.0);
        let flow = rig.value("first.flow");
        rig.fault("gauge", "dead", 1.0);
        rig.run(1.0);
        assert_eq!(rig.value("gauge.pressure"), 0.0);
        rig.fault("gauge", "dead", 0.0);
        rig.fault("gauge", "reads-high", 1.0);
        rig.run(1.0);
        assert!((rig.value("gauge.pressure") - 2.5e5).abs() < 150.0);
        // Its line still warms and swells a little.
        assert!((rig.value("first.flow") - flow).abs() < 1e-7);
    }
}
