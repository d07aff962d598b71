//! What diesel engines of every kind have in common: shares that are given at 25, 60 and 100 % load, and the line of
//! torque over fuel. Not a kind.

/// A share between its values at 25, 60 and 100 % load; below 25 % it stays.
pub fn share(load: f64, [a, b, c]: [f64; 3]) -> f64 {
    if load < 0.25 {
        a
    } else if load < 0.6 {
        a + (b - a) * (load - 0.25) / 0.35
    } else {
        b + (c - b) * (load - 0.6) / 0.4
    }
}

/// Combustion air over that at full load, by load: 38 % at 25 %, 66 % at 60 % (the shape of a turbocharged engine; invented).
pub fn air_share(load: f64) -> f64 {
    if load < 0.25 {
        0.30 + 0.08 * load / 0.25
    } else if load < 0.6 {
        0.38 + 0.28 * (load - 0.25) / 0.35
    } else {
        0.66 + 0.34 * (load - 0.6) / 0.4
    }
}

/// Brake torque (share of rated, warm oil) over fuel per stroke (share of full load): the line through no fuel (friction
/// alone), idle, 25, 60 and 100 % load.
pub struct FuelLine([(f64, f64); 5]);

impl FuelLine {
    /// Fuel at 25 and 60 % load, from efficiencies at 25, 60 and 100 %.
    pub fn fuel_at([eta_25, eta_60, eta_100]: [f64; 3]) -> [f64; 2] {
        let full = 1.0 / eta_100;
        [0.25 / eta_25 / full, 0.6 / eta_60 / full]
    }

    /// From friction and fuel when idling and at 25 and 60 % load.
    pub fn new(friction: f64, idle: f64, [fuel_25, fuel_60]: [f64; 2]) -> FuelLine {
        FuelLine([(0.0, -friction), (idle, 0.0), (fuel_25, 0.25), (fuel_60, 0.6), (1.0, 1.0)])
    }

    /// Torque for this fuel.
    pub fn torque(&self, fuel: f64) -> f64 {
        let at = self.0[1..4].iter().take_while(|point| point.0 <= fuel).count();
        between(fuel, self.0[at], self.0[at + 1])
    }

    /// Fuel for this torque: the other way round.
    pub fn fuel(&self, torque: f64) -> f64 {
        let at = self.0[1..4].iter().take_while(|point| point.1 <= torque).count();
        let turned = |point: (f64, f64)| (point.1, point.0);
        between(torque, turned(self.0[at]), turned(self.0[at + 1]))
    }
}

fn between(x: f64, a: (f64, f64), b: (f64, f64)) -> f64 {
    a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0).max(1e-6)
}
