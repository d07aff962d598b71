//! What is in service in a plant: live busbars, turning shafts, flowing lines. A course that avoids a trip because the machine
//! never ran has avoided nothing.

use crate::run::Run;
use deadship_plant::kind::Net;

/// Share of nominal voltage from which a busbar is live.
const LIVE: f64 = 0.5;
/// Speed from which a shaft turns, rad/s.
const TURNS_RAD_S: f64 = 5.0;
/// Flow from which a line flows, m3/s: about 0.4 m3/h.
const FLOWS_M3_S: f64 = 1e-4;

/// What is in service.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Service {
    /// By node of the ship: is it live, does it turn? `false` for other nets.
    nodes: Vec<bool>,
    /// By branch of the liquid net: does it flow?
    lines: Vec<bool>,
}

impl Service {
    pub(crate) fn of(run: &Run) -> Service {
        let (nets, compiled) = (run.plant.nets(), &run.setup.compiled);
        let node = |(at, spec): (usize, &deadship_plant::spec::NodeSpec)| {
            let index = compiled.node_index[at];
            match spec.net {
                Net::Ac => nets.ac.volts[index] > LIVE * spec.voltage_v,
                Net::Shaft => nets.shaft.speed_rad_s[index].abs() > TURNS_RAD_S,
                _ => false,
            }
        };
        Service {
            nodes: compiled.spec.nodes.iter().enumerate().map(node).collect(),
            lines: nets.liquid.flow_m3_s.iter().map(|flow| flow.abs() > FLOWS_M3_S).collect(),
        }
    }

    /// Is everything of this sort that is in service here in service in the other as well?
    pub(crate) fn is_kept_in(&self, other: &Service, asked: impl Fn(usize) -> bool) -> bool {
        let pairs = self.nodes.iter().zip(&other.nodes).enumerate();
        pairs.filter(|(node, _)| asked(*node)).all(|(_, (here, there))| *there || !*here)
    }

    /// Does something serve here that does not in the other?
    pub(crate) fn has_more_than(&self, other: &Service) -> bool {
        let more = |(here, there): (&bool, &bool)| *here && !*there;
        self.nodes.iter().zip(&other.nodes).any(more) || self.lines.iter().zip(&other.lines).any(more)
    }
}
