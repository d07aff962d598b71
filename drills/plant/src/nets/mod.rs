//! The nets: what joins components. Each solves its own unknowns from what the kinds have set; none knows a kind.

pub mod ac;
pub mod air;
pub mod bilge;
pub mod blend;
mod elimination;
pub mod heat;
pub mod liquid;
pub mod shaft;
pub mod space;
pub mod swell;

/// All nets of a plant.
#[derive(Clone, Debug)]
pub struct Nets {
    /// Pressures and flows of liquids.
    pub liquid: liquid::LiquidNet,
    /// Temperatures of the liquid nodes.
    pub heat: heat::HeatNet,
    /// What the fuel is.
    pub blend: blend::BlendNet,
    /// What lines give off as they warm.
    pub swell: swell::SwellNet,
    /// Compressed air.
    pub air: air::AirNet,
    /// Shafts.
    pub shaft: shaft::ShaftNet,
    /// Alternating current.
    pub ac: ac::AcNet,
    /// Voltage of each direct-current node, V: set by the one component that supplies it.
    pub dc_v: Vec<f64>,
    /// Current drawn from each direct-current node, A (reset each tick).
    pub dc_draw_a: Vec<f64>,
    /// Air of rooms.
    pub space: space::SpaceNet,
    /// What leaks out of components.
    pub bilge: bilge::BilgeNet,
}

impl Nets {
    /// Works out what follows from temperatures and blends (after these were set from elsewhere, and after each step).
    pub fn refresh(&mut self) {
        self.heat.refresh();
        self.blend.refresh(&mut self.liquid, &mut self.heat);
        self.swell.refresh(&self.heat);
    }
}
