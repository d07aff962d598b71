//! Random vessels and restrictions.

use deadship_plant::nets::air::AirNet;
use proptest::prelude::*;

const TICK_S: f64 = 0.05;
const ATMOSPHERE_PA: f64 = 101_325.0;

#[derive(Clone, Debug)]
struct Restriction {
    from: usize,
    to: Option<usize>,
    conductance: f64,
    one_way: bool,
}

#[derive(Clone, Debug)]
struct Vessels {
    volume_m3: Vec<f64>,
    pressure_pa: Vec<f64>,
    /// W/K; nothing is a line, which keeps the temperature around.
    wall_w_k: Vec<f64>,
    restrictions: Vec<Restriction>,
}

fn restriction(vessels: usize, open: bool) -> impl Strategy<Value = Restriction> {
    let conductance = prop_oneof![1 => Just(0.0), 6 => (-10.0..-5.0_f64).prop_map(|x| libm::pow(10.0, x))];
    let out = if open { prop::bool::weighted(0.2).boxed() } else { Just(false).boxed() };
    (0..vessels, 1..vessels, conductance, prop::bool::weighted(0.2), out).prop_map(
        move |(from, step, conductance, one_way, out)| Restriction {
            from,
            to: if out { None } else { Some((from + step) % vessels) },
            conductance,
            one_way,
        },
    )
}

fn vessels(open: bool, walls: bool) -> impl Strategy<Value = Vessels> {
    (2usize..8).prop_flat_map(move |n| {
        let wall = if walls { prop_oneof![Just(0.0), 0.1..200.0_f64].boxed() } else { Just(0.0).boxed() };
        (
            prop::collection::vec((-3.0..0.4_f64).prop_map(|x| libm::pow(10.0, x)), n),
            prop::collection::vec(ATMOSPHERE_PA..3.2e6_f64, n),
            prop::collection::vec(wall, n),
            prop::collection::vec(restriction(n, open), 1..14),
        )
            .prop_map(|(volume_m3, pressure_pa, wall_w_k, restrictions)| Vessels {
                volume_m3,
                pressure_pa,
                wall_w_k,
                restrictions,
            })
    })
}

impl Vessels {
    fn build(&self) -> AirNet {
        let ends: Vec<_> = self.restrictions.iter().map(|r| (r.from, r.to)).collect();
        let mut net = AirNet::new(self.volume_m3.clone(), ATMOSPHERE_PA, 300.0, &ends);
        net.wall_w_k.copy_from_slice(&self.wall_w_k);
        for (node, p) in self.pressure_pa.iter().enumerate() {
            net.set_pressure(node, *p);
        }
        for (branch, r) in net.branches.iter_mut().zip(&self.restrictions) {
            branch.conductance_m3_s_pa = r.conductance;
            branch.one_way = r.one_way;
        }
        net
    }
}

fn step(net: &mut AirNet) -> Result<(), TestCaseError> {
    net.step(TICK_S).map_err(|node| TestCaseError::fail(format!("no air left in {node}")))
}

proptest! {
    #![proptest_config(crate::config(300))]

    /// Closed vessels keep their mass; mass and temperature stay positive.
    #[test]
    fn mass_is_kept(vessels in vessels(false, true)) {
        let mut net = vessels.build();
        let before: f64 = net.mass_kg.iter().sum();
        for _ in 0..400 {
            step(&mut net)?;
            prop_assert!(net.mass_kg.iter().chain(&net.temperature_k).all(|x| *x > 0.0 && x.is_finite()));
        }
        let after: f64 = net.mass_kg.iter().sum();
        prop_assert!((after - before).abs() < 1e-12 * before, "{after} kg of {before} kg");
    }

    /// What is lost is what blew out.
    #[test]
    fn what_is_lost_blew_out(vessels in vessels(true, true)) {
        let mut net = vessels.build();
        let before: f64 = net.mass_kg.iter().sum();
        let mut out = 0.0;
        for _ in 0..400 {
            step(&mut net)?;
            let blown = net.branches.iter().zip(&net.flow_kg_s).filter(|(branch, _)| branch.to.is_none());
            out += TICK_S * blown.map(|(_, m)| m).sum::<f64>();
        }
        let after: f64 = net.mass_kg.iter().sum();
        prop_assert!((before - after - out).abs() < 1e-12 * before, "{before} to {after} kg, {out} kg out");
    }

    /// Vessels at one temperature keep to the range of pressures that was there; the highest never rises.
    #[test]
    fn pressures_stay_between_extremes(vessels in vessels(true, false)) {
        let mut net = vessels.build();
        let mut high = vessels.pressure_pa.iter().copied().fold(ATMOSPHERE_PA, f64::max);
        for _ in 0..400 {
            step(&mut net)?;
            let now = (0..vessels.volume_m3.len()).map(|i| net.pressure_pa(i));
            let (low, top) = now.fold((f64::INFINITY, 0.0), |(l, h): (f64, f64), p| (l.min(p), h.max(p)));
            prop_assert!(top <= high + 10.0, "{top} above {high}");
            prop_assert!(low >= ATMOSPHERE_PA - 10.0, "{low} below the atmosphere");
            high = top.max(ATMOSPHERE_PA);
        }
    }

    /// Air goes from the higher to the lower pressure, and never back through a non-return valve.
    #[test]
    fn air_goes_downhill(vessels in vessels(true, false)) {
        let mut net = vessels.build();
        for _ in 0..100 {
            step(&mut net)?;
            for (branch, m) in net.branches.iter().zip(&net.flow_kg_s) {
                let outside = branch.to.map_or(ATMOSPHERE_PA, |to| net.pressure_pa(to));
                let driving = net.pressure_pa(branch.from) - outside;
                // A millibar is what the solution of the pressures may leave open.
                prop_assert!(m * driving >= -1e-6 || driving.abs() < 100.0, "{m} kg/s against {driving} Pa");
                prop_assert!(!branch.one_way || *m >= 0.0);
            }
        }
    }

    /// Shut vessels keep what they hold.
    #[test]
    fn shut_vessels_keep_everything(vessels in vessels(true, true)) {
        let mut net = vessels.build();
        net.branches.iter_mut().for_each(|branch| branch.conductance_m3_s_pa = 0.0);
        let before = net.mass_kg.clone();
        for _ in 0..400 {
            step(&mut net)?;
        }
        prop_assert_eq!(before, net.mass_kg);
    }
}
