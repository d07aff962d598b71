//! What a kind's functions are given: its own numbers, the nets, what others published, and an outbox.

use crate::HEAT_TICKS;
use crate::fluid::{WARM_DIESEL_M2_S, WARM_OIL_M2_S, ZERO_C_K};
use crate::kind::{KindDef, Medium};
use crate::nets::Nets;
use crate::nets::ac::Complex;
use crate::nets::air::AirBranch;
use crate::nets::liquid::LiquidBranch;
use crate::spec::{AlertSpec, Surroundings};

/// What joins a component to the rest, as flat indices.
#[derive(Clone, Debug)]
pub struct Wiring {
    /// Kind.
    pub kind: &'static KindDef,
    /// Index of the component.
    pub index: usize,
    /// Net-local node index of each port; `usize::MAX` when the port is free.
    pub ports: Vec<usize>,
    /// First parameter, state, fault, need and reading in the flat arrays.
    pub params: usize,
    /// First state.
    pub state: usize,
    /// First fault.
    pub faults: usize,
    /// First need.
    pub needs: usize,
    /// First reading.
    pub readings: usize,
    /// First liquid branch, air branch and AC branch.
    pub liquid_branches: usize,
    /// First air branch.
    pub air_branches: usize,
    /// First AC branch.
    pub ac_branches: usize,
    /// Place where what leaks out of it ends; `usize::MAX` on rigs without places.
    pub spills_to: usize,
    /// Links resolved: flat reading index for a reading, component index for a component; `usize::MAX` when free.
    pub links: Vec<usize>,
    /// Alerts that are about it and stand in the way of automatic standby.
    pub blocking_alerts: Vec<usize>,
}

/// Something that a step found out: recorded as a fact, never applied to the plant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// Tick in which it was found.
    pub tick: u64,
    /// What it is.
    pub what: Found,
    /// Measured value, SI.
    pub measured: f64,
    /// Limit, SI.
    pub limit: f64,
    /// Tick since which the limit was passed.
    pub since_tick: u64,
}

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Found {
    /// One of a kind's own findings: component, index into [`KindDef::findings`].
    Kind(usize, usize),
    /// An alert's condition became true: index of the alert.
    AlertOn(usize),
    /// An alert's condition became false.
    AlertOff(usize),
    /// A need is unmet: component, need.
    NeedLost(usize, usize),
    /// A need is met again.
    NeedMet(usize, usize),
}

/// A command from one component to another, done at the start of the next tick if nothing is in the way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Request {
    /// Component that asks.
    pub from: usize,
    /// Component asked.
    pub to: usize,
    /// Index into its kind's acts.
    pub act: usize,
    /// Value of a setting.
    pub value: f64,
}

/// What comes out of hooks.
#[derive(Clone, Debug, Default)]
pub struct Outbox {
    /// Findings of this tick in the order in which they were found.
    pub findings: Vec<Finding>,
    /// Requests for the next tick.
    pub requests: Vec<Request>,
}

/// Controls of a 24 V supply are lost below this, V: 25 % below nominal (IEC 60092-101 band for battery supplies, from
/// memory).
pub const CONTROLS_LOST_V: f64 = 18.0;

