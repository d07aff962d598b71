//! A charger with its battery: the control supply.

use super::declare::*;
use super::electric::{FIRST_VOLTAGE_TICK, load_admittance};
use crate::ctx::Ctx;
use crate::kind::{FaultDef, Hooks, KindDef, NeedDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SUPPLY = port("supply", Net::Ac, 0, "Node that feeds the charger."),
    OUTPUT = port("output", Net::Dc, 0, "Control supply that it makes."),
});
declare!(PARAMS: ParamDef {
    CAPACITY = quantity("capacity", Dimension::Charge, 3600.0, 3.6e7, "Capacity of the battery, ten-hour rate."),
    HEALTH = quantity_or("health", Dimension::Ratio, (0.05, 1.0), 1.0, "Share of its capacity that an aged battery still has."),
    RESISTANCE = quantity_or("resistance", Dimension::Resistance, (0.0, 1.0), 0.0, "Internal resistance; 0: 2 ohm over ampere hours (common practice, no source)."),
    BASE_LOAD = quantity_or("base-load", Dimension::Current, (0.0, 2000.0), 0.0, "Consumption beside that of the components that name its output."),
    ON_LOSS = flag("only-on-loss", false, "The base load is on only while the charger has no supply: transitional light."),
    CHARGER = quantity_or("charger-current", Dimension::Current, (0.5, 5000.0), 40.0, "Current limit of the charger."),
    FLOAT = quantity_or("float-voltage", Dimension::Voltage, (20.0, 32.0), 26.4, "Voltage that the charger holds."),
    EFFICIENCY = quantity_or("charger-efficiency", Dimension::Ratio, (0.3, 1.0), 0.88, "Of the charger."),
    POWER_FACTOR = quantity_or("power-factor", Dimension::Ratio, (0.3, 1.0), 0.85, "Of the charger."),
});
declare!(STATE: StateDef {
    CHARGE = state("charge", Dimension::Ratio, (0.0, 1.0), 1.0, "Charge of the battery, share of what it can hold."),
    VOLTS = inner("voltage", 0.0, "Voltage of the control supply."),
    CHARGER_A = inner("charger-current", 0.0, "Current of the charger."),
    BATTERY_A = inner("battery-current", 0.0, "Current into the battery; negative while it gives."),
});
declare!(FAULTS: FaultDef {
    WEAK = fault("battery-weak", 1.0, "The battery has lost capacity, at 100 % seven tenths of it, and has six times its resistance: the voltage falls fast on its own."),
    CHARGER_FAILS = fault("charger-fails", 1.0, "The charger gives nothing: the battery runs down though its supply is there."),
    OPEN_CELL = fault("open-cell", 1.0, "A cell is open: the battery gives and takes nothing; without its charger the supply is gone at once."),
    OVERCHARGES = fault("charger-overcharges", 0.6, "The charger's voltage drifts up, by up to 5 V: the battery gasses, relays run hot."),
    METER = untrue("voltmeter-dead", 1.0, "The voltmeter shows nothing; the supply is as it was."),
});
declare!(NEEDS: NeedDef {
    NEED_SUPPLY = need("supply", "Voltage at the charger."),
});
declare!(READINGS: ReadingDef {
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Remote, "Voltage of the control supply."),
    R_CHARGE = reading("charge", Dimension::Ratio, Seen::Hidden, "Charge of the battery."),
    R_CHARGING = reading_words("charging", NO_YES, Seen::Remote, "Does the charger give current?"),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Current into the battery; negative while it gives."),
    R_LIT = reading_words("carries-load", NO_YES, Seen::Remote, "Does it feed its consumers with at least 18 V? For transitional light: is there light from it?"),
    R_LOAD = reading("load", Dimension::Current, Seen::Local, "Current to the consumers."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "control-supply",
    doc: "A charger with its battery of twelve lead cells (24 V): the control supply.",
    physics: "Open-circuit voltage rises in a straight line with charge and falls steeply in the last tenth; internal resistance; at high current the battery gives less (Peukert). The charger holds its float voltage up to its current limit.",
    source: "Peukert's law; cell voltages from memory",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        after: Some(after),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Open-circuit voltage of twelve lead cells, empty and full, V; from memory.
const EMPTY_V: f64 = 23.0;
const FULL_V: f64 = 25.6;
/// Below this charge the voltage falls by [`STEEP_V`] to nothing left.
const STEEP_BELOW: f64 = 0.1;
const STEEP_V: f64 = 5.0;
/// Exponent by which the rate of discharge counts beyond the ten-hour rate: 55 % of capacity is left at the
/// half-hour rate (common practice, no source).
const PEUKERT: f64 = 0.35;
/// Share of the charging current that is stored.
const CHARGE_YIELD: f64 = 0.9;
/// The charger works from this share of voltage.
const CHARGER_SHARE: f64 = 0.7;

fn capacity_c(ctx: &Ctx<'_>) -> f64 {
    ctx.p(CAPACITY) * ctx.p(HEALTH) * (1.0 - 0.7 * ctx.fault(WEAK))
}

fn resistance_ohm(ctx: &Ctx<'_>) -> f64 {
    let new_ohm = if ctx.p(RESISTANCE) > 0.0 { ctx.p(RESISTANCE) } else { 2.0 * 3600.0 / ctx.p(CAPACITY) };
    new_ohm * (1.0 + 5.0 * ctx.fault(WEAK))
}

fn open_circuit_v(charge: f64) -> f64 {
    let steep = ((STEEP_BELOW - charge) / STEEP_BELOW).max(0.0);
    EMPTY_V + (FULL_V - EMPTY_V) * charge - STEEP_V * steep
}

fn settle(ctx: &mut Ctx<'_>) {
    // Voltage before the first solution: what the battery gives at its base load.
    balance(ctx, false);
}

fn control(ctx: &mut Ctx<'_>) {
    let fed = ctx.tick < FIRST_VOLTAGE_TICK || ctx.voltage_share(SUPPLY) >= CHARGER_SHARE;
    ctx.need(NEED_SUPPLY, fed);
    let power_w = ctx.s(VOLTS) * ctx.s(CHARGER_A) / ctx.p(EFFICIENCY);
    let node = ctx.node(SUPPLY);
    let volts = ctx.nets.ac.nominal_v[node] * ctx.voltage_share(SUPPLY).max(CHARGER_SHARE);
    let y = load_admittance(power_w, ctx.p(POWER_FACTOR), volts);
    ctx.nets.ac.add_standing(node, y);
}

fn after(ctx: &mut Ctx<'_>) {
    let live = ctx.voltage_share(SUPPLY) >= CHARGER_SHARE;
    balance(ctx, live);
    let current_a = ctx.s(BATTERY_A);
    let rate = if current_a < 0.0 {
        let ten_hours_a = (ctx.p(CAPACITY) / 36_000.0).max(1e-3);
        let depth = (-current_a / ten_hours_a).max(1.0);
        current_a * libm::pow(depth, PEUKERT)
    } else {
        current_a * CHARGE_YIELD
    };
    let charge = ctx.s(CHARGE) + rate * ctx.dt_s / capacity_c(ctx).max(1.0);
    ctx.set(CHARGE, charge.clamp(0.0, 1.0));
}

/// Voltage and currents by the charger's limit or float voltage, whichever holds.
fn balance(ctx: &mut Ctx<'_>, live: bool) {
    let node = ctx.node(OUTPUT);
    let base_a = if live && ctx.p_is(ON_LOSS) { 0.0 } else { ctx.p(BASE_LOAD) };
    let load_a = ctx.nets.dc_draw_a[node] + base_a;
    let (inner_v, ohm) = (open_circuit_v(ctx.s(CHARGE)), resistance_ohm(ctx).max(1e-5));
    let holds_v = ctx.p(FLOAT) + 5.0 * ctx.fault(OVERCHARGES);
    let open = ctx.fault(OPEN_CELL) >= 0.5;
    let able_a = if live { ctx.p(CHARGER) * (1.0 - ctx.fault(CHARGER_FAILS)) } else { 0.0 };
    // A battery that is full takes no more than its float current.
    let room = if ctx.s(CHARGE) >= 1.0 { 0.02 } else { 1.0 };
    let taken_a = if open { 0.0 } else { ((holds_v - inner_v) / ohm).max(0.0) * room };
    let wish_a = load_a + taken_a;
    let charger_a = wish_a.min(able_a);
    // An empty battery gives nothing more.
    let mut battery_a = charger_a - load_a;
    let empty = (open || ctx.s(CHARGE) <= 0.0) && battery_a < 0.0;
    if empty {
        battery_a = 0.0;
    }
    let volts = match (empty, charger_a < able_a) {
        (true, _) => holds_v * charger_a / load_a.max(1e-6),
        (false, true) => holds_v,
        (false, false) => (inner_v + ohm * battery_a).min(holds_v),
    };
    ctx.set(VOLTS, volts.max(0.0));
    ctx.set(CHARGER_A, charger_a);
    ctx.set(BATTERY_A, battery_a);
    ctx.nets.dc_v[node] = volts.max(0.0);
}

fn publish(ctx: &mut Ctx<'_>) {
    let shown_v = if ctx.faulty(METER) { 0.0 } else { ctx.s(VOLTS) };
    ctx.read_out(R_VOLTAGE, shown_v);
    ctx.read_out(R_CHARGE, ctx.s(CHARGE));
    ctx.read_out_is(R_CHARGING, ctx.s(CHARGER_A) > 0.1);
    ctx.read_out(R_CURRENT, ctx.s(BATTERY_A));
    let load_a = ctx.s(CHARGER_A) - ctx.s(BATTERY_A);
    ctx.read_out_is(R_LIT, ctx.s(VOLTS) >= 18.0 && load_a > 0.1);
    ctx.read_out(R_LOAD, ctx.s(CHARGER_A) - ctx.s(BATTERY_A));
}

#[cfg(test)]
mod tests {
    use crate::kinds::testkit::Rig;

    fn rig() -> Rig {
        Rig::new(
            r#"
[[node]]
names = ["cable", "bus"]
net = "ac"
[[node]]
name = "24v"
net = "dc"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "bus"
[[control-supply]]
name = "control"
supply = "bus"
output = "24v"
capacity = "100 Ah"
base-load = "55 A"
charger-current = "70 A"
"#,
        )
    }

    /// 100 Ah at 55 A: an hour, and within 24 V less 12 % for half an hour (SOLAS II-1/42.4, from memory).
    #[test]
    fn battery_holds_for_its_time_and_is_charged_again() {
        let mut rig = rig();
        rig.run(1800.0);
        let volts = rig.value("control.voltage");
        assert!((21.1..26.9).contains(&volts), "{volts}");
        let minutes = 30.0 + rig.until(7200.0, |r| r.value("control.voltage") < 18.0) / 60.0;
        eprintln!("battery: {volts:.2} V after half an hour, below 18 V after {minutes:.1} min");
        assert!((50.0..70.0).contains(&minutes), "{minutes}");
        rig.act("shore", 0, 0.0);
        rig.run(10.0);
        assert_eq!(rig.value("control.charging"), 1.0);
        assert!(rig.value("control.voltage") > 18.0, "{}", rig.value("control.voltage"));
        rig.run(3600.0);
        assert!(rig.value("control.charge") > 0.1);
        let power = rig.value("shore.power");
        assert!((1500.0..2500.0).contains(&power), "{power}");
    }

    #[test]
    fn charger_holds_the_voltage_and_weak_battery_does_not() {
        let mut rig = rig();
        rig.act("shore", 0, 0.0);
        rig.run(5.0);
        assert!((rig.value("control.voltage") - 26.4).abs() < 0.1);
        rig.fault("control", "battery-weak", 1.0);
        rig.act("shore", 1, 0.0);
        let minutes = rig.until(3600.0, |r| r.value("control.voltage") < 18.0) / 60.0;
        assert!(minutes < 20.0, "{minutes}");
    }
}
