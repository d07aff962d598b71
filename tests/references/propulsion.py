"""Reference tables on steam, main engine and shaft generator. Figures are those of the rigs."""
import math

import numpy as np
from iapws import IAPWS97
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve

from media import P_AIR, each

# Rig steam-turbine: shaft W, steam kg/s, speed rpm; condenser W/K and sea water W/K at 25 degC; air leak kg/s, suction m3/s.
POWER, FLOW, SPEED, DROOP, EFFICIENCY, WINDAGE, FRICTION = 744.7e3, 4974 / 3600, 9000.0, 0.04, 0.70, 0.02, 0.004
UA, SEA_RATE, SEA_K = 314e3, 349 / 3600 * 1024 * 3993.0, 298.15
LEAK, SUCTION, R_AIR = 1.5 / 3600, 0.05, 287.05


def steam_turbine(r):
    """A turbine that gives a shaft power: throttled at constant enthalpy, expanded into its condenser."""
    header = IAPWS97(P=(7e5 + P_AIR) / 1e6, T=543.15)
    share = 1 - math.exp(-UA / SEA_RATE)

    def at(steam, condensing_k):
        load = steam / FLOW
        exhaust = IAPWS97(T=condensing_k, x=0).P * 1e6 + LEAK * R_AIR * condensing_k / SUCTION
        nozzle = IAPWS97(P=header.P * min(load, 1.0), h=header.h)
        drop = (header.h - IAPWS97(P=exhaust / 1e6, s=nozzle.s).h) * 1e3
        speed = 1 + DROOP * (1 - load)
        # Set point 104 %; greatest efficiency at rated speed, where windage and friction come on top.
        gross = EFFICIENCY * (1 + WINDAGE + FRICTION) * steam * drop * (2 * speed - speed * speed)
        shaft = gross - (WINDAGE * speed * speed + FRICTION) * speed * POWER
        heat = steam * (header.h - IAPWS97(T=condensing_k, x=0).h) * 1e3 - gross
        return shaft, heat, speed, exhaust, drop

    def misses(unknown):
        shaft, heat, *_ = at(*unknown)
        return [(shaft - r["shaft_W"]) / 1e3, (heat - share * SEA_RATE * (unknown[1] - SEA_K)) / 1e3]

    steam, condensing_k = fsolve(misses, [FLOW * r["shaft_W"] / POWER, 310.0], xtol=1e-12)
    _, heat, speed, exhaust, drop = at(steam, condensing_k)
    return {"steam_kg_s": float(steam), "speed_rpm": SPEED * speed, "exhaust_Pa": exhaust,
            "condensing_degC": float(condensing_k) - 273.15, "condenser_W": heat, "drop_J_kg": drop}


def between(table, x):
    return float(np.interp(x, list(table), list(table.values())))


# Rig main-engine: efficiencies, and shares of the fuel's heat, at 25, 60 and 100 % of rated torque.
EFFICIENCIES = {0.25: 0.395, 0.6: 0.43, 1.0: 0.44}
SHARES = {
    "jacket_W": {0.25: 0.115, 0.6: 0.085, 1.0: 0.072},
    "lube_W": {0.25: 0.09, 0.6: 0.066, 1.0: 0.058},
    "air_W": {0.25: 0.04, 0.6: 0.105, 1.0: 0.154},
    "room_W": {0.25: 0.02, 0.6: 0.012, 1.0: 0.009},
}


def main_engine(r):
    """Fuel by load, and where its heat goes; a fixed propeller takes the cube of speed."""
    rated, rpm = (4500e3, 600.0) if r["case"] == "pitch" else (13500e3, 95.0)
    speed = 1.0 if r["case"] == "pitch" else r["load"] ** (1 / 3)
    torque = r["load"] / speed
    fuel_share = between({load: load / EFFICIENCIES[load] * EFFICIENCIES[1.0] for load in EFFICIENCIES}, torque)
    fuel = fuel_share * rated / EFFICIENCIES[1.0] * speed
    heats = {where: fuel * between(shares, r["load"]) for where, shares in SHARES.items()}
    shaft = r["load"] * rated
    return {"speed_rpm": rpm * speed, "shaft_W": shaft, "fuel_W": fuel, **heats,
            "exhaust_W": fuel - shaft - sum(heats.values())}


def shaft_generator_step(rows):
    """Engine of 4.5 MW with a propeller at 60 %, on which 400 kW of a shaft generator come; rig shaft-generator."""
    rated, w0 = 4500e3, 600 * math.tau / 60
    inertia = 1115 + 9 * (2 * 0.8 * 1e6 / (1800 * math.tau / 60) ** 2)
    two_h = inertia * w0 * w0 / rated
    windage, at_400 = 15.06e3, 400e3 / 900e3
    step = (400e3 + 0.012 * 1e6 * at_400**2 + windage * at_400**2) / rated
    propeller, still, kp, ki, lag, boost_lag, free = 0.6, windage / rated, 4.0, 3.0, 0.2, 6.0, 0.5

    def rates(_, y):
        n, rack, integral, boost = y
        wanted, limit = kp * (1 - n) + integral, min(free + boost, 1.1)
        winds = wanted > limit and n < 1
        return [(rack - propeller * n * n - still * n - step / n) / two_h, (min(max(wanted, 0), limit) - rack) / lag,
                0.0 if winds else ki * (1 - n), (0.6 * min(rack, 1) - boost) / boost_lag]

    rack = propeller + still
    times = [r["time_s"] for r in rows]
    run = solve_ivp(rates, (0, times[-1]), [1, rack, rack, 0.6 * rack], t_eval=times, rtol=1e-10, atol=1e-12, max_step=0.01)
    return [{"dw_pu": float(n) - 1} for n in run.y[0]]


TABLES = {
    "steam_turbine.csv": (each(steam_turbine), {"_": 1e-5}),
    "main_engine.csv": (each(main_engine), {"_": 1e-5}),
    "shaft_generator_step.csv": (shaft_generator_step, {"_": 1e-5}),
}
