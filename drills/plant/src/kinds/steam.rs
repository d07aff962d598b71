//! Properties of steam that the steam kinds share.

use crate::fluid::ZERO_C_K;

/// Specific heat of condensate, J/(kg K), near 40 degC (IAPWS-IF97).
pub const CONDENSATE_J_KG_K: f64 = 4184.0;
/// Gas constant of steam, J/(kg K) (IAPWS-IF97).
pub const R_STEAM: f64 = 461.526;

/// Coefficients of the saturation line, IAPWS-IF97 region 4 (release of 2007, table 34).
const N: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// Saturation pressure, Pa absolute; held between 0 and 350 degC.
pub fn saturation_pa(t_k: f64) -> f64 {
    let t = t_k.clamp(ZERO_C_K, 623.15);
    let x = t + N[8] / (t - N[9]);
    let a = x * x + N[0] * x + N[1];
    let b = N[2] * x * x + N[3] * x + N[4];
    let c = N[5] * x * x + N[6] * x + N[7];
    let root = 2.0 * c / (-b + f64::sqrt((b * b - 4.0 * a * c).max(0.0)));
    1e6 * root * root * root * root
}

/// Saturation temperature, K; held between 611 Pa and 165 bar absolute.
pub fn saturation_k(pressure_pa: f64) -> f64 {
    let beta = f64::sqrt(f64::sqrt(pressure_pa.clamp(611.213, 165e5) / 1e6));
    let e = beta * beta + N[2] * beta + N[5];
    let f = N[0] * beta * beta + N[3] * beta + N[6];
    let g = N[1] * beta * beta + N[4] * beta + N[7];
    let d = 2.0 * g / (-f - f64::sqrt((f * f - 4.0 * e * g).max(0.0)));
    let sum = N[9] + d;
    0.5 * (sum - f64::sqrt((sum * sum - 4.0 * (N[8] + N[9] * d)).max(0.0)))
}

/// Enthalpy of superheated steam, J/kg: a fit of ours to IAPWS-IF97 (iapws 1.5.5) from 2 to 11 bar absolute and up to
/// 300 degC, within 2.9 kJ/kg.
pub fn enthalpy_j_kg(pressure_pa: f64, t_k: f64) -> f64 {
    let bar = pressure_pa * 1e-5;
    1.788_978e6 + 2649.102 * t_k - 0.711_937 * t_k * t_k - 4564.22 * bar + 35.2524 * bar * (t_k - 500.0)
}

/// Entropy of superheated steam, J/(kg K): the same, within 6 J/(kg K).
pub fn entropy_j_kg_k(pressure_pa: f64, t_k: f64) -> f64 {
    let bar = (pressure_pa * 1e-5).max(1e-3);
    -8563.081 + 2797.674 * libm::log(t_k) - 1.732_630 * t_k - R_STEAM * libm::log(bar) - 7.271_566 * bar
        + 0.072_002_6 * bar * (t_k - 500.0)
}

/// Enthalpy of boiling water, J/kg.
pub fn condensate_j_kg(t_k: f64) -> f64 {
    CONDENSATE_J_KG_K * (t_k - ZERO_C_K)
}

/// Isentropic drop of enthalpy into wet steam, J/kg: `h1 - hf - T2 (s1 - sf)`; never negative.
pub fn isentropic_drop_j_kg(pressure_pa: f64, t_k: f64, exhaust_pa: f64) -> f64 {
    let t2 = saturation_k(exhaust_pa);
    let boiling_j_kg_k = 4186.0 * libm::log(t2 / ZERO_C_K);
    let wet = t2 * (entropy_j_kg_k(pressure_pa, t_k) - boiling_j_kg_k);
    (enthalpy_j_kg(pressure_pa, t_k) - condensate_j_kg(t2) - wet).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Verification values of IAPWS-IF97, tables 35 and 36 (release of 2007).
    #[test]
    fn saturation_line_of_iapws() {
        let pairs = [(300.0, 0.353_658_941e-2), (500.0, 0.263_889_776e1), (600.0, 0.123_443_146e2)];
        for (t_k, mpa) in pairs {
            assert!((saturation_pa(t_k) / (mpa * 1e6) - 1.0).abs() < 1e-8, "{t_k} K");
        }
        let pairs = [(0.1, 372.755_919), (1.0, 453.035_632), (10.0, 584.149_488)];
        for (mpa, t_k) in pairs {
            assert!((saturation_k(mpa * 1e6) - t_k).abs() < 1e-5, "{mpa} MPa");
        }
    }

    /// Isentropic drop by iapws 1.5.5 (IAPWS-IF97): header gauge bar, degC, bar of vacuum, kJ/kg.
    #[test]
    fn isentropic_drop_of_iapws() {
        let cases = [
            (7.0, 270.0, 0.93, 760.67),
            (6.0, 270.0, 0.93, 743.01),
            (4.0, 250.0, 0.93, 680.65),
            (7.0, 270.0, 0.80, 638.01),
            (7.0, 200.0, 0.93, 702.63),
            (8.0, 280.0, 0.93, 785.13),
        ];
        for (bar, t_c, vacuum_bar, kj_kg) in cases {
            let drop =
                isentropic_drop_j_kg(bar * 1e5 + 101_325.0, t_c + ZERO_C_K, 101_325.0 - vacuum_bar * 1e5);
            let error = drop / (kj_kg * 1e3) - 1.0;
            println!("{bar} bar, {t_c} degC, {vacuum_bar} bar vacuum: {:.3} %", 100.0 * error);
            assert!(error.abs() < 0.01, "{bar} bar: {drop} for {kj_kg} kJ/kg");
        }
    }
}
