//! Shafts: one speed each, from the balance of torques.
//!
//! `J dw/dt = sum T - k w|w|` (Newton; k gathers the pumps and fans, whose torque goes with the square of speed),
//! stepped semi-implicitly in the slope of the torques (a motor's torque falls steeply with speed near
//! synchronism), with friction that never turns a shaft backwards.

/// All shaft nodes.
#[derive(Clone, Debug)]
pub struct ShaftNet {
    /// Speed, rad/s.
    pub speed_rad_s: Vec<f64>,
    /// Moment of inertia, kg m2: what the node and its components bring.
    pub inertia_kg_m2: Vec<f64>,
    /// Driving torque less load torque that does not depend on direction, Nm (reset each sub-step).
    pub torque_nm: Vec<f64>,
    /// Slope of the driving torque with speed, Nm s (negative or zero; reset each sub-step).
    pub slope_nm_s: Vec<f64>,
    /// Friction that opposes motion, Nm (reset each sub-step).
    pub friction_nm: Vec<f64>,
    /// Quadratic load, Nm s2 (set each tick by pumps, fans and compressors).
    pub quadratic_nm_s2: Vec<f64>,
}

impl ShaftNet {
    /// Makes shafts at rest.
    pub fn new(inertia_kg_m2: Vec<f64>) -> Self {
        let n = inertia_kg_m2.len();
        ShaftNet {
            speed_rad_s: vec![0.0; n],
            inertia_kg_m2,
            torque_nm: vec![0.0; n],
            slope_nm_s: vec![0.0; n],
            friction_nm: vec![0.0; n],
            quadratic_nm_s2: vec![0.0; n],
        }
    }

    /// Clears what is gathered each sub-step.
    pub fn clear(&mut self) {
        self.torque_nm.fill(0.0);
        self.slope_nm_s.fill(0.0);
        self.friction_nm.fill(0.0);
    }

    /// Advances all speeds by `dt_s`.
    pub fn step(&mut self, dt_s: f64) {
        let speeds = self.speed_rad_s.iter_mut().zip(&self.inertia_kg_m2);
        let torques = self.torque_nm.iter().zip(&self.slope_nm_s);
        let losses = self.friction_nm.iter().zip(&self.quadratic_nm_s2);
        for (((speed, inertia), (&torque, &slope)), (&friction, &quadratic)) in
            speeds.zip(torques).zip(losses)
        {
            let w = *speed;
            if w == 0.0 && torque == 0.0 {
                // It stands, and nothing turns it.
                continue;
            }
            let torque = torque - quadratic * w * w.abs();
            let slope = slope - 2.0 * quadratic * w.abs();
            let mass = inertia.max(1e-6) - dt_s * slope.min(0.0);
            let free = w + dt_s * torque / mass;
            // Friction acts against whatever motion the other torques leave, and stops at standstill.
            let brake = dt_s * friction / mass;
            *speed = if free > brake {
                free - brake
            } else if free < -brake {
                free + brake
            } else {
                0.0
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn friction_stops_a_shaft_and_does_not_reverse_it() {
        let mut net = ShaftNet::new(vec![2.0]);
        net.speed_rad_s[0] = 1.0;
        for _ in 0..1000 {
            net.clear();
            net.friction_nm[0] = 4.0;
            net.step(0.005);
        }
        assert_eq!(net.speed_rad_s[0], 0.0);
    }

    #[test]
    fn constant_torque_accelerates_by_newton() {
        let mut net = ShaftNet::new(vec![2.0]);
        for _ in 0..200 {
            net.clear();
            net.torque_nm[0] = 10.0;
            net.step(0.005);
        }
        assert!((net.speed_rad_s[0] - 5.0).abs() < 1e-9);
    }
}