macro_rules! shared_access {
    ($type:ident) => {
        impl $type<'_> {
            /// A parameter, SI; after the last, what follows from them (see [`KindDef::follows`]).
            pub fn p(&self, index: usize) -> f64 {
                self.params[self.wiring.params + index]
            }
            /// A parameter as a flag.
            pub fn p_is(&self, index: usize) -> bool {
                self.p(index) > 0.5
            }
            /// A state, SI.
            pub fn s(&self, index: usize) -> f64 {
                self.state[self.wiring.state + index]
            }
            /// A state as a flag.
            pub fn is(&self, index: usize) -> bool {
                self.s(index) > 0.5
            }
            /// Severity of a fault, 0 to 1.
            pub fn fault(&self, index: usize) -> f64 {
                self.faults[self.wiring.faults + index]
            }
            /// Is a fault present at all?
            pub fn faulty(&self, index: usize) -> bool {
                self.fault(index) > 0.0
            }
            /// Node of a port that is required by the declaration.
            pub fn node(&self, port: usize) -> usize {
                self.wiring.ports[port]
            }
            /// Does the ship file name a node for this port?
            pub fn has_port(&self, port: usize) -> bool {
                self.wiring.ports[port] != usize::MAX
            }
            /// Is this link given?
            pub fn has_link(&self, link: usize) -> bool {
                self.wiring.links[link] != usize::MAX
            }
            /// The reading a link points to, as published last tick.
            pub fn watched(&self, link: usize) -> f64 {
                self.published[self.wiring.links[link]]
            }
            /// A reading of the component a link points to, as published last tick.
            pub fn linked(&self, link: usize, reading: usize) -> f64 {
                self.published[self.reading_starts[self.wiring.links[link]] + reading]
            }
            /// One of its own readings, as published last tick.
            pub fn own(&self, reading: usize) -> f64 {
                self.published[self.wiring.readings + reading]
            }
            /// Voltage of an AC port as a share of nominal; 0 when the port is free.
            pub fn voltage_share(&self, port: usize) -> f64 {
                let node = self.wiring.ports[port];
                if node == usize::MAX {
                    return 0.0;
                }
                self.nets.ac.volts[node] / self.nets.ac.nominal_v[node]
            }
            /// Frequency of an AC port's island, Hz.
            pub fn frequency_hz(&self, port: usize) -> f64 {
                self.nets.ac.frequency_hz[self.wiring.ports[port]]
            }
            /// Is there control voltage at a DC port? True where the ship names none (rigs).
            pub fn has_control_voltage(&self, port: usize) -> bool {
                let node = self.wiring.ports[port];
                node == usize::MAX || self.nets.dc_v[node] >= CONTROLS_LOST_V
            }
            /// Gauge pressure of a liquid port, Pa.
            pub fn pressure_pa(&self, port: usize) -> f64 {
                self.nets.liquid.pressure_pa[self.wiring.ports[port]]
            }
            /// Temperature of a liquid port's node, K.
            pub fn temperature_k(&self, port: usize) -> f64 {
                self.nets.heat.temperature_k[self.wiring.ports[port]]
            }
            /// The same in degC.
            pub fn temperature_c(&self, port: usize) -> f64 {
                self.temperature_k(port) - ZERO_C_K
            }
            /// Share of heavy fuel at a fuel port, by volume.
            pub fn heavy_share(&self, port: usize) -> f64 {
                self.nets.blend.heavy_share[self.wiring.ports[port]]
            }
            /// What a liquid port's node is filled with.
            pub fn medium(&self, port: usize) -> Medium {
                self.nets.blend.media[self.wiring.ports[port]]
            }
            /// Viscosity at which resistances and slip in this medium have their rated values, m2/s.
            pub fn rated_viscosity_m2_s(&self, port: usize) -> f64 {
                if self.medium(port) == Medium::Fuel { WARM_DIESEL_M2_S } else { WARM_OIL_M2_S }
            }
            /// Kinematic viscosity at a port of lubricating oil or fuel, m2/s; 0 for water.
            pub fn viscosity_m2_s(&self, port: usize) -> f64 {
                self.nets.heat.viscosity_m2_s[self.wiring.ports[port]]
            }
            /// Density of a liquid port's medium, kg/m3.
            pub fn density_kg_m3(&self, port: usize) -> f64 {
                self.nets.liquid.density_kg_m3[self.wiring.ports[port]]
            }
            /// Gauge pressure of an air port, Pa.
            pub fn air_pa(&self, port: usize) -> f64 {
                self.nets.air.pressure_pa(self.wiring.ports[port]) - self.nets.air.atmosphere_pa
            }
            /// Flow of one of its liquid branches, m3/s.
            pub fn flow_m3_s(&self, branch: usize) -> f64 {
                self.nets.liquid.flow_m3_s[self.wiring.liquid_branches + branch]
            }
            /// Mass flow of one of its air branches, kg/s.
            pub fn air_flow_kg_s(&self, branch: usize) -> f64 {
                self.nets.air.flow_kg_s[self.wiring.air_branches + branch]
            }
            /// Speed of a shaft port, rad/s.
            pub fn speed_rad_s(&self, port: usize) -> f64 {
                self.nets.shaft.speed_rad_s[self.wiring.ports[port]]
            }
            /// Scaled current in one of its AC branches (see [`crate::nets::ac`]).
            pub fn branch_current(&self, branch: usize) -> Complex {
                self.nets.ac.branch_current[self.wiring.ac_branches + branch]
            }
            /// Alerts that are about this component, true now, and stand in the way of automatic standby.
            pub fn blocking_alerts(&self) -> impl Iterator<Item = &AlertSpec> {
                let (specs, on) = self.alerts;
                self.wiring.blocking_alerts.iter().filter(|&&alert| on[alert]).map(|&alert| &specs[alert])
            }
            /// Is one of its AC branches closed?
            pub fn branch_closed(&self, branch: usize) -> bool {
                self.nets.ac.branches[self.wiring.ac_branches + branch].closed
            }
        }
    };
}

