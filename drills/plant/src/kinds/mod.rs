//! The kinds of component: one file each, one line each in the registry below.

#[macro_use]
pub mod declare;
pub mod electric;
pub mod harm;
pub(crate) mod prime_mover;
pub mod steam;
pub(crate) mod synchroniser;
pub(crate) mod trapped_air;

pub mod by_load;
pub(crate) mod cylinders;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod electric_rigs;
pub(crate) mod engine_words;
pub(crate) mod rack;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
pub(crate) mod testkit;

use crate::kind::KindDef;

/// Declares the module of each kind and lists it in [`REGISTRY`].
macro_rules! registry {
    ($($kind:ident,)*) => {
        $(pub mod $kind;)*

        /// Every kind, in the order in which unlike components act.
        pub static REGISTRY: &[&KindDef] = &[$(&$kind::KIND,)*];
    };
}

// The order is part of the result: it is the order in which unlike components act within a phase. `bilge_well` comes
// after everything that leaks; `room` comes after everything that warms it; `gear` comes after everything that puts torque on a shaft.
registry! {
    valve,
    shore_supply,
    generator,
    shaft_converter,
    generator_breaker,
    breaker,
    transformer,
    bus_transfer,
    control_supply,
    load,
    motor,
    sea_chest,
    opening,
    tank,
    pipe,
    pipe_run,
    strainer,
    quick_closing_valve,
    changeover_cock,
    duplex_filter,
    relief_valve,
    centrifugal_pump,
    gear_pump,
    cooler,
    thermostat,
    return_valve,
    heater,
    fuel_heater,
    heating_coil,
    air_receiver,
    air_valve,
    air_reducer,
    compressor,
    auto_control,
    engine_controls,
    diesel_engine,
    main_engine,
    charge_air_cooler,
    start_battery,
    standby_control,
    synchronising_panel,
    power_management,
    heavy_consumer,
    preferential_trip,
    pump_pair,
    insulation_monitor,
    radiator,
    fan,
    drive,
    steam_header,
    steam_turbine,
    steam_condenser,
    gear,
    room,
    gauge,
    bilge_well,
}

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
