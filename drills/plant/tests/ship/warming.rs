//! The warming line between the HT circuits of the sets: what it gives and what it costs.

use crate::hands::Hands;

const ZERO_C_K: f64 = 273.15;
const WATER_J_M3_K: f64 = 977.0 * 4190.0;

/// What the balances need of a set, from the ship's own figures.
struct Block {
    ship: &'static str,
    /// Heat capacity of block and jacket water, J/K.
    capacity_j_k: f64,
    /// Loss to the room, W/K.
    loss_w_k: f64,
    /// What a full jacket leak of DG 1 takes from the tank, m3/h, with the warming line shut and open.
    leaks_m3_h: [f64; 2],
}

/// 912 kJ/K of iron with 150 L of water; 1440 kJ/K with 237 L.
const BLOCKS: [Block; 2] = [
    Block {
        ship: "quillmere",
        capacity_j_k: 912e3 + 0.150 * WATER_J_M3_K,
        loss_w_k: 66.0,
        leaks_m3_h: [0.50, 0.75],
    },
    Block {
        ship: "tamberwick",
        capacity_j_k: 1440e3 + 0.237 * WATER_J_M3_K,
        loss_w_k: 104.0,
        leaks_m3_h: [0.72, 0.96],
    },
];

/// At anchor with the second set cold and the preheater out of service; DG 1 carries the ship.
fn without_preheater(ship: &str) -> Hands {
    let cold = ("\"dg2.ht.*.temperature\" = \"61 degC\"", "\"dg2.ht.*.temperature\" = \"45 degC\"");
    let mut hands = Hands::on_changed(ship, "at anchor", "", cold);
    hands.manage_by_hand();
    hands.act("stop preheat.pump");
    for heater in ["preheat.heater.1", "preheat.heater.2"] {
        hands.act(&format!("set {heater} selector manual"));
        hands.act(&format!("stop {heater}"));
    }
    hands.run(60.0);
    hands
}

fn open_the_warming_line(hands: &mut Hands) {
    for valve in ["dg1.ht.warming", "dg2.ht.warming"] {
        assert_eq!(hands.value(&format!("{valve}.position")), 0.0, "{valve} is shut as she is found");
        hands.act(&format!("open {valve}"));
    }
    hands.run(20.0);
}

fn alerts_of_dg1(hands: &Hands) -> Vec<String> {
    let alerts = &hands.plant.compiled.spec.alerts;
    let on = (0..alerts.len()).filter(|&i| hands.plant.alert_on(i) && alerts[i].name.starts_with("dg1."));
    on.map(|i| alerts[i].name.clone()).collect()
}

/// Twenty minutes with the valves shut and with them open. The warm water that goes through the block gives it q rho c
/// (T_in - T), the room takes its loss: a lag of first order to the temperature between both. The balance counts the
/// block as one, so it may be out by a sixth.
#[test]
fn a_running_set_warms_a_standing_one_without_the_preheater() {
    const SECONDS: f64 = 1200.0;
    for block in &BLOCKS {
        let ship = block.ship;
        let mut hands = without_preheater(ship);
        let mut left = Hands { plant: hands.plant.clone() };
        left.run(SECONDS);
        open_the_warming_line(&mut hands);
        let from_k = hands.value("dg2.engine.ht-temperature");
        let mut low_k = f64::INFINITY;
        for _ in 0..20 {
            hands.run(SECONDS / 20.0);
            low_k = low_k.min(hands.value("dg1.ht.thermostat.temperature"));
            assert_eq!(alerts_of_dg1(&hands), Vec::<String>::new(), "{ship}");
        }
        let rise_k = hands.value("dg2.engine.ht-temperature") - from_k;
        let shut_k = left.value("dg2.engine.ht-temperature") - from_k;
        let water_w_k = hands.value("dg2.ht.passages.flow") * WATER_J_M3_K;
        let (warm_k, room_k) =
            (hands.value("dg1.ht.thermostat.temperature"), hands.value("room.engine-room.temperature"));
        let all_w_k = water_w_k + block.loss_w_k;
        let goal_k = (water_w_k * warm_k + block.loss_w_k * room_k) / all_w_k;
        let expected_k = (goal_k - from_k) * (1.0 - libm::exp(-SECONDS * all_w_k / block.capacity_j_k));
        eprintln!(
            "{ship}: {:.2} m3/h through the block; {rise_k:.1} K in 20 min, by balance {expected_k:.1} K, shut {shut_k:.1} K; \
             DG 1 not below {:.1} degC",
            3600.0 * hands.value("dg2.ht.passages.flow"),
            low_k - ZERO_C_K
        );
        assert!(rise_k > 10.0 && shut_k < 1.0, "{ship}: {rise_k} K, shut {shut_k} K");
        assert!(
            (rise_k / expected_k - 1.0).abs() < 1.0 / 6.0,
            "{ship}: {rise_k} K, by balance {expected_k} K"
        );
        assert!(low_k - ZERO_C_K > 75.0, "{ship}: the running set cools to {low_k} K");
    }
}

/// The sets share one expansion tank, each HT circuit hangs on it by a narrow static line. Such a line feeds a leak of DG 1
/// with what it passes at the difference d that the leak makes; a warming line left open brings the line of DG 2 to it as
/// well: its circuit loses with the other, and the tank falls faster. By the balance of leak (0.6 m3/h for each bar in
/// the jacket) and static lines, the jacket 1.07 bar above the suction, the tank at 0.75 bar (0.92 on the second ship):
/// 0.5 sqrt(d) = 0.6 (1.82 - d) gives 0.50 m3/h, twice that line 0.75 m3/h; 0.8 sqrt(d) = 0.6 (1.99 - d) gives 0.72, twice
/// that line 0.96 m3/h.
#[test]
fn a_leak_of_one_set_empties_the_circuit_of_the_other_by_an_open_warming_line() {
    for block in &BLOCKS {
        let ship = block.ship;
        let mut shut = without_preheater(ship);
        let mut open = Hands { plant: shut.plant.clone() };
        open_the_warming_line(&mut open);
        shut.run(20.0);
        for (hands, expected_m3_h, share) in
            [(&mut shut, block.leaks_m3_h[0], 0.0), (&mut open, block.leaks_m3_h[1], 0.5)]
        {
            hands.fault("dg1.engine", "jacket-leaks", 1.0);
            hands.run(60.0);
            let before_m3 = hands.value("fw.expansion.tank.volume");
            let mut by_other_m3 = 0.0;
            for _ in 0..480 {
                hands.run(1.0);
                by_other_m3 += hands.value("dg2.ht.static.flow");
            }
            let lost_m3 = before_m3 - hands.value("fw.expansion.tank.volume");
            let lost_m3_h = lost_m3 * 3600.0 / 480.0;
            let by_other = by_other_m3 / lost_m3;
            eprintln!("{ship}: the tank loses {lost_m3_h:.2} m3/h, {by_other:.2} of it by DG 2");
            assert!((lost_m3_h / expected_m3_h - 1.0).abs() < 0.1, "{ship}: {lost_m3_h} m3/h");
            assert!((by_other - share).abs() < 0.15, "{ship}: {by_other}");
        }
    }
}
