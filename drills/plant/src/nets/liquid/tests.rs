use super::*;

fn kv(branch: &mut LiquidBranch, kv_m3_h: f64) {
    branch.set_kv(kv_m3_h / 3600.0, 1000.0);
}

fn settle(net: &mut LiquidNet) {
    for _ in 0..200 {
        net.solve(0.05).expect("converges");
    }
}

#[test]
fn two_valves_in_series_share_the_pressure() {
    let mut net =
        LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
    net.pressure_pa[0] = 1e5;
    kv(&mut net.branches[0], 10.0);
    kv(&mut net.branches[1], 10.0);
    settle(&mut net);
    assert!((net.pressure_pa[1] - 5e4).abs() < 1.0);
    assert!((net.flow_m3_s[0] * 3600.0 - 10.0 * f64::sqrt(0.5)).abs() < 1e-3);
}

#[test]
fn shut_in_section_keeps_its_pressure_and_one_way_holds() {
    let mut net =
        LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
    net.pressure_pa[0] = 3e5;
    kv(&mut net.branches[0], 10.0);
    net.branches[0].one_way = true;
    net.branches[1].shut = true;
    settle(&mut net);
    assert!((net.pressure_pa[1] - 3e5).abs() < 500.0);
    net.pressure_pa[0] = 0.0;
    net.solve(0.05).expect("converges");
    assert!(net.pressure_pa[1] > 2.9e5, "{}", net.pressure_pa[1]);
}

#[test]
fn empty_boundary_gives_nothing() {
    let mut net =
        LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
    net.pressure_pa[0] = 1e5;
    net.wet[0] = 0.0;
    kv(&mut net.branches[0], 10.0);
    kv(&mut net.branches[1], 10.0);
    settle(&mut net);
    assert!(net.flow_m3_s[1].abs() < 1e-6);
}

#[test]
fn nothing_is_drawn_below_vapour_pressure() {
    let mut net = LiquidNet::new(vec![0.02, 0.0], vec![1000.0; 2], vec![false, true], &[(0, 1)]);
    net.branches[0].shut = true;
    net.source_m3_s[0] = -1e-3;
    settle(&mut net);
    assert!(net.pressure_pa[0] > -1.0e5, "{}", net.pressure_pa[0]);
}

#[test]
fn gear_pump_into_a_shut_line_is_held_by_its_slip() {
    let mut net = LiquidNet::new(vec![0.0, 0.02], vec![900.0; 2], vec![true, false], &[(0, 1)]);
    let pump = &mut net.branches[0];
    pump.shut = false;
    pump.turbulent_pa_s2_m6 = 0.0;
    pump.laminar_pa_s_m3 = 1e9;
    pump.head_pa = 1e9 * 1e-3;
    settle(&mut net);
    assert!((net.pressure_pa[1] - 1e6).abs() < 10.0);
}
