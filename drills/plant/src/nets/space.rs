//! The air of rooms: what components gather for each room; the `room` kind turns it into a temperature.

/// All rooms.
#[derive(Clone, Debug)]
pub struct SpaceNet {
    /// Temperature of the air, K.
    pub temperature_k: Vec<f64>,
    /// Heat given to the air, W (reset each heat step).
    pub heat_w: Vec<f64>,
    /// Outside air blown in by fans, m3/s (reset each tick).
    pub supply_m3_s: Vec<f64>,
    /// Air drawn out by fans and engines, m3/s (reset each tick).
    pub extract_m3_s: Vec<f64>,
}

impl SpaceNet {
    /// Makes rooms at one temperature.
    pub fn new(rooms: usize, temperature_k: f64) -> Self {
        SpaceNet {
            temperature_k: vec![temperature_k; rooms],
            heat_w: vec![0.0; rooms],
            supply_m3_s: vec![0.0; rooms],
            extract_m3_s: vec![0.0; rooms],
        }
    }

    /// Clears what is gathered each tick.
    pub fn clear_flows(&mut self) {
        self.supply_m3_s.fill(0.0);
        self.extract_m3_s.fill(0.0);
    }
}
