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
    /// Air that engines want to breathe from the room, m3/s (reset each tick).
    pub breathed_m3_s: Vec<f64>,
    /// Air that its trunks let in by themselves for that, dampers as they are, and with all of them open, m3/s (reset
    /// each tick).
    pub opening_m3_s: Vec<f64>,
    /// See `opening_m3_s`.
    pub trunks_m3_s: Vec<f64>,
    /// Share of what engines want to breathe that they get.
    pub breath_share: Vec<f64>,
}

impl SpaceNet {
    /// Makes rooms at one temperature.
    pub fn new(rooms: usize, temperature_k: f64) -> Self {
        SpaceNet {
            temperature_k: vec![temperature_k; rooms],
            heat_w: vec![0.0; rooms],
            supply_m3_s: vec![0.0; rooms],
            extract_m3_s: vec![0.0; rooms],
            breathed_m3_s: vec![0.0; rooms],
            opening_m3_s: vec![0.0; rooms],
            trunks_m3_s: vec![0.0; rooms],
            breath_share: vec![1.0; rooms],
        }
    }

    /// Clears what is gathered each tick.
    pub fn clear_flows(&mut self) {
        self.supply_m3_s.fill(0.0);
        self.extract_m3_s.fill(0.0);
        self.breathed_m3_s.fill(0.0);
        self.opening_m3_s.fill(0.0);
        self.trunks_m3_s.fill(0.0);
    }
}
