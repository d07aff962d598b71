//! Random valve networks.

use deadship_plant::nets::liquid::LiquidNet;
use proptest::prelude::*;

/// Stiffness of a node's content in the net, Pa: what a rise of pressure stores.
const STIFFNESS_PA: f64 = 2e8;
const TICK_S: f64 = 0.05;
const VOLUME_M3: f64 = 0.02;

/// A valve between two nodes.
#[derive(Clone, Debug)]
pub struct Valve {
    from: usize,
    to: usize,
    /// m3/h at 1 bar; nothing is shut.
    kv: f64,
    one_way: bool,
}

/// A network: pressures at the start, of which the first `fixed` are held.
#[derive(Clone, Debug)]
pub struct Network {
    fixed: usize,
    pressure_pa: Vec<f64>,
    valves: Vec<Valve>,
}

fn valve(nodes: usize, one_way: bool) -> impl Strategy<Value = Valve> {
    let kv = prop_oneof![1 => Just(0.0), 6 => (-2.0..2.5_f64).prop_map(|x| libm::pow(10.0, x))];
    let one_way = if one_way { prop::bool::weighted(0.2).boxed() } else { Just(false).boxed() };
    (0..nodes, 1..nodes, kv, one_way).prop_map(move |(from, step, kv, one_way)| Valve {
        from,
        to: (from + step) % nodes,
        kv,
        one_way,
    })
}

/// Up to a dozen nodes, one to four of them held, and up to two dozen valves.
pub fn network(one_way: bool) -> impl Strategy<Value = Network> {
    (2usize..12, 1usize..5).prop_flat_map(move |(nodes, fixed)| {
        let pressures = prop::collection::vec(-0.9e5..6e5_f64, nodes);
        let valves = prop::collection::vec(valve(nodes, one_way), 1..24);
        (pressures, valves).prop_map(move |(pressure_pa, valves)| Network {
            fixed: fixed.min(nodes - 1),
            pressure_pa,
            valves,
        })
    })
}

impl Network {
    fn build(&self) -> LiquidNet {
        let n = self.pressure_pa.len();
        let ends: Vec<_> = self.valves.iter().map(|v| (v.from, v.to)).collect();
        let held = (0..n).map(|i| i < self.fixed).collect();
        let mut net = LiquidNet::new(vec![VOLUME_M3; n], vec![1000.0; n], held, &ends);
        net.pressure_pa.copy_from_slice(&self.pressure_pa);
        for (branch, valve) in net.branches.iter_mut().zip(&self.valves) {
            branch.set_kv(valve.kv / 3600.0, 1000.0);
            branch.one_way = valve.one_way;
        }
        net
    }

    fn extremes(&self) -> (f64, f64) {
        let low = self.pressure_pa.iter().copied().fold(f64::INFINITY, f64::min);
        (low, self.pressure_pa.iter().copied().fold(f64::NEG_INFINITY, f64::max))
    }

    fn reversed(&self) -> Network {
        let turned = |v: &Valve| Valve { from: v.to, to: v.from, ..v.clone() };
        Network { valves: self.valves.iter().map(turned).collect(), ..self.clone() }
    }
}

fn solve(net: &mut LiquidNet) -> Result<(), TestCaseError> {
    net.solve(TICK_S).map_err(|failure| TestCaseError::fail(format!("{failure:?}")))
}

