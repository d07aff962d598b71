//! Random loops with pumps and valves, closed: heat goes round and none is lost.

use deadship_plant::kind::Medium;
use deadship_plant::nets::heat::{HeatNet, density, specific_heat};
use deadship_plant::nets::liquid::LiquidNet;
use proptest::prelude::*;

const TICK_S: f64 = 0.05;
const HEAT_S: f64 = 0.2;

/// A closed circuit: a loop with a pump, and chords across it.
#[derive(Clone, Debug)]
struct Circuit {
    temperature_k: Vec<f64>,
    volume_m3: Vec<f64>,
    head_pa: f64,
    chords: Vec<(usize, usize, f64)>,
}

fn circuit() -> impl Strategy<Value = Circuit> {
    (3usize..9).prop_flat_map(|nodes| {
        let temperatures = prop::collection::vec(275.0..370.0_f64, nodes);
        let volumes = prop::collection::vec(0.002..0.5_f64, nodes);
        let chords = prop::collection::vec((0..nodes, 1..nodes, 0.5..80.0_f64), 0..6);
        (temperatures, volumes, 1e3..3e5_f64, chords).prop_map(
            move |(temperature_k, volume_m3, head_pa, chords)| Circuit {
                temperature_k,
                volume_m3,
                head_pa,
                chords: chords
                    .into_iter()
                    .map(|(from, step, kv)| (from, (from + step) % nodes, kv))
                    .collect(),
            },
        )
    })
}

impl Circuit {
    fn build(&self) -> (LiquidNet, HeatNet) {
        let n = self.temperature_k.len();
        let medium = Medium::FreshWater;
        let mut ends: Vec<_> = (0..n).map(|i| (i, (i + 1) % n)).collect();
        ends.extend(self.chords.iter().map(|&(from, to, _)| (from, to)));
        let free = vec![false; n];
        let mut liquid =
            LiquidNet::new(self.volume_m3.clone(), vec![density(medium); n], free.clone(), &ends);
        for (i, branch) in liquid.branches.iter_mut().enumerate() {
            let kv = if i < n { 30.0 } else { self.chords[i - n].2 };
            branch.set_kv(kv / 3600.0, density(medium));
        }
        // High enough that the suction of the pump stays above vapour pressure, where a cavity would give liquid.
        liquid.pressure_pa.fill(5e5);
        // The first branch is the pump.
        liquid.branches[0].head_pa = self.head_pa;
        liquid.branches[0].one_way = true;
        let capacity = self.volume_m3.iter().map(|v| v * density(medium) * specific_heat(medium)).collect();
        let mut heat = HeatNet::new(&liquid, capacity, &vec![medium; n], free, 300.0);
        heat.temperature_k.copy_from_slice(&self.temperature_k);
        (liquid, heat)
    }
}

/// Heat content, J.
fn content_j(heat: &HeatNet) -> f64 {
    heat.temperature_k.iter().zip(&heat.capacity_j_k).map(|(t, c)| t * c).sum()
}

/// What may be lost in a time: the liquid net leaves at most 1e-9 m3/s at a node unbalanced, which carries the
/// difference to its neighbours' temperatures.
fn slack_j(circuit: &Circuit, span_k: f64, seconds: f64) -> f64 {
    let medium = Medium::FreshWater;
    let at_node_w = 1e-9 * density(medium) * specific_heat(medium) * span_k;
    circuit.temperature_k.len() as f64 * at_node_w * seconds
}

fn advance(liquid: &mut LiquidNet, heat: &mut HeatNet) -> Result<(), TestCaseError> {
    for _ in 0..4 {
        liquid.solve(TICK_S).map_err(|failure| TestCaseError::fail(format!("{failure:?}")))?;
    }
    heat.step(liquid, HEAT_S);
    Ok(())
}

