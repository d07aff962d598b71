"""Reference tables on compressed air, engines and their governors."""
import math

import numpy as np
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import minimize_scalar

from media import P_AIR, each

K, R = 1.4, 287.055
CRITICAL = (2 / (K + 1)) ** (K / (K - 1))


def nozzle(area, p1, t1, p2):
    """Isentropic nozzle of an ideal gas, kg/s."""
    ratio = max(p2 / p1, CRITICAL)
    if ratio >= 1:
        return 0.0
    return area * p1 * math.sqrt(2 * K / ((K - 1) * R * t1) * (ratio ** (2 / K) - ratio ** ((K + 1) / K)))


def nozzle_of_real_air(area, p1, t1, p2):
    """Isentropic expansion from rest; choked where density times speed is largest."""
    h1, s1 = (PropsSI(what, "P", p1, "T", t1, "Air") for what in ("H", "S"))

    def flux(p):
        fall = h1 - PropsSI("H", "P", p, "S", s1, "Air")
        return PropsSI("D", "P", p, "S", s1, "Air") * math.sqrt(max(2 * fall, 0.0))

    best = minimize_scalar(lambda p: -flux(p), bounds=(0.4 * p1, 0.7 * p1), method="bounded", options={"xatol": 1.0})
    return area * flux(max(p2, best.x))


def nozzle_isentropic(r):
    p1, t1, ratio = r["p1_Pa"], r["T1_K"], r["p2_over_p1_-"]
    return {"choked_bool": str(ratio <= CRITICAL), "p_crit_Pa": CRITICAL * p1,
            "m_ideal_kg_s": nozzle(r["A_m2"], p1, t1, ratio * p1),
            "m_realgas_kg_s": nozzle_of_real_air(r["A_m2"], p1, t1, ratio * p1)}


def iso6358_flow(r):
    """ISO 6358-1 with the exponent 0.5."""
    full = r["C_m3_sPa"] * 1.185 * r["p1_Pa"] * math.sqrt(293.15 / r["T1_K"])
    over = max((r["p2_over_p1_-"] - r["b_-"]) / (1 - r["b_-"]), 0.0)
    return {"m_kg_s": full * math.sqrt(1 - over * over)}


def receiver_blowdown(rows):
    """A receiver that blows to the atmosphere: mass, and energy where its wall gives no heat."""
    found = []
    for r in rows:
        volume, t0 = r["V_m3"], r["T_init_K"]
        mass = r["p_init_Pa"] * volume / (R * t0)
        isothermal = r["mode"] == "isothermal"

        def rates(_, y):
            t = t0 if isothermal else y[1]
            p = y[0] * R * t / volume
            out = nozzle(r["A_m2"], p, t, P_AIR) if p > P_AIR else 0.0
            return [-out, 0.0 if isothermal else -out * (K - 1) * t / y[0]]

        end = max(r["time_s"], 1e-9)
        y = solve_ivp(rates, (0, end), [mass, t0], rtol=1e-10, atol=1e-12).y[:, -1]
        found.append({"m_kg": y[0], "T_K": y[1], "p_Pa": y[0] * R * y[1] / volume})
    return found


def receiver_fill(r):
    """Isothermal receiver on a compressor whose volumetric efficiency falls with pressure."""
    c, stages, n, end = r["clearance_-"], r["stages_-"], r["n_poly_-"], r["p_end_Pa"]
    efficiency = lambda p: 1 - c * ((p / P_AIR) ** (1 / (stages * n)) - 1)
    swept = r["FAD_m3_s"] / efficiency(end)
    rise = lambda _, y: [swept * efficiency(y[0]) * P_AIR / r["V_m3"]]
    full = lambda _, y: y[0] - end
    full.terminal = True
    run = solve_ivp(rise, (0, 1e5), [P_AIR], events=full, rtol=1e-10, atol=1e-6)
    at = solve_ivp(rise, (0, r["time_s"]), [P_AIR], rtol=1e-10, atol=1e-6).y[0, -1]
    return {"swept_m3_s": swept, "p_Pa": at, "t_fill_s": float(run.t_events[0][0]),
            "t_fill_constFAD_s": r["V_m3"] * (end - P_AIR) / (P_AIR * r["FAD_m3_s"])}


def starts_count(r):
    fall = r["Vs_free_m3"] * P_AIR / r["V_m3"]
    starts = math.floor((r["p_high_Pa"] - r["p_low_Pa"]) / fall)
    # What a start takes is measured at the receiver's temperature; the rest expands by itself.
    left = 1 - fall / r["p_high_Pa"]
    return {"dp_per_start_Pa": fall, "n_starts_-": starts, "p_after_n_Pa": r["p_high_Pa"] - starts * fall,
            "p_after_1_isentropic_Pa": r["p_high_Pa"] * left ** K}


def governor_swing(r):
    """Linear machine and governor: exact by the matrix exponential. States dw, pm, z and the constant load."""
    h, d, kp, ki, ta, droop = (r[c] for c in ("H_s", "D_pu", "Kp_-", "Ki_1_s", "Ta_s", "R_droop_pu"))
    a = np.array([
        [-d / (2 * h), 1 / (2 * h), 0, -1 / (2 * h)],
        [-kp / ta, -(1 + kp * droop) / ta, 1 / ta, 0],
        [-ki, -ki * droop, 0, 0],
        [0, 0, 0, 0],
    ])
    y = expm(a * r["time_s"]) @ np.array([0, 0, 0, r["dP_load_pu"]])
    return {"dw_pu": float(y[0]), "dpm_pu": float(y[1])}


def droop_sharing(r):
    """f = f0 - R P on rated power, around 60 Hz."""
    slopes = [r[f"P{i}_rated_W"] / (r[f"droop{i}_-"] * 60) for i in (1, 2)]
    no_load = [r[f"f{i}_noload_Hz"] for i in (1, 2)]
    f = (sum(s * n for s, n in zip(slopes, no_load)) - r["P_load_W"]) / sum(slopes)
    return {"f_Hz": f, "P1_W": slopes[0] * (no_load[0] - f), "P2_W": slopes[1] * (no_load[1] - f)}


TABLES = {
    "nozzle_isentropic.csv": (each(nozzle_isentropic), {"m_realgas_kg_s": 1e-5}),
    "iso6358_flow.csv": (each(iso6358_flow), {}),
    "receiver_blowdown.csv": (receiver_blowdown, {}),
    "receiver_fill.csv": (each(receiver_fill), {}),
    "starts_count.csv": (each(starts_count), {}),
    "governor_swing_step.csv": (each(governor_swing), {}),
    "droop_sharing.csv": (each(droop_sharing), {}),
}
