//! An induction motor with its starter.
//!
//! The declaration is in this file; `circuit` is its equivalent circuit, `machine` what it draws and turns, `starter`
//! its contactor, relays and selector.

mod circuit;
mod machine;
mod starter;

use super::declare::*;
use super::electric::{RESTART_WORDS, ROOT_3};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

const STARTS: &[&str] = &["direct", "star-delta", "soft starter"];
const STAR_DELTA: usize = 1;
const SOFT: usize = 2;

declare!(PORTS: PortDef {
    SUPPLY = port("supply", Net::Ac, 0, "Node that feeds it."),
    SHAFT = port("shaft", Net::Shaft, 0, "Shaft that it turns."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of its starter; free: always there."),
});
declare!(PARAMS: ParamDef {
    RATED = quantity("rated-power", Dimension::Power, 10.0, 20e6, "Rated shaft power."),
    INPUT = quantity_or("rated-input", Dimension::Power, (0.0, 20e6), 0.0, "Electric power at rated shaft power; 0: from the usual efficiency of its size (IEC 60034-30-1, from memory)."),
    POWER_FACTOR = quantity_or("power-factor", Dimension::Ratio, (0.3, 0.99), 0.86, "At rated power."),
    POLES = whole("poles", (2, 24), 4, "Number of poles: synchronous speed is 120 f / poles rpm."),
    SLIP = quantity_or("rated-slip", Dimension::Ratio, (0.0, 0.15), 0.0, "Slip at rated power; 0: 0.27 of the losses (common practice, no source)."),
    LOCKED = quantity_or("locked-rotor", Dimension::ApparentPower, (0.0, 200e6), 0.0, "Apparent power at standstill, direct on line; 0: design N (IEC 60034-12, from memory)."),
    LOCKED_PF = quantity_or("locked-rotor-power-factor", Dimension::Ratio, (0.05, 0.95), 0.4, "Power factor at standstill; common practice, no source."),
    START_MODE = choice("start", STARTS, 0, "How it starts: direct on line, star-delta (a third of current and torque until 90 % speed), soft starter (limited current)."),
    SOFT_LIMIT = quantity_or("soft-limit", Dimension::Ratio, (0.1, 1.0), 0.4, "Current limit of a soft starter as a share of the locked-rotor current."),
    INERTIA = quantity_or("inertia", Dimension::Inertia, (0.0, 1e5), 0.0, "Moment of inertia of rotor and what it drives; 0: 0.004 kg m2 per kW and square of pole pairs (common practice, no source)."),
    RESTART = choice("restart", RESTART_WORDS, 0, "What it does when the supply comes back after a loss: stays off, comes back after its delay, or at its place in the sequence (only in remote control)."),
    RESTART_DELAY = quantity_or("restart-delay", Dimension::Time, (0.0, 600.0), 0.0, "Delay from the return of supply."),
    OVERLOAD_TAU = quantity_or("overload-tau", Dimension::Time, (1.0, 5000.0), 277.0, "Time constant of the thermal relay: class 10."),
    OVERLOAD_SETTING = quantity_or("overload-setting", Dimension::Current, (0.0, 20e3), 0.0, "Current to which the relay is set; 0: rated current."),
    SHED_STAGE = whole("shed-stage", (1, 3), 1, "Stage of preferential trip at which it is taken off."),
    SELECTOR = flag("has-selector", false, "Has a local/remote selector at the starter."),
    R1 = quantity_or("stator-resistance", Dimension::Resistance, (0.0, 1e3), 0.0, "Circuit constants, per phase; they replace what is worked out from ratings when the rotor resistance is given."),
    X1 = quantity_or("stator-reactance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    R2 = quantity_or("rotor-resistance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    X2 = quantity_or("rotor-reactance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    XM = quantity_or("magnetising-reactance", Dimension::Resistance, (0.0, 1e5), 0.0, "See stator-resistance; 0: none."),
});
declare!(LINKS: LinkDef {
    SHED_BY = watch("shed-by", false, "Stage of preferential trip that takes it off: `stage` of a preferential trip."),
    PERMITTED_BY = watch("permitted-by", false, "It starts only while this reading is above 0.5: `granted` of a heavy consumer's request."),
    CHOSEN_BY = watch("chosen-by", false, "It comes back by itself only while this reading is above 0.5: of a pair, the chosen one."),
});
declare!(STATE: StateDef {
    RUNNING = state_flag("running", false, "The contactor is closed; a start state that sets it starts at speed."),
    CONTROL = state_choice("control", LOCAL_REMOTE, 1, "Position of the selector.").only_with(SELECTOR),
    TRIPPED = state_flag("overload-tripped", false, "The thermal relay has tripped."),
    SHED = state_flag("shed", false, "It was taken off by preferential trip and is not reset."),
    BY_HAND = inner("stopped-by-hand", 0.0, "It was last stopped by a hand or an order."),
    PENDING = inner("restart-pending", 0.0, "It ran when the supply was lost and wants to come back."),
    LOW_S = inner("low-voltage-time", 0.0, "How long the voltage has been below the drop-out limit."),
    BACK_S = inner("supply-back-time", 0.0, "How long the supply has been back."),
    THETA = inner("thermal", 0.0, "Square of the thermal current of the relay's replica."),
    AMPS = inner("current", 0.0, "Line current."),
    WATTS = inner("power", 0.0, "Electric power."),
    AT_SLIP = inner("at-slip", 1.0, "Slip for which its circuit was last worked out."),
    AT_HZ = inner("at-frequency", 1.0, "Frequency for which it was, share of nominal."),
    CONDUCTANCE = inner("conductance", 0.0, "Real part of its admittance in this sub-step, S."),
    SUSCEPTANCE = inner("susceptance", 0.0, "Imaginary part of its admittance in this sub-step, S."),
    TORQUE_PER_V2 = inner("torque-per-square-volt", 0.0, "Torque in this sub-step, Nm/V2."),
    AMPS_PER_V = inner("current-per-volt", 0.0, "Scaled line current in this sub-step, A/V."),
    SLOPE_PER_V2 = inner("slope-per-square-volt", 0.0, "Slope of the torque with speed, Nm s/V2, found once a tick."),
    START_S = inner("start-time", 0.0, "Time since the contactor closed."),
    OVER_S = inner("overload-time", 0.0, "Time for which its current has been above the setting of the thermal relay."),
    RUN_UP = inner("run-up", 0.0, "1 when star-delta has gone to delta or the soft starter is bypassed."),
    C_R1 = inner("c-r1", 0.0, "Circuit, worked out once from ratings."),
    C_X1 = inner("c-x1", 0.0, "Circuit."),
    C_IRON = inner("c-iron", 0.0, "Circuit."),
    C_MAG = inner("c-magnetising", 0.0, "Circuit."),
    C_SERIES = inner("c-series", 0.0, "Circuit."),
    C_R2 = inner("c-r2-run", 0.0, "Circuit."),
    C_R2S = inner("c-r2-start", 0.0, "Circuit."),
    C_X2 = inner("c-x2", 0.0, "Circuit."),
    RELAY_A = inner("relay-setting", 1.0, "Setting of the thermal relay."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 2.0, "Close the contactor."),
    STOP = act(Verb::Stop, Reach::Remote, 1.0, "Open the contactor; a pending restart is forgotten."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put the thermal relay, or the starter after a preferential trip, back."),
    SET_CONTROL = set_choice("control", LOCAL_REMOTE, Reach::Local, 2.0, "Turn the selector at the starter.").only_with(SELECTOR),
});
declare!(FAULTS: FaultDef {
    SEIZED = fault("seized", 1.0, "The shaft is stuck: it stops at once, draws its locked-rotor current and trips in seconds."),
    STIFF = fault("stiff", 1.0, "It turns hard, by up to 70 % of rated torque: current is high and the thermal relay trips in minutes."),
    RELAY = fault("overload-relay-trips", 1.0, "The thermal relay trips too early; at 100 % as soon as the motor runs."),
    DROPS = fault("contactor-drops", 1.0, "The contactor does not hold: it opens and a start does not last."),
    INSULATION = fault("insulation-low", 0.7, "Its winding is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %. The board's insulation is low while it runs."),
    SINGLE = fault("single-phasing", 1.0, "One fuse is gone: it cannot start, runs on with less torque and more current, and the relay trips."),
    WELDED = fault("contactor-welded", 1.0, "Its contacts are welded: it runs on when it is stopped or its relay trips."),
    NO_RESTART = fault("does-not-restart", 1.0, "Its restart relay is dead: it stays off when the supply comes back.").only_with(RESTART),
    BEARING = fault("bearing-worn", 0.5, "A bearing is worn: up to a fifth of rated torque is lost in it, current is higher, the bearing is hot."),
});
declare!(NEEDS: NeedDef {
    NEED_SUPPLY = need("supply", "Voltage at its supply, above the drop-out limit of its contactor."),
});
declare!(READINGS: ReadingDef {
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Is its contactor closed?"),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Electric power."),
    R_PENDING = reading_words("restart-pending", NO_YES, Seen::Local, "Will it start when the supply is back?"),
    R_BY_HAND = reading_words("stopped-by-hand", NO_YES, Seen::Hidden, "Was it last stopped by a hand or an order?"),
    R_SPEED = reading("speed", Dimension::Speed, Seen::Local, "Speed of its shaft."),
    R_TRIPPED = reading_words("overload-tripped", NO_YES, Seen::Remote, "Has the thermal relay tripped?").latched(),
    R_CONTROL = reading_words("control", LOCAL_REMOTE, Seen::Remote, "Position of the selector."),
    R_THERMAL = reading("thermal", Dimension::Ratio, Seen::Hidden, "State of the thermal replica; trips at 100 %."),
    R_SHED = reading_words("shed", NO_YES, Seen::Remote, "Was it taken off by preferential trip?"),
    R_RESTART = reading_words("restart", RESTART_WORDS, Seen::Local, "What it does when the supply comes back after a loss."),
});
declare!(FINDINGS: FindingDef {
    F_STARTED = finding("started", Dimension::None, "was started"),
    F_STOPPED = finding("stopped", Dimension::None, "was stopped"),
    F_LOST = finding("lost-supply", Dimension::Voltage, "dropped out: {measured} at its supply, needs {limit}"),
    F_SHED = finding("shed", Dimension::None, "taken off by preferential trip, stage {measured}"),
    F_RESTARTED = finding("restarted", Dimension::Time, "started again by itself {measured} after its supply came back"),
    F_TRIPPED = finding("tripped-overload", Dimension::Current, "was tripped by its thermal relay: {measured}, set to {limit}"),
    F_WELDED = finding("runs-on", Dimension::None, "was stopped and runs on"),
    F_DROPPED = finding("contactor-dropped", Dimension::None, "its contactor did not hold"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "motor",
    doc: "An induction motor with its starter: contactor, thermal relay, selector, restart after loss of supply.",
    physics: "Steady-state equivalent circuit at the present slip (no electrical transients), rotor resistance rising in a straight line with slip for the deep bars; torque from the power across the air gap. Thermal relay: first-order replica of the square of current. A coasting motor leaves no voltage behind.",
    source: "IEEE 112 equivalent circuit; Chapman, Electric Machinery Fundamentals, ch. 6; IEC 60255-149 (thermal); IEC 60034-12 and IEC 60947-4-1 (from memory)",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints { turns: &[SHAFT], brings_inertia: |_| true, ..Joints::NONE },
    follows: machine::follows,
    hooks: Hooks {
        settle: Some(machine::settle),
        control: Some(starter::control),
        electric: Some(machine::electric),
        motion: Some(machine::motion),
        publish: Some(publish),
        permit: Some(starter::permit),
        act: Some(starter::do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// What follows from the parameters: speed of the field at nominal frequency, rad/s.
const SYNCHRONOUS: usize = PARAMS.len();

/// The replica trips at the square of this multiple of the setting (IEC 60255-149 form).
const TRIP_SQUARE: f64 = 1.05 * 1.05;

fn publish(ctx: &mut Ctx<'_>) {
    machine::meter(ctx);
    ctx.read_out(R_RUNNING, ctx.s(RUNNING));
    ctx.read_out(R_CURRENT, ctx.s(AMPS));
    ctx.read_out(R_POWER, ctx.s(WATTS));
    ctx.read_out(R_SPEED, ctx.speed_rad_s(SHAFT));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_CONTROL, ctx.s(CONTROL));
    ctx.read_out(R_PENDING, ctx.s(PENDING));
    ctx.read_out(R_THERMAL, ctx.s(THETA) / TRIP_SQUARE);
    ctx.read_out(R_BY_HAND, ctx.s(BY_HAND));
    ctx.read_out(R_SHED, ctx.s(SHED));
    ctx.read_out(R_RESTART, ctx.p(RESTART));
}

#[cfg(test)]
mod tests;
