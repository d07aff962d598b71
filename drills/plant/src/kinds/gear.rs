//! A gear between two shafts, with a clutch where the ship file says so.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

const OUT_IN: &[&str] = &["out", "in"];

declare!(PORTS: PortDef {
    INPUT = port("input", Net::Shaft, 0, "Shaft of the machine that drives."),
    OUTPUT = port("output", Net::Shaft, 0, "Shaft that is driven."),
    SPACE = free_port("space", Net::Space, 0, "Room that takes its losses."),
});
declare!(PARAMS: ParamDef {
    RATIO = quantity("ratio", Dimension::Ratio, 0.01, 100.0, "Speed of the output over speed of the input: 300 % from 600 to 1,800 rpm, 20 % from 9,000 to 1,800 rpm."),
    RATED = quantity("rated-power", Dimension::Power, 1e3, 1e9, "Power that it is built for."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 2000.0, "Rated speed of the input."),
    LOSS = quantity_or("loss", Dimension::Ratio, (0.0, 0.1), 0.015, "Power lost at rated speed over rated power; goes with the square of speed (common practice, no source)."),
    CLUTCH = flag("has-clutch", false, "Has it a clutch?"),
});
declare!(STATE: StateDef {
    ENGAGED = state_choice("clutch", OUT_IN, 1, "Clutch; a gear without one is always in.").only_with(CLUTCH),
    OUTPUT_INERTIA = inner("output-inertia", 0.0, "Moment of inertia of the output shaft alone, kg m2."),
    POWER = inner("power", 0.0, "Power through the gear, W."),
    OUTPUT_LOAD = inner("output-load", 0.0, "Square-law load of the output shaft alone, Nm s2."),
});
declare!(ACTS: ActDef {
    SET_CLUTCH = set_choice("clutch", OUT_IN, Reach::Remote, 10.0, "Engage the clutch, or take it out.").only_with(CLUTCH),
});
declare!(FAULTS: FaultDef {
    WORN = fault("worn", 0.5, "Worn teeth and bearings: its loss grows up to three times; it warms the room and takes power."),
    DROPS = fault("clutch-drops", 1.0, "The clutch lets go: what it drives coasts to rest. It cannot be engaged again.").only_with(CLUTCH),
});
declare!(READINGS: ReadingDef {
    R_SPEED = reading("speed", Dimension::Speed, Seen::Local, "Speed of the output."),
    R_CLUTCH = reading_words("clutch", OUT_IN, Seen::Remote, "Clutch."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Power to the output."),
    R_LOSS = reading("loss", Dimension::Power, Seen::Hidden, "Power lost in it."),
});
declare!(FINDINGS: FindingDef {
    F_IN = finding("clutch-in", Dimension::Speed, "clutch engaged at {measured}"),
    F_OUT = finding("clutch-out", Dimension::Speed, "clutch out at {measured}"),
    F_DROPPED = finding("clutch-dropped", Dimension::Speed, "clutch let go at {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "gear",
    doc: "A gear between two shafts, with or without a clutch.",
    physics: "Rigid: both shafts have one speed but for the ratio; torques and moments of inertia of each are seen from the other \
              (torque with the ratio, inertia with its square). Its loss brakes the input. A clutch engages within 5 % of equal \
              speed or at rest, the shafts sharing their momentum. Backlash and twist are left out.",
    source: "Newton; any text on machine dynamics",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints { turns: &[INPUT, OUTPUT], brings_inertia: |_| true, ..Joints::NONE },
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        motion: Some(motion),
        after: Some(after),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Speeds nearer than this share can be engaged.
const NEAR: f64 = 0.05;

fn settle(ctx: &mut Ctx<'_>) {
    let (input, output) = (ctx.node(INPUT), ctx.node(OUTPUT));
    let inertia = ctx.nets.shaft.inertia_kg_m2[output].max(1e-6);
    ctx.set(OUTPUT_INERTIA, inertia);
    if !ctx.p_is(CLUTCH) {
        ctx.set(ENGAGED, 1.0);
    }
    if ctx.is(ENGAGED) {
        join(ctx);
        let speed = ctx.nets.shaft.speed_rad_s[input] * ctx.p(RATIO);
        ctx.nets.shaft.speed_rad_s[output] = speed;
    }
}

/// Gives each shaft the inertia of both.
fn join(ctx: &mut Ctx<'_>) {
    let (input, output, ratio) = (ctx.node(INPUT), ctx.node(OUTPUT), ctx.p(RATIO));
    let own = ctx.s(OUTPUT_INERTIA);
    let inertia = &mut ctx.nets.shaft.inertia_kg_m2;
    inertia[input] += ratio * ratio * own;
    inertia[output] = inertia[input] / (ratio * ratio);
}

/// Takes them apart again.
fn part(ctx: &mut Ctx<'_>) {
    let (input, output, ratio) = (ctx.node(INPUT), ctx.node(OUTPUT), ctx.p(RATIO));
    let own = ctx.s(OUTPUT_INERTIA);
    let inertia = &mut ctx.nets.shaft.inertia_kg_m2;
    inertia[input] = (inertia[input] - ratio * ratio * own).max(1e-6);
    inertia[output] = own;
}

fn control(ctx: &mut Ctx<'_>) {
    if ctx.p_is(CLUTCH) && ctx.is(ENGAGED) && ctx.fault(DROPS) >= 0.5 {
        let speed = ctx.speed_rad_s(OUTPUT);
        ctx.set_is(ENGAGED, false);
        part(ctx);
        ctx.find(F_DROPPED, speed, 0.0, 0.0);
    }
}

/// Runs after everything that puts torque on the two shafts: hands it over, so that both are stepped by the same
/// balance. The output takes its speed from the input, so rounding does not drive them apart.
fn motion(ctx: &mut Ctx<'_>) {
    let (input, output, ratio) = (ctx.node(INPUT), ctx.node(OUTPUT), ctx.p(RATIO));
    let loss_nm_s = loss_slope(ctx);
    let (engaged, own_load) = (ctx.is(ENGAGED), ctx.s(OUTPUT_LOAD));
    let shaft = &mut ctx.nets.shaft;
    shaft.torque_nm[input] -= loss_nm_s * shaft.speed_rad_s[input];
    shaft.slope_nm_s[input] -= loss_nm_s;
    if !engaged {
        ctx.set(POWER, 0.0);
        return;
    }
    shaft.speed_rad_s[output] = ratio * shaft.speed_rad_s[input];
    let speed = shaft.speed_rad_s[output];
    let load = shaft.friction_nm[output] + own_load * speed * speed.abs() - shaft.torque_nm[output];
    shaft.torque_nm[input] += ratio * shaft.torque_nm[output];
    shaft.slope_nm_s[input] += ratio * ratio * shaft.slope_nm_s[output];
    shaft.friction_nm[input] += ratio * shaft.friction_nm[output];
    shaft.torque_nm[output] = shaft.torque_nm[input] / ratio;
    shaft.slope_nm_s[output] = shaft.slope_nm_s[input] / (ratio * ratio);
    shaft.friction_nm[output] = shaft.friction_nm[input] / ratio;
    ctx.set(POWER, load * speed);
}

/// Pumps and fans on either shaft: their torque goes with the square of speed, its factor with the cube of the ratio.
fn after(ctx: &mut Ctx<'_>) {
    if !ctx.is(ENGAGED) {
        return;
    }
    let (input, output, ratio) = (ctx.node(INPUT), ctx.node(OUTPUT), ctx.p(RATIO));
    let cube = ratio * ratio * ratio;
    let own_load = ctx.nets.shaft.quadratic_nm_s2[output];
    ctx.set(OUTPUT_LOAD, own_load);
    let quadratic = &mut ctx.nets.shaft.quadratic_nm_s2;
    quadratic[input] += cube * quadratic[output];
    quadratic[output] = quadratic[input] / cube;
}

/// Braking torque over speed of the input, Nm s.
fn loss_slope(ctx: &Ctx<'_>) -> f64 {
    let speed = ctx.p(SPEED);
    ctx.p(LOSS) * (1.0 + 2.0 * ctx.fault(WORN)) * ctx.p(RATED) / (speed * speed)
}

fn loss_w(ctx: &Ctx<'_>) -> f64 {
    let speed = ctx.speed_rad_s(INPUT);
    loss_slope(ctx) * speed * speed
}

fn heat(ctx: &mut Ctx<'_>) {
    let loss = loss_w(ctx);
    ctx.heat_space_w(SPACE, loss);
}

fn publish(ctx: &mut Ctx<'_>) {
    let loss = loss_w(ctx);
    ctx.read_out(R_SPEED, ctx.speed_rad_s(OUTPUT));
    ctx.read_out(R_CLUTCH, ctx.s(ENGAGED));
    ctx.read_out(R_POWER, ctx.s(POWER));
    ctx.read_out(R_LOSS, loss);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let mut block = |code, text: String| blocks.push(Block { code, text });
    if !view.p_is(CLUTCH) {
        block("no-clutch", "it has no clutch".into());
        return;
    }
    if (act.value > 0.5) == view.is(ENGAGED) {
        block("already-there", format!("its clutch is {}", OUT_IN[view.s(ENGAGED) as usize]));
    }
    if act.value > 0.5 {
        if view.fault(DROPS) >= 0.5 {
            block("clutch-does-not-hold", "its clutch does not hold".into());
        }
        let (input, output) = (view.speed_rad_s(INPUT) * view.p(RATIO), view.speed_rad_s(OUTPUT));
        let rated = view.p(SPEED) * view.p(RATIO);
        if (input - output).abs() > NEAR * rated {
            let rpm = |w: f64| w * 60.0 / std::f64::consts::TAU;
            let text = format!("the shafts turn with {:.0} and {:.0} rpm", rpm(input), rpm(output));
            block("speeds-apart", text);
        }
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    let engage = act.value > 0.5;
    if engage == ctx.is(ENGAGED) {
        return;
    }
    ctx.set_is(ENGAGED, engage);
    let (input, output, ratio) = (ctx.node(INPUT), ctx.node(OUTPUT), ctx.p(RATIO));
    if engage {
        // Both keep their momentum together.
        let own = ctx.nets.shaft.inertia_kg_m2[input];
        let momentum = own * ctx.speed_rad_s(INPUT) + ratio * ctx.s(OUTPUT_INERTIA) * ctx.speed_rad_s(OUTPUT);
        join(ctx);
        let speed = momentum / ctx.nets.shaft.inertia_kg_m2[input];
        ctx.nets.shaft.speed_rad_s[input] = speed;
        ctx.nets.shaft.speed_rad_s[output] = ratio * speed;
    } else {
        part(ctx);
    }
    let speed = ctx.speed_rad_s(OUTPUT);
    ctx.find(if engage { F_IN } else { F_OUT }, speed, 0.0, 0.0);
}

#[cfg(test)]
mod tests {
    use crate::kind::Act;
    use crate::kinds::testkit::Rig;

    const RIG: &str = r#"
[[node]]
name = "slow"
net = "shaft"
inertia = "90 kg m2"
[[node]]
name = "fast"
net = "shaft"
inertia = "10 kg m2"
[[node]]
name = "room"
net = "space"
[[fan]]
name = "fan"
shaft = "fast"
space = "room"
rated-flow = "10 m3/s"
rated-power = "100 kW"
rated-speed = "1800 rpm"
[[gear]]
name = "gear"
input = "slow"
output = "fast"
ratio = "300 %"
rated-power = "100 kW"
rated-speed = "600 rpm"
loss = "0 %"
has-clutch = true
"#;

    /// A fan on the fast shaft brakes 90 + 9 x 10 = 180 kg m2: with torque k w^2 a speed halves in J / (k w0).
    #[test]
    fn inertia_and_load_of_the_fast_shaft_are_seen_on_the_slow_one() {
        let mut rig = Rig::new(RIG);
        let w0 = 62.831_853;
        let (slow, fast) = (rig.node("slow"), rig.node("fast"));
        rig.spin("slow", w0);
        rig.spin("fast", 3.0 * w0);
        rig.run(0.05);
        let k = 100e3 / (w0 * w0 * w0);
        rig.run(180.0 / (k * w0));
        let speed = rig.plant.nets.shaft.speed_rad_s[slow] / w0;
        assert!((speed - 0.5).abs() < 0.005, "{speed}");
        let ratio = rig.plant.nets.shaft.speed_rad_s[fast] / rig.plant.nets.shaft.speed_rad_s[slow];
        assert!((ratio - 3.0).abs() < 1e-9, "{ratio}");
    }

    #[test]
    fn clutch_out_leaves_the_slow_shaft_alone_and_in_shares_momentum() {
        let mut rig = Rig::new(RIG);
        let (slow, fast) = (rig.node("slow"), rig.node("fast"));
        rig.spin("slow", 60.0);
        rig.spin("fast", 180.0);
        rig.act("gear", super::SET_CLUTCH, 0.0);
        rig.run(5.0);
        assert_eq!(rig.plant.nets.shaft.speed_rad_s[slow], 60.0);
        let coasting = rig.plant.nets.shaft.speed_rad_s[fast];
        assert!(coasting < 100.0, "{coasting}");
        let blocks = rig.blocks("gear", super::SET_CLUTCH, 1.0);
        assert_eq!(blocks.iter().map(|b| b.code).collect::<Vec<_>>(), ["speeds-apart"]);
        let gear = rig.plant.compiled.component("gear").unwrap();
        rig.plant.act(gear, Act { index: super::SET_CLUTCH, value: 1.0, remote: true });
        let together = rig.plant.nets.shaft.speed_rad_s[slow];
        let wanted = (90.0 * 60.0 + 3.0 * 10.0 * coasting) / 180.0;
        assert!((together - wanted).abs() < 1e-9, "{together} for {wanted}");
    }
}
