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

/// Walther line (intercept, slope) of marine diesel oil: 3.5 mm2/s at 40 degC, 1.35 at 100 degC (typical, from memory; the
/// form is good above 2 mm2/s, below it to some percent).
const DIESEL: (f64, f64) = (9.657_223_679_661_541, -3.951_738_891_877_748_7);
/// The same of heavy fuel: 380 mm2/s at 50 degC, 35 at 100 degC (typical, from memory).
const HEAVY: (f64, f64) = (9.273_419_583_698_066, -3.531_396_780_482_136);

/// Diesel oil at 40 degC, where filters and gear pumps for fuel have their rated values, m2/s.
pub const WARM_DIESEL_M2_S: f64 = 3.5e-6;

/// Fuel of which this share (by volume) is heavy fuel, m2/s: the double logarithms of both mix in proportion to volume
/// (viscosity blending of ASTM D7152, from memory).
pub fn fuel_viscosity_m2_s(t_k: f64, heavy_share: f64) -> f64 {
    let between = |diesel: f64, heavy: f64| diesel + (heavy - diesel) * heavy_share;
    let (a, b) = (between(DIESEL.0, HEAVY.0), between(DIESEL.1, HEAVY.1));
    let w = a + b * libm::log10(t_k.clamp(233.15, 473.15));
    let nu = libm::pow(10.0, libm::pow(10.0, w)) - 0.7;
    nu.clamp(0.5, 5e4) * 1e-6
}

/// Temperature at which such a fuel has this viscosity, K: the same line read the other way.
pub fn fuel_temperature_k(viscosity_m2_s: f64, heavy_share: f64) -> f64 {
    let between = |diesel: f64, heavy: f64| diesel + (heavy - diesel) * heavy_share;
    let (a, b) = (between(DIESEL.0, HEAVY.0), between(DIESEL.1, HEAVY.1));
    let w = libm::log10(libm::log10((viscosity_m2_s * 1e6).clamp(0.5, 5e4) + 0.7));
    libm::pow(10.0, (w - a) / b)
}

/// Density of the same, kg/m3: 850 and 985 at 15 degC, expanding by API MPMS 11.1 (from memory) taken linear.
pub fn fuel_density_kg_m3(t_k: f64, heavy_share: f64) -> f64 {
    let over_15_k = t_k - ZERO_C_K - 15.0;
    let (diesel, heavy) = (850.0 - 0.706 * over_15_k, 985.0 - 0.676 * over_15_k);
    diesel + (heavy - diesel) * heavy_share
}

/// Lower calorific value of heavy fuel over that of diesel oil: 40.5 over 42.7 MJ/kg (form of ISO 8217, from memory).
const HEAVY_HEAT: f64 = 40.5 / 42.7;

/// Lower calorific value of the same by mass, J/kg, from that of diesel oil.
pub fn fuel_heat_j_kg(diesel_j_kg: f64, heavy_share: f64) -> f64 {
    let by_mass = heavy_share * 985.0 / (850.0 + (985.0 - 850.0) * heavy_share);
    diesel_j_kg * (1.0 + (HEAVY_HEAT - 1.0) * by_mass)
}

/// Density of fresh water, kg/m3 (fit to IAPWS-IF97 at 3 bar, 0 to 110 degC, within 0.03 %).
pub fn fresh_water_density_kg_m3(t_k: f64) -> f64 {
    let t = (t_k - ZERO_C_K).clamp(0.0, 110.0);
    1000.2231 + t * (0.0038849562 + t * (-0.0055408821 + t * 1.3215331e-5))
}

/// Kinematic viscosity of fresh water, m2/s (fit to the IAPWS formulation of 2008, 0 to 110 degC, within 0.4 %).
pub fn fresh_water_viscosity_m2_s(t_k: f64) -> f64 {
    let t = (t_k - ZERO_C_K).clamp(0.0, 110.0);
    let log = -6.3281947 + t * (-0.033700747 + t * (2.7350353e-4 + t * (-1.7098065e-6 + t * 4.9728904e-9)));
    libm::exp(log) / fresh_water_density_kg_m3(t_k)
}

