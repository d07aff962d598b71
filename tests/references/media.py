"""Reference tables on properties, flow and heat."""
import math

import fluids
import fluids.control_valve
import gsw
import ht
import iapws
import scipy.special
from chemicals import viscosity_index
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve

G = 9.80665
P_AIR = 101325.0


SAE_40 = {"oil": "SAE40_ISOVG150", "VI_-": 0.0, "t1_degC": 40.0, "nu1_m2_s": 145e-6, "t2_degC": 100.0, "nu2_m2_s": 14.5e-6}


def each(function):
    """A table whose rows follow from their own inputs."""
    return lambda rows: [function(row) for row in rows]


def water_iapws(r):
    kelvin, pascal = r["T_K"], r["p_Pa"]
    water = iapws.IAPWS97(T=kelvin, P=pascal / 1e6)
    return {
        "rho_kg_m3": water.rho, "cp_J_kgK": water.cp * 1e3, "mu_Pa_s": water.mu, "k_W_mK": water.k,
        "rho_coolprop_kg_m3": PropsSI("D", "T", kelvin, "P", pascal, "Water"),
        "cp_coolprop_J_kgK": PropsSI("C", "T", kelvin, "P", pascal, "Water"),
        "psat_Pa": PropsSI("P", "T", kelvin, "Q", 0, "Water"),
    }


def seawater_s35(r):
    t, sa = r["t_degC"], r["SA_g_kg"]
    ct = gsw.CT_from_t(sa, t, 0)
    mit = lambda what: PropsSI(what, "T", t + 273.15, "P", P_AIR, "INCOMP::MITSW[0.035]")
    return {
        "rho_teos10_kg_m3": float(gsw.rho(sa, ct, 0)), "cp_teos10_J_kgK": float(gsw.cp_t_exact(sa, t, 0)),
        "rho_SA35_kg_m3": float(gsw.rho(35.0, gsw.CT_from_t(35.0, t, 0), 0)),
        "rho_mitsw_kg_m3": mit("D"), "cp_mitsw_J_kgK": mit("C"), "mu_mitsw_Pa_s": mit("V"), "k_mitsw_W_mK": mit("L"),
    }


def dry_air(r):
    air = lambda what: PropsSI(what, "T", r["t_degC"] + 273.15, "P", r["p_Pa"], "Air")
    cp, cv = air("C"), air("O")
    return {"rho_kg_m3": air("D"), "cp_J_kgK": cp, "cv_J_kgK": cv, "gamma_-": cp / cv, "mu_Pa_s": air("V"),
            "k_W_mK": air("L"), "Z_-": air("Z")}


# Density at 15 degC of oils by name, kg/m3; it falls by 0.65 for each kelvin (typical grades, from memory).
AT_15 = {"SAE40_ISOVG150": 895.0, "MDO_DMA": 850.0, "HFO380": 985.0}


def viscosity_d341(r):
    """ASTM D341: log10 log10 (nu + 0.7) = A - B log10 T, nu in mm2/s, through two anchors."""
    twice = lambda nu: math.log10(math.log10(nu * 1e6 + 0.7))
    k1, k2, kelvin = r["t1_degC"] + 273.15, r["t2_degC"] + 273.15, r["t_degC"] + 273.15
    b = (twice(r["nu1_m2_s"]) - twice(r["nu2_m2_s"])) / math.log10(k2 / k1)
    a = twice(r["nu1_m2_s"]) + b * math.log10(k1)
    nu = (10 ** 10 ** (a - b * math.log10(kelvin)) - 0.7) / 1e6
    rho = AT_15[r["oil"]] - 0.65 * (r["t_degC"] - 15)
    found = {"A_-": a, "B_-": b, "nu_m2_s": nu, "rho_kg_m3": rho, "mu_Pa_s": nu * rho}
    # The index is defined between 40 and 100 degC and from 2 mm2/s upwards.
    if isinstance(r["VI_-"], float):
        found["VI_-"] = viscosity_index(r["nu1_m2_s"], r["nu2_m2_s"])
    return found


def moist_air(r):
    """Humid air of ASHRAE RP-1485."""
    air = lambda what: HAPropsSI(what, "T", r["t_degC"] + 273.15, "R", r["RH_-"], "P", r["p_Pa"])
    water = air("W")
    return {"W_kg_kg": water, "h_J_kgda": air("H"), "rho_humid_kg_m3": (1 + water) / air("V"),
            "t_dew_degC": air("D") - 273.15, "p_vap_Pa": air("P_w")}


def darcy_friction(r):
    """Friction factors: Colebrook and Haaland for turbulent flow, Churchill for all."""
    re, rough = r["Re_-"], r["eD_-"]
    laminar = 64 / re if re <= 2000 else None
    friction = fluids.friction
    return {"fD_colebrook_-": laminar or friction.Colebrook(re, rough),
            "fD_haaland_-": laminar or friction.Haaland(re, rough), "fD_churchill_-": friction.Churchill_1977(re, rough)}


