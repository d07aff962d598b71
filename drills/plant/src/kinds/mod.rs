//! The kinds of component: one file each, one line each in [`REGISTRY`]. The order of the registry is part of the
//! result (it is the order in which unlike components act), so it is an explicit list.

#[macro_use]
pub mod declare;

pub mod electric;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod electric_rigs;
pub mod breaker;
pub mod bus_transfer;
pub mod control_supply;
pub mod generator;
pub mod generator_breaker;
pub mod load;
pub mod motor;
pub mod shore_supply;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(crate) mod testkit;
pub mod transformer;
pub mod air_receiver;
pub mod air_valve;
pub mod auto_control;
pub mod centrifugal_pump;
pub mod changeover_cock;
pub mod charge_air_cooler;
pub mod compressor;
pub mod cooler;
pub mod diesel_engine;
pub mod drive;
pub mod duplex_filter;
pub mod engine_controls;
pub mod fan;
pub mod gauge;
pub mod gear_pump;
pub mod heater;
pub mod opening;
pub mod pipe;
pub mod quick_closing_valve;
pub mod radiator;
pub mod relief_valve;
pub mod return_valve;
pub mod room;
pub mod sea_chest;
pub mod standby_control;
pub mod start_battery;
pub mod strainer;
pub mod tank;
pub mod thermostat;
pub mod valve;

use crate::kind::KindDef;

/// Every kind.
pub static REGISTRY: &[&KindDef] = &[
    &valve::KIND,
    &shore_supply::KIND,
    &generator::KIND,
    &generator_breaker::KIND,
    &breaker::KIND,
    &transformer::KIND,
    &bus_transfer::KIND,
    &control_supply::KIND,
    &load::KIND,
    &motor::KIND,
    &sea_chest::KIND,
    &opening::KIND,
    &tank::KIND,
    &pipe::KIND,
    &strainer::KIND,
    &quick_closing_valve::KIND,
    &changeover_cock::KIND,
    &duplex_filter::KIND,
    &relief_valve::KIND,
    &centrifugal_pump::KIND,
    &gear_pump::KIND,
    &cooler::KIND,
    &thermostat::KIND,
    &return_valve::KIND,
    &heater::KIND,
    &air_receiver::KIND,
    &air_valve::KIND,
    &compressor::KIND,
    &auto_control::KIND,
    &engine_controls::KIND,
    &diesel_engine::KIND,
    &charge_air_cooler::KIND,
    &start_battery::KIND,
    &standby_control::KIND,
    &radiator::KIND,
    &fan::KIND,
    &room::KIND,
    &gauge::KIND,
    &drive::KIND,
];

/// The kinds that a ship uses, in the order of the registry (kinds made for tests come last, in order of name).
pub(crate) fn in_order(spec: &crate::spec::ShipSpec) -> Vec<&'static KindDef> {
    let mut used: Vec<&'static KindDef> = Vec::new();
    for component in &spec.components {
        if !used.iter().any(|kind| std::ptr::eq(*kind, component.kind)) {
            used.push(component.kind);
        }
    }
    let place = |kind: &KindDef| REGISTRY.iter().position(|k| std::ptr::eq(*k, kind)).unwrap_or(usize::MAX);
    used.sort_by_key(|kind| (place(kind), kind.name));
    used
}

/// A kind by its name.
pub fn find(name: &str) -> Option<&'static KindDef> {
    REGISTRY.iter().find(|kind| kind.name == name).copied()
}
