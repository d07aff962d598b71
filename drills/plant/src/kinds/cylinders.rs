//! Indicator cocks and water in a cylinder, the same for every diesel engine. Not a kind.

use crate::ctx::{Ctx, View};
use crate::kind::{Act, Block};

/// Water that bends a rod, share of what fills a clearance.
const BENDS_AT: f64 = 0.10;
/// Time in which turning with open cocks throws all the water out, s.
const BLOWS_OUT_S: f64 = 3.0;

/// Where a kind keeps what belongs to its cylinders.
pub struct Cylinders {
    /// Port: its shaft.
    pub shaft: usize,
    /// Parameter: rated speed.
    pub rated_speed: usize,
    /// Share of rated speed above which it turns.
    pub turns_above: f64,
    /// State: the cocks are open.
    pub cocks: usize,
    /// State: water on a piston, share of what fills its clearance.
    pub water: usize,
    /// State: severity of the fault that has been answered already.
    pub answered: usize,
    /// State: a rod is bent.
    pub broken: usize,
    /// Fault: water in a cylinder.
    pub slug: usize,
    /// Acts: open and shut the cocks.
    pub acts: (usize, usize),
    /// Findings: the water came out; a rod was bent.
    pub findings: (usize, usize),
}

impl Cylinders {
    fn turns(&self, speed_rad_s: f64, rated_rad_s: f64) -> bool {
        speed_rad_s > self.turns_above * rated_rad_s
    }

    /// Water lies on a piston once for each time the fault comes; turning brings it out, by an open cock or by force.
    pub fn water(&self, ctx: &mut Ctx<'_>) {
        let slug = ctx.fault(self.slug);
        let turning = self.turns(ctx.speed_rad_s(self.shaft), ctx.p(self.rated_speed));
        if slug > ctx.s(self.answered) && !turning {
            let lies = ctx.s(self.water).max(slug);
            ctx.set(self.water, lies);
        }
        ctx.set(self.answered, slug);
        if slug <= 0.0 && ctx.is(self.broken) {
            ctx.set_is(self.broken, false);
            ctx.set(self.water, 0.0);
        }
        if !turning || ctx.s(self.water) <= 0.0 {
            return;
        }
        let (came_out, bent) = self.findings;
        if ctx.is(self.cocks) {
            let left = (ctx.s(self.water) - ctx.dt_s / BLOWS_OUT_S).max(0.0);
            ctx.set(self.water, left);
            if left <= 0.0 {
                ctx.find(came_out, 0.0, 0.0, 0.0);
            }
            return;
        }
        if ctx.s(self.water) >= BENDS_AT {
            ctx.set_is(self.broken, true);
            ctx.find(bent, ctx.speed_rad_s(self.shaft), 0.0, 0.0);
        }
        ctx.set(self.water, 0.0);
    }

    /// What keeps hands from the cocks.
    pub fn block(&self, view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
        let (open, shut) = self.acts;
        if act.index != open && act.index != shut {
            return;
        }
        if self.turns(view.speed_rad_s(self.shaft), view.p(self.rated_speed)) {
            let text = "it turns: not with hands at its cylinders".into();
            blocks.push(Block { code: "still-turning", text });
        }
        let (code, text) = if act.index == open {
            ("already-open", "its indicator cocks are open")
        } else {
            ("already-shut", "its indicator cocks are shut")
        };
        if view.is(self.cocks) == (act.index == open) {
            blocks.push(Block { code, text: text.into() });
        }
    }

    /// What comes out of the cocks: nothing, air, or water.
    pub fn comes_out(&self, ctx: &Ctx<'_>) -> f64 {
        let turning = self.turns(ctx.speed_rad_s(self.shaft), ctx.p(self.rated_speed));
        match (ctx.is(self.cocks) && turning, ctx.s(self.water) > 0.0) {
            (false, _) => 0.0,
            (true, false) => 1.0,
            (true, true) => 2.0,
        }
    }
}