proptest! {
    #![proptest_config(crate::config(400))]

    /// What flows into a node is what it stores: to 1e-6 of the flow through it, or a drop in a day.
    #[test]
    fn mass_is_kept(network in network(true)) {
        let mut net = network.build();
        for _ in 0..10 {
            let before = net.pressure_pa.clone();
            solve(&mut net)?;
            let most = net.flow_m3_s.iter().fold(0.0, |most: f64, q| most.max(q.abs()));
            for (node, was) in before.iter().enumerate().skip(network.fixed) {
                let stored = VOLUME_M3 / STIFFNESS_PA * (net.pressure_pa[node] - was) / TICK_S;
                let lost = net.net_inflow_m3_s(node) - stored;
                prop_assert!(lost.abs() < 1e-9 + 1e-6 * most, "node {node} loses {lost} of {most} m3/s");
            }
        }
    }

    /// Without pumps no pressure leaves the range of the boundaries and of what was there.
    #[test]
    fn pressures_stay_between_extremes(network in network(true)) {
        let mut net = network.build();
        let (low, high) = network.extremes();
        for _ in 0..20 {
            solve(&mut net)?;
            for p in &net.pressure_pa {
                prop_assert!(p.is_finite() && (low - 1.0..=high + 1.0).contains(p), "{p} outside {low} to {high}");
            }
            prop_assert!(net.flow_m3_s.iter().all(|q| q.is_finite()));
        }
    }

    /// Flow goes from the higher to the lower pressure, never the other way.
    #[test]
    fn flow_goes_downhill(network in network(true)) {
        let mut net = network.build();
        for _ in 0..5 {
            solve(&mut net)?;
            for (branch, q) in net.branches.iter().zip(&net.flow_m3_s) {
                let driving = net.pressure_pa[branch.from] - net.pressure_pa[branch.to];
                prop_assert!(q * driving >= 0.0);
                prop_assert!(!(branch.one_way && *q < -1e-6 * driving.abs()), "back through a non-return valve");
            }
        }
    }

    /// A higher boundary pressure lowers no pressure anywhere.
    #[test]
    fn pressures_follow_the_boundary(network in network(true), more in 1e3..3e5_f64) {
        let mut higher = network.clone();
        higher.pressure_pa[0] += more;
        let (mut below, mut above) = (network.build(), higher.build());
        for _ in 0..10 {
            solve(&mut below)?;
            solve(&mut above)?;
            for (p, q) in below.pressure_pa.iter().zip(&above.pressure_pa) {
                prop_assert!(*q >= p - 1.0, "{q} below {p}");
            }
        }
    }

    /// Turning every valve round only changes the sign of its flow.
    #[test]
    fn reversed_branches_reverse_their_flow(network in network(false)) {
        let (mut one, mut other) = (network.build(), network.reversed().build());
        for _ in 0..5 {
            solve(&mut one)?;
            solve(&mut other)?;
            for (p, q) in one.flow_m3_s.iter().zip(&other.flow_m3_s) {
                prop_assert!((p + q).abs() < 1e-7 + 1e-6 * p.abs(), "{p} and {q}");
            }
        }
    }

    /// With every valve shut nothing passes but the leak of the seats, 1e-13 m3/s for each pascal, and pressures
    /// change by no more than that.
    #[test]
    fn shut_valves_keep_everything(network in network(true)) {
        let mut still = network.clone();
        still.valves.iter_mut().for_each(|valve| valve.kv = 0.0);
        let (low, high) = network.extremes();
        let leak_m3_s = 1.001e-13 * (high - low);
        let mut net = still.build();
        for _ in 0..200 {
            solve(&mut net)?;
            prop_assert!(net.flow_m3_s.iter().all(|q| q.abs() <= leak_m3_s));
        }
        let seats = still.valves.len() as f64;
        let most_pa = seats * leak_m3_s * 200.0 * TICK_S * STIFFNESS_PA / VOLUME_M3;
        for (p, start) in net.pressure_pa.iter().zip(&network.pressure_pa) {
            prop_assert!((p - start).abs() <= most_pa + 25.0, "{p} was {start}");
        }
    }

    /// Empty boundaries give nothing; they may take.
    #[test]
    fn empty_boundaries_give_nothing(network in network(true)) {
        let mut net = network.build();
        net.wet[..network.fixed].fill(0.0);
        for _ in 0..10 {
            solve(&mut net)?;
            for (branch, q) in net.branches.iter().zip(&net.flow_m3_s) {
                let source = if *q > 0.0 { branch.from } else { branch.to };
                prop_assert!(source >= network.fixed || q.abs() < 1e-9, "an empty tank gives {q}");
            }
            prop_assert!(net.pressure_pa.iter().all(|p| p.is_finite()));
        }
    }

    /// The same network gives the same numbers, to the bit.
    #[test]
    fn the_same_again(network in network(true)) {
        let (mut one, mut other) = (network.build(), network.build());
        for _ in 0..5 {
            solve(&mut one)?;
            solve(&mut other)?;
        }
        prop_assert_eq!(one.pressure_pa, other.pressure_pa);
        prop_assert_eq!(one.flow_m3_s, other.flow_m3_s);
    }
}