/// For functions that change the component.
pub struct Ctx<'a> {
    /// Length of this call's step, s: tick, sub-step or heat step.
    pub dt_s: f64,
    /// Tick.
    pub tick: u64,
    /// Its indices.
    pub wiring: &'a Wiring,
    /// Parameters of all.
    pub params: &'a [f64],
    /// State of all.
    pub state: &'a mut [f64],
    /// Severities of all.
    pub faults: &'a [f64],
    /// Tick since which each need is unmet; negative when met.
    pub needs: &'a mut [f64],
    /// Nets.
    pub nets: &'a mut Nets,
    /// Readings being written.
    pub readings: &'a mut [f64],
    /// Readings of the last tick.
    pub published: &'a [f64],
    /// First reading of each component.
    pub reading_starts: &'a [usize],
    /// Alerts of the ship and whether their condition is true.
    pub alerts: (&'a [AlertSpec], &'a [bool]),
    /// Outside.
    pub outside: &'a Surroundings,
    /// Findings and requests.
    pub outbox: &'a mut Outbox,
}

/// For functions that only look.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// Tick.
    pub tick: u64,
    /// Its indices.
    pub wiring: &'a Wiring,
    /// Parameters of all.
    pub params: &'a [f64],
    /// State of all.
    pub state: &'a [f64],
    /// Severities of all.
    pub faults: &'a [f64],
    /// Nets.
    pub nets: &'a Nets,
    /// Readings of the last tick.
    pub published: &'a [f64],
    /// First reading of each component.
    pub reading_starts: &'a [usize],
    /// Alerts of the ship and whether their condition is true.
    pub alerts: (&'a [AlertSpec], &'a [bool]),
    /// Indices of all components.
    pub wirings: &'a [Wiring],
}

shared_access!(Ctx);
shared_access!(View);

impl<'a> View<'a> {
    /// The same plant seen from the component that a link points to.
    pub fn from_linked(&self, link: usize) -> View<'a> {
        View { wiring: &self.wirings[self.wiring.links[link]], ..*self }
    }
}

