//! Water and oil in lines that swell as they warm: what no longer fits goes where the pressure lets it, to the expansion
//! tank or the sump.
//!
//! A line's content is `rho(T) V`; with flows counted at the density of reference, what it gives off in a step is
//! `V (rho before - rho after) / rho of reference`. A state function: warmed and cooled again, nothing is left over.

use super::heat::{HeatNet, density};
use super::liquid::LiquidNet;
use crate::fluid::{fresh_water_density_kg_m3, lube_oil_density_kg_m3};
use crate::kind::Medium;

/// What lines give off.
#[derive(Clone, Debug)]
pub struct SwellNet {
    /// Flow out of (or, cooling, into) each line by its swelling until the next heat step, m3/s.
    pub source_m3_s: Vec<f64>,
    lines: Vec<(usize, Medium)>,
    density_kg_m3: Vec<f64>,
}

fn density_at(medium: Medium, t_k: f64) -> f64 {
    if medium == Medium::LubeOil { lube_oil_density_kg_m3(t_k) } else { fresh_water_density_kg_m3(t_k) }
}

impl SwellNet {
    /// For the lines of fresh water and lubricating oil. Sea water is open to the sea; fuel is left out.
    pub fn new(liquid: &LiquidNet, media: &[Medium]) -> SwellNet {
        let swells = |&node: &usize| matches!(media[node], Medium::FreshWater | Medium::LubeOil);
        let lines = (0..media.len()).filter(|&node| !liquid.is_set(node)).filter(swells);
        let lines = lines.map(|node| (node, media[node])).collect();
        SwellNet { source_m3_s: vec![0.0; media.len()], lines, density_kg_m3: vec![0.0; media.len()] }
    }

    /// Takes temperatures as they are, without swelling.
    pub fn refresh(&mut self, heat: &HeatNet) {
        for &(node, medium) in &self.lines {
            self.density_kg_m3[node] = density_at(medium, heat.temperature_k[node]);
        }
    }

    /// After a heat step of `dt_s`.
    pub fn step(&mut self, liquid: &LiquidNet, heat: &HeatNet, dt_s: f64) {
        for &(node, medium) in &self.lines {
            let now = density_at(medium, heat.temperature_k[node]);
            let given_off_m3 = liquid.volume_m3(node) * (self.density_kg_m3[node] - now) / density(medium);
            self.source_m3_s[node] = given_off_m3 / dt_s;
            self.density_kg_m3[node] = now;
        }
    }
}