def pipe_dp(r):
    rho, mu, d = r["rho_kg_m3"], r["mu_Pa_s"], r["D_m"]
    m = r["v_m_s"] * math.pi / 4 * d * d * rho
    return {"m_kg_s": m, "Re_-": rho * r["v_m_s"] * d / mu,
            "dp_Pa": fluids.one_phase_dP(m, rho, mu, d, roughness=r["eps_m"], L=r["L_m"])}


def valve_liquid(r):
    q = r["Kv_m3_h_bar0p5"] / 3600 * math.sqrt(r["dp_Pa"] / 1e5 * 1000 / r["rho_kg_m3"])
    back = fluids.control_valve.size_control_valve_l(
        rho=r["rho_kg_m3"], Psat=2000, Pc=22.12e6, mu=1e-3, P1=1e6 + r["dp_Pa"], P2=1e6, Q=q)
    return {"Q_m3_s": q, "m_kg_s": q * r["rho_kg_m3"], "Kv_backcheck_m3_h_bar0p5": back}


def pump_affinity(r):
    h0, a, hs, k, n = (r[c] for c in ("H0_m", "a_s2_m5", "Hs_m", "k_s2_m5", "r_n_over_n0_-"))
    spare = n * n * h0 - hs
    q = math.sqrt(spare / (a + k)) if spare > 0 else 0.0
    return {"Q_m3_s": q, "Hpump_m": n * n * h0 - a * q * q, "P_scale_homologous_-": n ** 3}


def network_seawater(r):
    """Sea chest, strainer, pumps, common line, two coolers, overboard: node pressures by fsolve."""
    rho, n = 1024.0, r["n_pumps_-"]
    flow = lambda kv, dp: math.copysign(kv / 3600 * math.sqrt(abs(dp) / 1e5 * 1000 / rho), dp)
    sea = P_AIR + rho * G * r["hs_m"]
    pump = lambda dp: n * math.sqrt(max(3.2e5 * r["r_-"] ** 2 - dp, 0.0) / 2.2e7)

    def balances(p):
        suction, discharge, common = (x * 1e5 for x in p)
        q = pump(discharge - suction)
        return [flow(r["Kvstrainer_m3_h"], sea - suction) - q, q - flow(r["Kvcommon_m3_h"], discharge - common),
                flow(r["Kvcommon_m3_h"], discharge - common)
                - flow(r["Kv1_m3_h"], common - P_AIR) - flow(r["Kv2_m3_h"], common - P_AIR)]

    p = [x * 1e5 for x in fsolve(balances, [0.9, 3.2, 2.4], xtol=1e-13)]
    return {"p_suction_Pa": p[0], "p_discharge_Pa": p[1], "p_common_Pa": p[2], "Q_total_m3_s": pump(p[1] - p[0]),
            "Q1_m3_s": flow(r["Kv1_m3_h"], p[2] - P_AIR), "Q2_m3_s": flow(r["Kv2_m3_h"], p[2] - P_AIR)}


def pipe_run(r):
    """Flow through a run of pipe for a difference of pressure."""
    celsius, kelvin = r["t_degC"], r["t_degC"] + 273.15
    if r["medium"] == "fresh water":
        water = iapws.IAPWS97(T=kelvin, P=0.3)
        rho, mu = water.rho, water.mu
    elif r["medium"] == "sea water":
        rho = float(gsw.rho(35.16504, gsw.CT_from_t(35.16504, celsius, 0), 0))
        mu = PropsSI("V", "T", kelvin, "P", P_AIR, "INCOMP::MITSW[0.035]")
    else:
        rho = 865.0
        mu = rho * viscosity_d341(SAE_40 | {"t_degC": celsius})["nu_m2_s"]
    fall = lambda m: fluids.one_phase_dP(m, rho, mu, r["D_m"], roughness=r["eps_m"], L=r["L_m"]) - r["dp_Pa"]
    flow = brentq(fall, 1e-6, 1e4, rtol=1e-12) / rho
    return {"rho_kg_m3": rho, "nu_m2_s": mu / rho, "Q_m3_s": flow,
            "Re_-": flow / (math.pi / 4 * r["D_m"]) * rho / mu}


def tank_drain(r):
    """Torricelli: the root of the level falls in a straight line."""
    hole = r["Cd_-"] * math.pi / 4 * r["d_hole_m"] ** 2
    time = lambda low: r["A_m2"] / hole * math.sqrt(2 / G) * (math.sqrt(r["h0_m"]) - math.sqrt(low))
    drained = time(r["h1_m"])
    half_root = math.sqrt(r["h0_m"]) - 0.5 * drained * hole / r["A_m2"] * math.sqrt(G / 2)
    end = max(r["h1_m"], 1e-4)
    reached = lambda _, y: y[0] - end
    reached.terminal = True
    run = solve_ivp(lambda _, y: [-hole / r["A_m2"] * math.sqrt(2 * G * max(y[0], 0))], (0, 2 * drained),
                    [r["h0_m"]], events=reached, rtol=1e-10, atol=1e-12)
    return {"t_drain_s": drained, "t_half_s": drained / 2, "h_at_t_half_m": half_root ** 2,
            "t_ivp_check_s": float(run.t_events[0][0])}