/// Kinematic viscosity of sea water of 35 g/kg, m2/s (fit to the MIT seawater library, 0 to 40 degC, within 0.2 %).
pub fn sea_water_viscosity_m2_s(t_k: f64) -> f64 {
    let t = (t_k - ZERO_C_K).clamp(0.0, 60.0);
    libm::exp(-6.2735561 + t * (-0.030722653 + t * 1.5489869e-4)) / sea_water_density_kg_m3(t_k)
}

/// Pressure at which water vapour is saturated, Pa (Antoine's equation, 0 to 110 degC, within 0.9 % of IAPWS-IF97).
pub fn saturation_pa(t_k: f64) -> f64 {
    let t = (t_k - ZERO_C_K).clamp(-20.0, 110.0);
    133.322 * libm::pow(10.0, 8.07131 - 1730.63 / (233.426 + t))
}

/// Water in air of this relative humidity, kg for each kg of dry air (ASHRAE, from memory).
pub fn humidity_kg_kg(t_k: f64, relative: f64, pressure_pa: f64) -> f64 {
    let vapour_pa = (relative * saturation_pa(t_k)).min(0.5 * pressure_pa);
    0.62198 * vapour_pa / (pressure_pa - vapour_pa)
}

/// Density of sea water of 35 g/kg, kg/m3 (fit to TEOS-10, 0 to 40 degC, within 0.01 %; held beyond).
pub fn sea_water_density_kg_m3(t_k: f64) -> f64 {
    let t = (t_k - ZERO_C_K).clamp(0.0, 60.0);
    1028.1977 + t * (-0.085326732 - t * 0.0043060936)
}

/// Density of SAE 40 lubricating oil, kg/m3: 895 at 15 degC less 0.65 a kelvin (typical, from memory).
pub fn lube_oil_density_kg_m3(t_k: f64) -> f64 {
    895.0 - 0.65 * (t_k - ZERO_C_K - 15.0)
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
    // Most lags are long against a step: the series of 1 - exp(-x), to the last bits below a tenth and much faster,
    // without divisions.
    const OVER: [f64; 6] = [1.0 / 2.0, 1.0 / 3.0, 1.0 / 4.0, 1.0 / 5.0, 1.0 / 6.0, 1.0 / 7.0];
    x * OVER.iter().rev().fold(1.0, |rest, over| 1.0 - x * over * rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against `viscosity_d341.csv` (own analytic code of ASTM D341; anchors from memory), and the fit of that table:
    /// heavy fuel has 13.5 mm2/s at 133 degC (particulars of the default ship).
    #[test]
    fn fuels_pass_their_anchors_and_mix_between_them() {
        let at = |celsius: f64, heavy: f64| fuel_viscosity_m2_s(celsius + ZERO_C_K, heavy) * 1e6;
        for (celsius, heavy, expected) in [
            (40.0, 0.0, 3.5),
            (100.0, 0.0, 1.35),
            (20.0, 0.0, 5.7411),
            (50.0, 1.0, 380.0),
            (100.0, 1.0, 35.0),
        ] {
            assert!((at(celsius, heavy) / expected - 1.0).abs() < 1e-4, "{celsius} {heavy}");
        }
        assert!((at(130.0, 1.0) / 14.492668 - 1.0).abs() < 1e-4);
        assert!((at(133.0, 1.0) / 13.5 - 1.0).abs() < 0.01);
        // Half and half is far nearer to the thin one: what a mixing rule for viscosity is for.
        assert!((10.0..40.0).contains(&at(50.0, 0.5)), "{}", at(50.0, 0.5));
        assert!((fuel_heat_j_kg(4.27e7, 1.0) / 4.05e7 - 1.0).abs() < 1e-9);
    }

    /// reference/moist_air.csv (ASHRAE RP-1485, CoolProp 8.0.0); Antoine's equation is good to 1 %.
    #[test]
    fn moist_air_holds_what_the_reference_says() {
        let text = include_str!("../../data/rigs/reference/moist_air.csv");
        let mut seen = 0;
        for line in text.lines().skip(2) {
            let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap_or(f64::NAN)).collect();
            let (celsius, relative, pressure_pa, expected) = (cells[0], cells[1], cells[2], cells[3]);
            let got = humidity_kg_kg(celsius + ZERO_C_K, relative, pressure_pa);
            // Beside pure water the reference knows what real air adds: half a percent at 1 bar, more at 4.
            assert!((got / expected - 1.0).abs() < 0.025, "{line}: {got}");
            seen += 1;
        }
        assert!(seen > 10);
    }

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
