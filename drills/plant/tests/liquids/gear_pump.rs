//! Cold thick oil loads the motor of a gear pump.

use super::hands::Hands;
use super::rig::{Check, Rig, ZERO_C_K};
use deadship_plant::fluid::lube_oil_viscosity_m2_s;

/// Power at 20 and 65 degC against the model of Wilson, at the pressure that the pump has: D n (dp + loss), of which
/// 10 % at rated pressure goes with viscosity.
#[test]
fn viscous_drag_goes_with_viscosity() {
    let at = |celsius: f64| {
        let text = include_str!("../../../data/rigs/liquid-trapped-air.toml");
        let mut rig = Rig::new(&text.replace("65 degC", &format!("{celsius} degC")), Some("running"));
        rig.run(600.0);
        let displaced_m3_s = 10.0 / 3600.0 / (1.0 - 0.08);
        let lifted_pa = rig.value("oil.pump.delivery-pressure");
        let loss = 1.0 / 0.75 - 1.0;
        let thick = lube_oil_viscosity_m2_s(celsius + ZERO_C_K) / lube_oil_viscosity_m2_s(65.0 + ZERO_C_K);
        let want = displaced_m3_s * (lifted_pa * (1.0 + 0.9 * loss) + 0.1 * loss * 4e5 * thick);
        (rig.value("oil.drive.power"), want)
    };
    let mut check = Check::new("power of a gear pump, cold and warm oil", 0.02);
    let (warm, warm_want) = at(65.0);
    let (cold, cold_want) = at(20.0);
    check.add("65 degC", warm, warm_want);
    check.add("20 degC", cold, cold_want);
    check.finish();
    assert!(cold > 1.5 * warm, "{cold} {warm}");
}

/// Every motor that turns a gear pump for lubricating oil has the power for the oil that a dead ship has, at the pump's
/// rated pressure: no cold start of either ship overloads it.
#[test]
fn motors_of_oil_pumps_have_the_power_for_cold_oil() {
    let mut seen = 0;
    for (ship, state) in [("quillmere", "dead ship"), ("tamberwick", "dead ship")] {
        let hands = Hands::on_ship(ship, state, "");
        let compiled = &hands.plant.compiled;
        let components = &compiled.spec.components;
        let param = |c: usize, name: &str| {
            let at = components[c].kind.params.iter().position(|param| param.name == name);
            components[c].params[at.unwrap_or_else(|| panic!("no parameter {name}"))]
        };
        let port = |c: usize, name: &str| {
            let at = components[c].kind.ports.iter().position(|port| port.name == name);
            compiled.wiring[c].ports[at.unwrap_or_else(|| panic!("no port {name}"))]
        };
        let of = |kind: &'static str| (0..components.len()).filter(move |&c| components[c].kind.name == kind);
        let oil = |c: usize| {
            hands.plant.nets().blend.media[port(c, "suction")] == deadship_plant::kind::Medium::LubeOil
        };
        for pump in of("gear-pump").filter(|&c| oil(c)) {
            let motor = of("motor").find(|&motor| port(motor, "shaft") == port(pump, "shaft"));
            let Some(motor) = motor else { continue };
            let loss = 1.0 / param(pump, "efficiency") - 1.0;
            let cold_k = hands.plant.nets().heat.temperature_k[port(pump, "suction")];
            let thick = lube_oil_viscosity_m2_s(cold_k) / lube_oil_viscosity_m2_s(65.0 + ZERO_C_K);
            let (flow, pressure) = (param(pump, "rated-flow"), param(pump, "rated-pressure"));
            let warm = flow / (1.0 - param(pump, "slip")) * pressure * (1.0 + loss);
            let cold = warm + flow / (1.0 - param(pump, "slip")) * pressure * 0.1 * loss * (thick - 1.0);
            let rated = param(motor, "rated-power");
            let name = &components[pump].name;
            eprintln!(
                "{ship} {name}: {:.0} % warm, {:.0} % cold",
                100.0 * warm / rated,
                100.0 * cold / rated
            );
            assert!(cold < 1.05 * rated, "{ship} {name}: {cold:.0} W of {rated:.0} W");
            seen += 1;
        }
    }
    assert!(seen >= 6, "{seen}");
}

/// Priming of a set from dead ship goes on: the cold oil trips nothing.
#[test]
fn a_cold_priming_pump_runs() {
    let mut ship = Hands::lined_up(&["dg1"]);
    eprintln!("dg1.priming from cold: {:.2} A", ship.value("dg1.priming.current"));
    ship.run(600.0);
    assert!(ship.is("dg1.priming.running"));
    eprintln!("dg1.priming later: {:.2} A", ship.value("dg1.priming.current"));
}
