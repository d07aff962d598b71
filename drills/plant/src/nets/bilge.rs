//! What leaks out of components, gathered by the place where it ends; the kind `bilge-well` keeps it.

/// All places.
#[derive(Clone, Debug)]
pub struct BilgeNet {
    /// What leaked into each place, m3/s (reset each tick).
    pub inflow_m3_s: Vec<f64>,
    /// How many wells share it.
    pub wells: Vec<f64>,
}

impl BilgeNet {
    /// Dry places.
    pub fn new(places: usize) -> Self {
        BilgeNet { inflow_m3_s: vec![0.0; places], wells: vec![0.0; places] }
    }

    /// What runs into each of the wells of a place, m3/s.
    pub fn share_m3_s(&self, place: usize) -> f64 {
        self.inflow_m3_s.get(place).map_or(0.0, |inflow_m3_s| inflow_m3_s / self.wells[place].max(1.0))
    }

    /// Counts one more well at a place.
    pub fn add_well(&mut self, place: usize) {
        if let Some(wells) = self.wells.get_mut(place) {
            *wells += 1.0;
        }
    }

    /// Adds what a component loses; on rigs without places it is lost to nowhere.
    pub fn spill(&mut self, place: usize, flow_m3_s: f64) {
        if let Some(inflow_m3_s) = self.inflow_m3_s.get_mut(place) {
            *inflow_m3_s += flow_m3_s;
        }
    }
}
