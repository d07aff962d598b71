//! Books of mass and energy, kept beside the plant from what it shows of its nets, by laws written again here.

use deadship_plant::nets::Nets;
use deadship_plant::{HEAT_TICKS, Plant, TICK_S};

/// Share of what passed through that may be missing.
const TOLERANCE: f64 = 1e-3;

/// One account: what came in less what is there, and how much passed.
#[derive(Default)]
struct Account {
    missing: f64,
    passed: f64,
}

impl Account {
    fn enter(&mut self, gained: f64, came_in: f64, passed: f64) {
        self.missing += came_in - gained;
        self.passed += passed;
    }

    fn close(&self, what: &str, small: f64) {
        let share = self.missing.abs() / self.passed.max(1e-30);
        println!("{what}: {:.3e} of {:.3e} missing, {:.1e} of what passed", self.missing, self.passed, share);
        assert!(self.missing.abs() <= TOLERANCE * self.passed + small, "{what}: {}", self.missing);
    }
}

/// The books of one run.
pub struct Ledger {
    before: Nets,
    liquid_m3: Account,
    tanks_m3: Account,
    tank_volumes_m3: Vec<f64>,
    bilge_m3: Account,
    /// Content of each well with what was pumped out of it, and what ran to it by its drain in the last tick.
    wells: Vec<(f64, f64)>,
    air_kg: Account,
    heat_j: Account,
}

impl Ledger {
    /// Opens the books on a plant.
    pub fn open(plant: &Plant) -> Ledger {
        Ledger {
            before: plant.nets().clone(),
            liquid_m3: Account::default(),
            tanks_m3: Account::default(),
            tank_volumes_m3: tank_volumes_m3(plant),
            bilge_m3: Account::default(),
            wells: wells(plant),
            air_kg: Account::default(),
            heat_j: Account::default(),
        }
    }

    /// Enters a tick that has just been stepped.
    pub fn tick(&mut self, plant: &Plant) {
        self.liquid(plant.nets());
        self.tanks(plant);
        self.bilge(plant);
        self.air(plant);
        if plant.tick.is_multiple_of(HEAT_TICKS) {
            self.heat(plant.nets());
            self.before.heat.clone_from(&plant.nets().heat);
        }
        self.before.liquid.clone_from(&plant.nets().liquid);
        self.before.air.clone_from(&plant.nets().air);
    }

    /// What the nodes hold more is what came over from tanks, the sea and openings.
    fn liquid(&mut self, now: &Nets) {
        let (old, new) = (&self.before.liquid, &now.liquid);
        let nodes = 0..new.pressure_pa.len();
        let gained: f64 =
            nodes.clone().filter(|&n| !new.is_set(n)).map(|n| new.content_m3(n) - old.content_m3(n)).sum();
        let mut came_in: f64 = nodes.filter(|&n| !new.is_set(n)).map(|n| new.source_m3_s[n] * TICK_S).sum();
        let mut passed = 0.0;
        for (branch, flow) in new.branches.iter().zip(&new.flow_m3_s) {
            let side =
                f64::from(u8::from(new.is_set(branch.from))) - f64::from(u8::from(new.is_set(branch.to)));
            came_in += side * flow * TICK_S;
            passed += flow.abs() * TICK_S;
        }
        self.liquid_m3.enter(gained, came_in, passed);
    }

    /// A tank's content, with what was spilled, follows from its flows. (A leaking tank is left out: its leak is its own.)
    fn tanks(&mut self, plant: &Plant) {
        let volumes_m3 = tank_volumes_m3(plant);
        let mut at = 0;
        for (i, component) in plant.compiled.spec.components.iter().enumerate() {
            if component.kind.name != "tank" {
                continue;
            }
            let healthy = (0..component.kind.faults.len()).all(|fault| plant.fault(i, fault) == 0.0);
            let (liquid, node) = (&plant.nets().liquid, plant.compiled.wiring[i].ports[0]);
            let inflow_m3 = (liquid.net_inflow_m3_s(node) + liquid.source_m3_s[node]) * TICK_S;
            if healthy {
                self.tanks_m3.enter(volumes_m3[at] - self.tank_volumes_m3[at], inflow_m3, inflow_m3.abs());
            }
            at += 1;
        }
        self.tank_volumes_m3 = volumes_m3;
    }

    /// What bilge wells hold more, with what was pumped out, is what leaked to where they stand and what ran to them by
    /// their drains a tick ago.
    fn bilge(&mut self, plant: &Plant) {
        let now = wells(plant);
        let spec = &plant.compiled.spec;
        let has_well = |place: &usize| {
            let stands =
                |at: usize| spec.components[at].place.map(|place| spec.lowest(place)) == Some(*place);
            (0..spec.components.len()).any(|at| spec.components[at].kind.name == "bilge-well" && stands(at))
        };
        let leaked_m3_s = &plant.nets().bilge.inflow_m3_s;
        let mut came_in: f64 =
            (0..spec.places.len()).filter(has_well).map(|at| leaked_m3_s[at] * TICK_S).sum();
        let mut gained = 0.0;
        for ((content_m3, _), (before_m3, drained_m3_s)) in now.iter().zip(&self.wells) {
            gained += content_m3 - before_m3;
            came_in += drained_m3_s * TICK_S;
        }
        self.bilge_m3.enter(gained, came_in, came_in);
        self.wells = now;
    }