proptest! {
    #![proptest_config(crate::config(200))]

    /// A closed circuit keeps its heat but for what the liquid net leaves unbalanced (a fraction of a watt),
    /// and no temperature leaves the range of the others.
    #[test]
    fn a_closed_circuit_keeps_its_heat(circuit in circuit()) {
        let (mut liquid, mut heat) = circuit.build();
        // Pressures settle first; while they do, liquid is stored in the nodes and heat with it.
        for _ in 0..200 {
            liquid.solve(TICK_S).map_err(|failure| TestCaseError::fail(format!("{failure:?}")))?;
        }
        let before = content_j(&heat);
        let low = circuit.temperature_k.iter().copied().fold(f64::INFINITY, f64::min);
        let high = circuit.temperature_k.iter().copied().fold(0.0, f64::max);
        for _ in 0..300 {
            advance(&mut liquid, &mut heat)?;
            for t in &heat.temperature_k {
                prop_assert!((low - 1e-6..=high + 1e-6).contains(t), "{t} outside {low} to {high}");
            }
        }
        prop_assert!(liquid.flow_m3_s[0] > 1e-5, "nothing flows: the check would say nothing");
        let lost = (content_j(&heat) - before).abs();
        let slack = slack_j(&circuit, high - low, 300.0 * HEAT_S);
        prop_assert!(lost < slack + 1e-13 * before, "{lost:.3e} J are lost, {slack:.3e} J may be");
    }

    /// With flows that balance to the last bit, in either direction, a closed circuit keeps its heat to 1e-12.
    #[test]
    fn balanced_flows_keep_all_heat(circuit in circuit(), round in -0.05..0.05_f64, across in -0.05..0.05_f64) {
        let (mut liquid, mut heat) = circuit.build();
        let n = circuit.temperature_k.len();
        liquid.flow_m3_s.fill(0.0);
        liquid.flow_m3_s[..n].fill(round);
        for (i, &(from, to, _)) in circuit.chords.iter().enumerate() {
            // Across by the chord, back by the loop.
            liquid.flow_m3_s[n + i] += across;
            let mut node = to;
            while node != from {
                liquid.flow_m3_s[node] += across;
                node = (node + 1) % n;
            }
        }
        let before = content_j(&heat);
        for _ in 0..300 {
            heat.step(&liquid, HEAT_S);
        }
        let lost = (content_j(&heat) - before).abs() / before;
        prop_assert!(lost < 1e-12, "{lost:.3e} of the heat is lost");
    }

    /// What is put into nodes and streams is what the circuit gains.
    #[test]
    fn heat_put_in_is_found(circuit in circuit(), into_node in -5e4..5e4_f64, into_stream in -5e4..5e4_f64) {
        let (mut liquid, mut heat) = circuit.build();
        for _ in 0..200 {
            liquid.solve(TICK_S).map_err(|failure| TestCaseError::fail(format!("{failure:?}")))?;
        }
        let before = content_j(&heat);
        for _ in 0..100 {
            heat.heat_w[0] = into_node;
            liquid.branches[1].heat_w = into_stream;
            advance(&mut liquid, &mut heat)?;
        }
        let gained = content_j(&heat) - before;
        let given = 100.0 * HEAT_S * (into_node + into_stream);
        // A hundred kelvin is more than any two nodes differ by.
        let slack = slack_j(&circuit, 100.0, 100.0 * HEAT_S);
        prop_assert!((gained - given).abs() < slack + 1e-9 * before, "{gained} J for {given} J");
    }

    /// Without flow nothing moves.
    #[test]
    fn a_still_circuit_keeps_each_temperature(circuit in circuit()) {
        let (mut liquid, mut heat) = circuit.build();
        liquid.branches.iter_mut().for_each(|branch| branch.set_kv(0.0, 1000.0));
        for _ in 0..100 {
            advance(&mut liquid, &mut heat)?;
        }
        for (t, start) in heat.temperature_k.iter().zip(&circuit.temperature_k) {
            prop_assert!((t - start).abs() < 1e-9, "{t} was {start}");
        }
    }
}
