//! One branch: the law between its pressure difference and its flow.

/// Pressure difference below which the square-root law is rounded, Pa.
pub const SMOOTH_PA: f64 = 200.0;
/// What a shut valve or a non-return valve lets through, m3/(s Pa): 0.04 L/h at 1 bar.
pub(super) const LEAK_M3_S_PA: f64 = 1e-13;

/// One branch.
#[derive(Clone, Copy, Debug)]
pub struct LiquidBranch {
    /// Node where positive flow enters.
    pub from: usize,
    /// Node where positive flow leaves.
    pub to: usize,
    /// Pressure added in the direction of positive flow, Pa.
    pub head_pa: f64,
    /// Laminar resistance, Pa s/m3.
    pub laminar_pa_s_m3: f64,
    /// Turbulent resistance, Pa s2/m6.
    pub turbulent_pa_s2_m6: f64,
    /// Shut: only the leak passes.
    pub shut: bool,
    /// A non-return valve: no flow from `to` to `from`.
    pub one_way: bool,
    /// Rise of pressure over the branch above which part of its flow turns back before the non-return valve (relief
    /// valve of a pump), Pa; and what that takes more for each m3/s, Pa s/m3.
    pub relief_pa: f64,
    /// See `relief_pa`.
    pub relief_pa_s_m3: f64,
    /// Heat taken up by the stream on its way, W (set by kinds in the heat phase).
    pub heat_w: f64,
}

impl LiquidBranch {
    pub(super) fn new(from: usize, to: usize) -> Self {
        LiquidBranch {
            from,
            to,
            head_pa: 0.0,
            laminar_pa_s_m3: 0.0,
            turbulent_pa_s2_m6: 1.0,
            shut: true,
            one_way: false,
            relief_pa: f64::INFINITY,
            relief_pa_s_m3: 1.0,
            heat_w: 0.0,
        }
    }

    /// Sets the branch to a flow coefficient (m3/s at 1 bar and 1000 kg/m3) for a liquid of this density; a
    /// coefficient of a millionth and less is a shut valve.
    pub fn set_kv(&mut self, kv_m3_s: f64, density_kg_m3: f64) {
        self.head_pa = 0.0;
        self.laminar_pa_s_m3 = 0.0;
        self.shut = kv_m3_s < 1e-8;
        self.turbulent_pa_s2_m6 =
            if self.shut { 1.0 } else { 1e5 * density_kg_m3 / 1000.0 / (kv_m3_s * kv_m3_s) };
    }

    /// Flow and its slope at this driving pressure.
    fn law(&self, driving_pa: f64) -> (f64, f64) {
        let d = driving_pa + self.head_pa;
        if self.shut || (self.one_way && d < 0.0) {
            return (LEAK_M3_S_PA * d, LEAK_M3_S_PA);
        }
        let smooth = f64::sqrt(d * d + SMOOTH_PA * SMOOTH_PA);
        let s =
            f64::sqrt(self.laminar_pa_s_m3 * self.laminar_pa_s_m3 + 4.0 * self.turbulent_pa_s2_m6 * smooth);
        let per_pa = 2.0 / (self.laminar_pa_s_m3 + s);
        let q = d * per_pa;
        let slope = per_pa - q * q * self.turbulent_pa_s2_m6 / (smooth * s);
        let over_pa = -driving_pa - self.relief_pa;
        if over_pa <= 0.0 {
            return (q, slope.max(LEAK_M3_S_PA));
        }
        let (left, slope) = (q - over_pa / self.relief_pa_s_m3, slope + 1.0 / self.relief_pa_s_m3);
        if self.one_way && left < 0.0 {
            // All of it turns back; the non-return valve holds what is behind it.
            return (LEAK_M3_S_PA * left / slope, LEAK_M3_S_PA);
        }
        (left, slope)
    }

    /// Is its law the same as that of another, to the bit?
    fn has_law_of(&self, other: &LiquidBranch) -> bool {
        let same = |a: f64, b: f64| a.to_bits() == b.to_bits();
        same(self.head_pa, other.head_pa)
            && same(self.laminar_pa_s_m3, other.laminar_pa_s_m3)
            && same(self.turbulent_pa_s2_m6, other.turbulent_pa_s2_m6)
            && same(self.relief_pa, other.relief_pa)
            && same(self.relief_pa_s_m3, other.relief_pa_s_m3)
            && self.shut == other.shut
            && self.one_way == other.one_way
    }
}

/// Flow of a branch by its law as last worked out, and for what: most branches begin a tick as they ended the last.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flow {
    pub(super) flow_m3_s: f64,
    pub(super) slope_m3_s_pa: f64,
    driving_pa: f64,
    of: LiquidBranch,
}

impl Flow {
    pub(super) fn at_rest(branch: &LiquidBranch) -> Flow {
        let (flow_m3_s, slope_m3_s_pa) = branch.law(0.0);
        Flow { flow_m3_s, slope_m3_s_pa, driving_pa: 0.0, of: *branch }
    }

    /// What of it the node that it comes from has left to give, with its slope.
    pub(super) fn left(&self, left_share: &[f64], branch: &LiquidBranch) -> (f64, f64) {
        let left = left_share[if self.flow_m3_s > 0.0 { branch.from } else { branch.to }];
        (self.flow_m3_s * left, (self.slope_m3_s_pa * left).max(LEAK_M3_S_PA))
    }

    /// Follows a branch whose law may have changed as well as its driving pressure.
    pub(super) fn follow(&mut self, branch: &LiquidBranch, driving_pa: f64) {
        let same_law = self.of.has_law_of(branch);
        if !same_law {
            self.of = *branch;
        }
        if !same_law || self.driving_pa.to_bits() != driving_pa.to_bits() {
            self.follow_pressure(driving_pa);
        }
    }

    /// Follows a driving pressure that has changed, the law being what it was.
    pub(super) fn follow_pressure(&mut self, driving_pa: f64) {
        self.driving_pa = driving_pa;
        (self.flow_m3_s, self.slope_m3_s_pa) = self.of.law(driving_pa);
    }
}