    /// Air that is there more was compressed or came in; air that left blew out. No vessel holds less than nothing.
    fn air(&mut self, plant: &Plant) {
        let (old, new) = (&self.before.air, &plant.nets().air);
        assert!(new.mass_kg.iter().all(|kg| *kg > 0.0), "tick {}: a vessel without air", plant.tick);
        let gained: f64 = new.mass_kg.iter().sum::<f64>() - old.mass_kg.iter().sum::<f64>();
        let mut came_in: f64 = new.source_kg_s.iter().sum::<f64>() * TICK_S;
        let mut passed = came_in.abs();
        for (branch, flow) in new.branches.iter().zip(&new.flow_kg_s) {
            passed += flow.abs() * TICK_S;
            if branch.to.is_none() {
                came_in -= flow * TICK_S;
            }
        }
        self.air_kg.enter(gained, came_in, passed);
    }

    /// Heat that the nodes hold more was put in, or came and went with the flows (counted from 0 degC). What passed is
    /// the heat that components put in and take out alone: a stricter measure than all that the flows carry.
    fn heat(&mut self, now: &Nets) {
        const FROM_K: f64 = 273.15;
        let (old, new) = (&self.before.heat, &now.heat);
        let dt_s = TICK_S * HEAT_TICKS as f64;
        let (mut gained, mut came_in, mut passed) = (0.0, 0.0, 0.0);
        for node in (0..new.temperature_k.len()).filter(|&n| !now.liquid.is_set(n)) {
            gained += new.capacity_j_k[node] * (new.temperature_k[node] - old.temperature_k[node]);
            came_in += new.heat_w[node] * dt_s;
            passed += new.heat_w[node].abs() * dt_s;
        }
        for (branch, flow) in now.liquid.branches.iter().zip(&now.liquid.flow_m3_s) {
            let (up, down) = if *flow >= 0.0 { (branch.from, branch.to) } else { (branch.to, branch.from) };
            let rate_w_k = flow.abs() * now.liquid.density_kg_m3[up] * new.specific_heat_j_kg_k[up];
            let carried_j = rate_w_k * (new.temperature_k[up] - FROM_K) * dt_s;
            // A node that fills or runs empty holds more or less at its own temperature.
            if !now.liquid.is_set(down) {
                gained += rate_w_k * (new.temperature_k[down] - FROM_K) * dt_s;
            }
            if !now.liquid.is_set(up) {
                gained -= carried_j;
            }
            match (now.liquid.is_set(up), now.liquid.is_set(down)) {
                (false, false) => came_in += branch.heat_w * dt_s,
                // A tank gives at the temperature that it had before it was stepped.
                (true, false) => {
                    came_in += rate_w_k * (old.temperature_k[up] - FROM_K) * dt_s + branch.heat_w * dt_s
                }
                (false, true) => came_in -= carried_j,
                (true, true) => {}
            }
            passed += branch.heat_w.abs() * dt_s;
        }
        self.heat_j.enter(gained, came_in, passed);
    }

    /// Closes the books.
    pub fn close(&self, ship: &str, state: &str) {
        println!("{ship}, {state}:");
        self.liquid_m3.close("liquid, m3", 1e-6);
        self.tanks_m3.close("tanks, m3", 1e-6);
        self.bilge_m3.close("bilge, m3", 1e-6);
        self.air_kg.close("air, kg", 1e-6);
        self.heat_j.close("heat, J", 1.0);
    }
}

/// Content of each tank with what it has spilled.
fn tank_volumes_m3(plant: &Plant) -> Vec<f64> {
    let mut volumes_m3 = Vec::new();
    for (i, component) in plant.compiled.spec.components.iter().enumerate() {
        if component.kind.name == "tank" {
            let reading = |name: &str| {
                let at = component.kind.readings.iter().position(|r| r.name == name);
                plant.reading(i, at.unwrap_or_else(|| panic!("a tank without {name}")))
            };
            volumes_m3.push(reading("volume") + reading("spilled"));
        }
    }
    volumes_m3
}

/// Content of each bilge well with what was pumped out of it, m3; what runs to it by its drain, m3/s.
fn wells(plant: &Plant) -> Vec<(f64, f64)> {
    let compiled = &plant.compiled;
    let mut wells = Vec::new();
    for (i, component) in compiled.spec.components.iter().enumerate() {
        if component.kind.name == "bilge-well" {
            let reading = |name: &str| {
                let at = component.kind.readings.iter().position(|r| r.name == name);
                plant.reading(i, at.unwrap_or_else(|| panic!("a well without {name}")))
            };
            let drain = compiled.wiring[i].links[0];
            let drained_m3_s = if drain == usize::MAX { 0.0 } else { plant.readings()[drain].max(0.0) };
            wells.push((reading("volume") + reading("pumped"), drained_m3_s));
        }
    }
    wells
}