def hx_counterflow(r):
    def exchanged(ua):
        return ht.effectiveness_NTU_method(
            mh=r["m_hot_kg_s"], mc=r["m_cold_kg_s"], Cph=r["cp_hot_J_kgK"], Cpc=r["cp_cold_J_kgK"],
            subtype="counterflow", Thi=r["t_hot_in_degC"], Tci=r["t_cold_in_degC"], UA=ua)
    clean, fouled = exchanged(r["UA_W_K"]), exchanged(1 / (1 / r["UA_W_K"] + r["RfA_K_W"]))
    return {"NTU_-": clean["NTU"], "effectiveness_-": clean["effectiveness"], "Q_W": clean["Q"],
            "t_hot_out_degC": clean["Tho"], "t_cold_out_degC": clean["Tco"], "Q_fouled_W": fouled["Q"],
            "t_hot_out_fouled_degC": fouled["Tho"]}


def radiator(r):
    """A radiator whose air goes with the speed of its fan."""
    found = ht.effectiveness_NTU_method(
        mh=r["m_water_kg_s"], mc=r["m_air_rated_kg_s"] * r["share_-"], Cph=r["cp_water_J_kgK"], Cpc=r["cp_air_J_kgK"],
        subtype="counterflow", Thi=r["t_water_in_degC"], Tci=r["t_air_degC"], UA=r["UA0_W_K"] * r["share_-"] ** 0.6)
    return {"Q_W": found["Q"], "t_water_out_degC": found["Tho"]}


def heater_warmup(r):
    end = r["t_amb_degC"] + r["P_W"] / r["UA_W_K"]
    fall = math.exp(-r["time_s"] * r["UA_W_K"] / r["C_J_K"])
    return {"t_degC": end + (r["t_init_degC"] - end) * fall}


def mixed_cells(r):
    return {"outlet_step_fraction_-": float(scipy.special.gammainc(r["n_cells_-"], r["n_cells_-"] * r["x_-"]))}


def mixing_valve(r):
    return {"t_mix_degC": r["t_cold_degC"] + r["hot_fraction_-"] * (r["t_hot_degC"] - r["t_cold_degC"])}


def engine_room_air(r):
    rate = r["m_vent_kg_s"] * 1008 + r["UA_W_K"]
    end = r["t_out_degC"] + r["Q_W"] / rate
    fall = math.exp(-r["time_s"] * rate / r["C_J_K"])
    return {"C_J_K": r["V_m3"] * 1.13 * 1008 * 3, "t_degC": end + (r["t_init_degC"] - end) * fall}


def ventilation_iso8861(r):
    power = r["n_engines_-"] * r["P_shaft_W"]
    burn = power / 1e3 * r["mad_kg_kWs"] / 1.13
    heat = power * (r["radiated_fraction_-"] + 1 - r["eta_gen_-"])
    air = heat / 1e3 / (1.13 * 1.01 * 12.5) - 0.4 * burn
    return {"q_comb_m3_s": burn, "phi_heat_W": heat, "q_heat_m3_s": air, "q_total_m3_s": max(burn + air, 1.5 * burn)}


# Tables with their functions, and columns that agree less closely than the rest.
TABLES = {
    "water_iapws.csv": (each(water_iapws), {}),
    "seawater_s35.csv": (each(seawater_s35), {}),
    "dry_air.csv": (each(dry_air), {}),
    "viscosity_d341.csv": (each(viscosity_d341), {}),
    "viscosity_fuels.csv": (each(viscosity_d341), {}),
    "moist_air.csv": (each(moist_air), {}),
    "darcy_friction.csv": (each(darcy_friction), {}),
    "pipe_dp.csv": (each(pipe_dp), {}),
    "valve_liquid.csv": (each(valve_liquid), {}),
    "pump_affinity.csv": (each(pump_affinity), {}),
    "network_seawater.csv": (each(network_seawater), {}),
    "pipe_run.csv": (each(pipe_run), {}),
    "tank_drain.csv": (each(tank_drain), {}),
    "hx_counterflow_cases.csv": (each(hx_counterflow), {}),
    "radiator.csv": (each(radiator), {}),
    "heater_warmup.csv": (each(heater_warmup), {}),
    "mixed_cells_step.csv": (each(mixed_cells), {}),
    "mixing_valve.csv": (each(mixing_valve), {}),
    "engine_room_air.csv": (each(engine_room_air), {}),
    "ventilation_iso8861.csv": (each(ventilation_iso8861), {}),
}
