//! What drives a generator, as the automation of its set sees it: an engine with its controls, a steam turbine, or a
//! shaft that something else turns.

use super::{diesel_engine as engine, engine_controls as controls, generator, steam_turbine as turbine};
use crate::ctx::{Ctx, View};
use crate::kind::{Act, Block};

/// Links that it goes by; one that is not given is not there.
pub struct PrimeMover {
    /// Link to the controls of an engine.
    pub controls: usize,
    /// Link to the engine, for its governor.
    pub engine: usize,
    /// Link to a steam turbine.
    pub turbine: usize,
    /// Link to the generator.
    pub generator: usize,
}

/// A machine without controls of its own runs when it has this share of nominal frequency.
const SPEED_SHARE: f64 = 0.9;

impl PrimeMover {
    /// Can it be started and stopped?
    pub fn can_be_started(&self, ctx: &Ctx<'_>) -> bool {
        ctx.has_link(self.controls) || ctx.has_link(self.turbine)
    }

    /// Can its governor be trimmed?
    pub fn can_be_trimmed(&self, ctx: &Ctx<'_>) -> bool {
        ctx.has_link(self.engine) || ctx.has_link(self.turbine)
    }

    /// Does it run at speed?
    pub fn runs(&self, ctx: &Ctx<'_>, nominal_hz: f64) -> bool {
        if ctx.has_link(self.controls) {
            ctx.linked(self.controls, controls::R_RUNNING) > 0.5
        } else if ctx.has_link(self.turbine) {
            ctx.linked(self.turbine, turbine::R_RUNNING) > 0.5
        } else {
            ctx.linked(self.generator, generator::R_FREQUENCY) > SPEED_SHARE * nominal_hz
        }
    }

    /// Does a shutdown or trip stand?
    pub fn is_tripped(&self, ctx: &Ctx<'_>) -> bool {
        if ctx.has_link(self.controls) {
            ctx.linked(self.controls, controls::R_SHUTDOWN) > 0.5
        } else {
            ctx.has_link(self.turbine) && ctx.linked(self.turbine, turbine::R_TRIPPED) > 0.5
        }
    }

    /// Runs, or nothing stands in the way of a start from afar.
    pub fn is_ready(&self, ctx: &Ctx<'_>, nominal_hz: f64) -> bool {
        let runs = self.runs(ctx, nominal_hz);
        if self.is_tripped(ctx) {
            false
        } else if ctx.has_link(self.controls) {
            ctx.linked(self.controls, controls::R_POSITION) > 0.5
                && (runs || ctx.linked(self.controls, controls::R_BLOCKED) < 0.5)
        } else if ctx.has_link(self.turbine) {
            runs || ctx.linked(self.turbine, turbine::R_READY) > 0.5
        } else {
            runs
        }
    }

    /// What keeps it from being started by itself later.
    pub fn blocks(&self, view: &View<'_>, blocks: &mut Vec<Block>) {
        if view.has_link(self.controls) {
            controls::standby_blocks(&view.from_linked(self.controls), blocks);
        } else if view.has_link(self.turbine) && view.linked(self.turbine, turbine::R_RUNNING) < 0.5 {
            let start = Act { index: turbine::START, value: 0.0, remote: true };
            if let Some(permit) = turbine::KIND.hooks.permit {
                permit(&view.from_linked(self.turbine), start, blocks);
            }
        }
    }

    /// Orders the start.
    pub fn start(&self, ctx: &mut Ctx<'_>) {
        if ctx.has_link(self.controls) {
            ctx.request(self.controls, controls::START, 0.0);
        } else {
            ctx.request(self.turbine, turbine::START, 0.0);
        }
    }

    /// Orders the stop.
    pub fn stop(&self, ctx: &mut Ctx<'_>) {
        if ctx.has_link(self.controls) {
            ctx.request(self.controls, controls::STOP, 0.0);
        } else {
            ctx.request(self.turbine, turbine::STOP, 0.0);
        }
    }

    /// Moves the governor's set point by this share of rated speed; nothing where there is no governor to move.
    pub fn trim(&self, ctx: &mut Ctx<'_>, share: f64) {
        if ctx.has_link(self.engine) {
            ctx.request(self.engine, engine::TRIM, share);
        } else {
            ctx.request(self.turbine, turbine::TRIM, share);
        }
    }
}