impl Ctx<'_> {
    /// Have temperatures of liquids, and what follows from them, changed since the last tick? They do in heat steps.
    pub fn temperatures_are_new(&self) -> bool {
        self.tick == 0 || self.tick % HEAT_TICKS == 1
    }

    /// Sets a state, SI.
    pub fn set(&mut self, index: usize, value: f64) {
        self.state[self.wiring.state + index] = value;
    }

    /// Sets a flag.
    pub fn set_is(&mut self, index: usize, value: bool) {
        self.set(index, f64::from(u8::from(value)));
    }

    /// Publishes a reading, SI.
    pub fn read_out(&mut self, index: usize, value: f64) {
        self.readings[self.wiring.readings + index] = value;
    }

    /// Publishes a flag.
    pub fn read_out_is(&mut self, index: usize, value: bool) {
        self.read_out(index, f64::from(u8::from(value)));
    }

    /// One of its liquid branches.
    pub fn liquid_branch(&mut self, index: usize) -> &mut LiquidBranch {
        &mut self.nets.liquid.branches[self.wiring.liquid_branches + index]
    }

    /// One of its air branches.
    pub fn air_branch(&mut self, index: usize) -> &mut AirBranch {
        &mut self.nets.air.branches[self.wiring.air_branches + index]
    }

    /// Closes or opens one of its AC branches.
    pub fn switch(&mut self, branch: usize, closed: bool) {
        self.nets.ac.switch(self.wiring.ac_branches + branch, closed);
    }

    /// Heat into the node of a liquid port during this heat step, W.
    pub fn heat_node_w(&mut self, port: usize, heat_w: f64) {
        self.nets.heat.heat_w[self.wiring.ports[port]] += heat_w;
    }

    /// Temperature of the air at a space port, K; the outside air when the port is free.
    pub fn space_k(&self, port: usize) -> f64 {
        let node = self.wiring.ports[port];
        if node == usize::MAX { self.outside.air_temperature_k } else { self.nets.space.temperature_k[node] }
    }

    /// Heat into the air at a space port during this heat step, W; lost to nowhere when the port is free.
    pub fn heat_space_w(&mut self, port: usize, heat_w: f64) {
        let node = self.wiring.ports[port];
        if node != usize::MAX {
            self.nets.space.heat_w[node] += heat_w;
        }
    }

    /// Says that it loses so much liquid: it ends in the bilge of its place.
    pub fn spill(&mut self, flow_m3_s: f64) {
        self.nets.bilge.spill(self.wiring.spills_to, flow_m3_s);
    }

    /// Draws control current from a DC port, A.
    pub fn draw_dc(&mut self, port: usize, current_a: f64) {
        let node = self.wiring.ports[port];
        if node != usize::MAX {
            self.nets.dc_draw_a[node] += current_a;
        }
    }

    /// Says whether a need is met; a change is a finding.
    pub fn need(&mut self, index: usize, met: bool) {
        let slot = self.wiring.needs + index;
        let was_met = self.needs[slot] < 0.0;
        if met == was_met {
            return;
        }
        let since = if met { self.needs[slot] } else { self.tick as f64 };
        self.needs[slot] = if met { -1.0 } else { self.tick as f64 };
        let what = if met {
            Found::NeedMet(self.wiring.index, index)
        } else {
            Found::NeedLost(self.wiring.index, index)
        };
        let finding = Finding { tick: self.tick, what, measured: 0.0, limit: 0.0, since_tick: since as u64 };
        self.outbox.findings.push(finding);
    }

    /// A need that can only be lost while the component is wanted to work; once lost it stays so until it is met again.
    pub fn need_while(&mut self, index: usize, wanted: bool, met: bool) {
        let lost = self.needs[self.wiring.needs + index] >= 0.0;
        self.need(index, met || (!wanted && !lost));
    }

    /// Reports one of the kind's findings; `since_s` is how long the limit had been passed.
    pub fn find(&mut self, index: usize, measured: f64, limit: f64, since_s: f64) {
        let since_tick = self.tick.saturating_sub((since_s / crate::TICK_S) as u64);
        let what = Found::Kind(self.wiring.index, index);
        self.outbox.findings.push(Finding { tick: self.tick, what, measured, limit, since_tick });
    }

    /// Asks the component that a link points to for one of its acts.
    pub fn request(&mut self, link: usize, act: usize, value: f64) {
        let to = self.wiring.links[link];
        if to != usize::MAX {
            self.outbox.requests.push(Request { from: self.wiring.index, to, act, value });
        }
    }

    /// Counts a state up by the step while `on`, else sets it to 0; returns the new value, s.
    pub fn time_while(&mut self, index: usize, on: bool) -> f64 {
        let value = if on { self.s(index) + self.dt_s } else { 0.0 };
        self.set(index, value);
        value
    }
}
