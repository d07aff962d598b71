//! The digest of a plant's whole state, and the state as bytes for checkpoints.
//!
//! Both walk the same list of arrays in the same order, so nothing can be in one and not in the other.

use crate::plant::{FaultCourse, Plant};

/// A checkpoint that does not fit the plant it is loaded into.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the checkpoint holds {found} bytes, this plant needs {expected}")]
pub struct CheckpointMismatch {
    /// Bytes the plant needs.
    pub expected: usize,
    /// Bytes found.
    pub found: usize,
}

impl Plant {
    /// Every number that the next step depends on.
    fn visit(&mut self, mut each: impl FnMut(&mut f64)) {
        let nets = &mut self.nets;
        let arrays: [&mut Vec<f64>; 31] = [
            &mut self.state,
            &mut self.faults,
            &mut self.needs,
            &mut self.being_read,
            &mut self.published,
            &mut self.alert_timer_s,
            &mut self.alert_gate_s,
            &mut nets.liquid.pressure_pa,
            &mut nets.liquid.flow_m3_s,
            &mut nets.liquid.wet,
            &mut nets.liquid.lift_pa,
            &mut nets.blend.heavy_share,
            &mut nets.swell.source_m3_s,
            &mut nets.blend.moved_m3,
            &mut nets.heat.temperature_k,
            &mut nets.heat.capacity_j_k,
            &mut nets.heat.heat_w,
            &mut nets.air.mass_kg,
            &mut nets.air.temperature_k,
            &mut nets.air.flow_kg_s,
            &mut nets.air.source_temperature_k,
            &mut nets.shaft.speed_rad_s,
            &mut nets.shaft.quadratic_nm_s2,
            &mut nets.shaft.inertia_kg_m2,
            &mut nets.ac.frequency_hz,
            &mut nets.dc_v,
            &mut nets.dc_draw_a,
            &mut nets.space.temperature_k,
            &mut nets.space.supply_m3_s,
            &mut nets.space.extract_m3_s,
            &mut nets.space.breath_share,
        ];
        for array in arrays {
            array.iter_mut().for_each(&mut each);
        }
        for FaultCourse { severity, target, rate_per_s, period_ticks, present_ticks, phase_ticks } in
            &mut self.courses
        {
            for number in [severity, target, rate_per_s, period_ticks, present_ticks, phase_ticks] {
                each(number);
            }
        }
        for on in &mut self.alert_on {
            let mut number = f64::from(u8::from(*on));
            each(&mut number);
            *on = number > 0.5;
        }
        for branch in &mut nets.liquid.branches {
            each(&mut branch.heat_w);
        }
        for i in 0..nets.ac.voltage.len() {
            each(&mut nets.ac.voltage[i].re);
            each(&mut nets.ac.voltage[i].im);
        }
        for i in 0..nets.ac.branches.len() {
            each(&mut nets.ac.branch_current[i].re);
            each(&mut nets.ac.branch_current[i].im);
            let mut closed = f64::from(u8::from(nets.ac.branches[i].closed));
            each(&mut closed);
            nets.ac.branches[i].closed = closed > 0.5;
        }
        self.last_acts.visit(&mut each);
        each(&mut self.outside.air_temperature_k);
        each(&mut self.outside.sea_temperature_k);
        each(&mut self.outside.draught_m);
        each(&mut self.outside.air_pressure_pa);
    }

    /// The state as bytes, little-endian, beginning with the tick. Requests that wait for the next tick are state as well.
    pub fn checkpoint(&self) -> Vec<u8> {
        let mut copy = self.clone();
        let mut bytes = Vec::with_capacity(8 * (copy.state.len() + copy.being_read.len()) * 2);
        bytes.extend_from_slice(&self.tick.to_le_bytes());
        copy.visit(|number| bytes.extend_from_slice(&(*number + 0.0).to_bits().to_le_bytes()));
        bytes.extend_from_slice(&(self.outbox.requests.len() as u64).to_le_bytes());
        for request in &self.outbox.requests {
            for index in [request.from, request.to, request.act] {
                bytes.extend_from_slice(&(index as u64).to_le_bytes());
            }
            bytes.extend_from_slice(&request.value.to_bits().to_le_bytes());
        }
        bytes
    }

    /// Loads what [`Plant::checkpoint`] wrote for the same ship.
    pub fn restore(&mut self, bytes: &[u8]) -> Result<(), CheckpointMismatch> {
        let mut copy = self.clone();
        let mut count = 0;
        copy.visit(|_| count += 1);
        let fixed = 8 * (count + 2);
        let mismatch = CheckpointMismatch { expected: fixed, found: bytes.len() };
        let word = |at: usize| {
            let slice = bytes.get(at..at + 8).ok_or(mismatch)?;
            let mut word = [0; 8];
            word.copy_from_slice(slice);
            Ok(u64::from_le_bytes(word))
        };
        if bytes.len() < fixed {
            return Err(mismatch);
        }
        copy.tick = word(0)?;
        let requests = word(fixed - 8)? as usize;
        if requests > 10_000 || bytes.len() != fixed + 32 * requests {
            return Err(mismatch);
        }
        let mut at = 8;
        copy.visit(|number| {
            // The length was checked above, so every read succeeds.
            *number = f64::from_bits(word(at).unwrap_or(0));
            at += 8;
        });
        // Those that rest leave this list in the next step.
        copy.courses_under_way = (0..copy.courses.len()).collect();
        copy.outbox.requests.clear();
        for i in 0..requests {
            let base = fixed + 32 * i;
            copy.outbox.requests.push(crate::ctx::Request {
                from: word(base)? as usize,
                to: word(base + 8)? as usize,
                act: word(base + 16)? as usize,
                value: f64::from_bits(word(base + 24)?),
            });
        }
        copy.nets.air.refresh();
        copy.nets.refresh();
        copy.set_depths();
        copy.nets.ac.touch();
        *self = copy;
        Ok(())
    }

    /// 16 hex digits that stand for the whole state: BLAKE3 of the checkpoint, cut to 64 bits.
    pub fn digest(&self) -> String {
        let hash = blake3::hash(&self.checkpoint());
        hash.as_bytes()[..8].iter().map(|byte| format!("{byte:02x}")).collect()
    }
}
