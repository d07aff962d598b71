//! What pumps, filters and coolers have in common about air that is trapped in them until it is vented.

use crate::ctx::{Ctx, View};
use crate::kind::Block;
use crate::nets::liquid::VAPOUR_PA;

/// What comes at a vent cock.
pub const AT_THE_COCK: &[&str] = &["liquid", "bubbles", "air"];

/// Share of liquid in a line below which it is not full.
const FULL: f64 = 0.9;
/// Pressure against the air at which a line that has run empty is filled with vapour, not with air, Pa: half way.
const VAPOUR_NOT_AIR_PA: f64 = -5e4;
/// Pressure against the air below which an open vent cock draws air in, Pa. A little below nothing, since where a ship
/// gives no heights pressures lie where the line of the pump does.
const COCK_DRAWS_PA: f64 = -1e4;

/// Index into [`AT_THE_COCK`] for this share of trapped air.
pub fn at_the_cock(air: f64) -> f64 {
    if air < 0.05 {
        0.0
    } else if air < 0.5 {
        1.0
    } else {
        2.0
    }
}

macro_rules! lines {
    ($type:ident) => {
        /// Pressure at a port against the air, with the port's depth below the sea where the ship gives it, Pa.
        fn above_air_pa(of: &$type<'_>, port: usize) -> f64 {
            of.pressure_pa(port) - (of.nets.liquid.boils_pa[of.node(port)] - VAPOUR_PA)
        }

        /// Is the line full of liquid that stands higher than a vent cock there?
        pub fn flooded(of: &$type<'_>, port: usize) -> bool {
            let node = of.node(port);
            let (liquid, there_pa) = (&of.nets.liquid, above_air_pa(of, port));
            liquid.wet[node] >= 0.5 && liquid.filled(node) >= FULL && there_pa >= COCK_DRAWS_PA
        }
    };
}

/// For functions that step.
pub mod stepping {
    use super::*;
    lines!(Ctx);

    /// Has the line at a port run empty, with air in place of what is gone? Vapour is gone when pressure comes back.
    pub fn air_has_come(ctx: &Ctx<'_>, port: usize) -> bool {
        ctx.nets.liquid.filled(ctx.node(port)) < FULL && above_air_pa(ctx, port) > VAPOUR_NOT_AIR_PA
    }
}

/// For functions that look.
pub mod looking {
    use super::*;
    lines!(View);
}

/// What stands in the way of venting at this port: liquid has to press the air out.
pub fn permit_vent(view: &View<'_>, port: usize, blocks: &mut Vec<Block>) {
    if !looking::flooded(view, port) {
        blocks.push(Block {
            code: "not-flooded",
            text: "no liquid presses at its vent cock, it would draw air in: fill the line and bring it above the pressure of \
                   the air first (valves before it open, pump stopped)"
                .into(),
        });
    }
}
