//! Properties that change much with temperature.

/// 0 degC in K.
pub const ZERO_C_K: f64 = 273.15;
/// Gravity, m/s2 (ISO 80000-3).
pub const GRAVITY: f64 = 9.80665;

/// Kinematic viscosity by the Walther equation of ASTM D341 from two anchors (temperature K, viscosity m2/s), in
/// m2/s: `log10 log10(nu + 0.7) = A - B log10 T` with nu in mm2/s. Held between 0.5 and 50,000 mm2/s.
pub fn walther_m2_s(t_k: f64, a: (f64, f64), b: (f64, f64)) -> f64 {
    let double_log = |nu_m2_s: f64| libm::log10(libm::log10(nu_m2_s * 1e6 + 0.7));
    let (la, lb) = (libm::log10(a.0), libm::log10(b.0));
    let slope = (double_log(b.1) - double_log(a.1)) / (lb - la);
    let w = double_log(a.1) + slope * (libm::log10(t_k.clamp(233.15, 473.15)) - la);
    let nu = libm::pow(10.0, libm::pow(10.0, w)) - 0.7;
    nu.clamp(0.5, 5e4) * 1e-6
}

/// SAE 40 lubricating oil at 65 degC, where resistances and friction have their rated values, m2/s.
pub const WARM_OIL_M2_S: f64 = 4.500_352_941_404_621e-5;

/// Slope of its double logarithm with the logarithm of temperature, and the intercept, by the Walther equation
/// through the two anchors below.
const OIL_SLOPE: f64 = -3.449_168_847_336_120_6;
const OIL_INTERCEPT: f64 = 8.943_420_264_062_627;

/// SAE 40 lubricating oil: 145 mm2/s at 40 degC, 14.5 at 100 degC (typical, from memory), m2/s.
pub fn lube_oil_viscosity_m2_s(t_k: f64) -> f64 {
    let w = OIL_INTERCEPT + OIL_SLOPE * libm::log10(t_k.clamp(233.15, 473.15));
    let nu = libm::pow(10.0, libm::pow(10.0, w)) - 0.7;
    nu.clamp(0.5, 5e4) * 1e-6
}

/// Exact first-order lag over one step: the share of the difference that is made up in `dt_s`.
pub fn lag(dt_s: f64, tau_s: f64) -> f64 {
    if tau_s <= 0.0 {
        return 1.0;
    }
    let x = dt_s / tau_s;
    if x > 0.1 {
        return -libm::expm1(-x);
    }
    // Most lags are long against a step: the series of 1 - exp(-x), to the last bit below a tenth and much faster.
    x * (1.0
        - x / 2.0 * (1.0 - x / 3.0 * (1.0 - x / 4.0 * (1.0 - x / 5.0 * (1.0 - x / 6.0 * (1.0 - x / 7.0))))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_of_a_lag_is_the_lag() {
        for x in [1e-9, 1e-4, 0.01, 0.05, 0.0999] {
            let exact = -libm::expm1(-x);
            assert!((lag(x, 1.0) / exact - 1.0).abs() < 1e-11, "{x}");
        }
    }

    /// Against `viscosity_d341.csv` (own analytic code of ASTM D341; anchors from memory).
    #[test]
    fn walther_passes_its_anchors() {
        assert!((lube_oil_viscosity_m2_s(313.15) - 145e-6).abs() < 1e-9);
        assert!((lube_oil_viscosity_m2_s(373.15) - 14.5e-6).abs() < 1e-10);
        assert!((lube_oil_viscosity_m2_s(338.15) / WARM_OIL_M2_S - 1.0).abs() < 1e-9);
        for t_k in [253.15, 293.15, 338.15, 403.15] {
            let exact = walther_m2_s(t_k, (313.15, 145e-6), (373.15, 14.5e-6));
            assert!((lube_oil_viscosity_m2_s(t_k) / exact - 1.0).abs() < 1e-9, "{t_k}");
        }
    }
}
