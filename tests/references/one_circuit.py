#!/usr/bin/env python3
"""One circuit by SciPy, as a user would write it: an engine's high-temperature water warms up from cold.

The same equations as the rig drills/data/rigs/heat-engine-circuit.toml: heat of the jacket, pump, thermostat with its
wax element, counterflow cooler whose conductance follows its flows, stirred volumes. Nothing here comes from the
Rust code but the figures of the rig.

    python3 tests/references/one_circuit.py            how fast LSODA integrates it
    python3 tests/references/one_circuit.py --table    the reference table engine_circuit.csv

The plant's speed with the same rig: cargo bench -p deadship-plant --bench circuit
"""
import math
import sys
import time

import numpy as np
import scipy
from scipy.integrate import solve_ivp

RHO, CP, G = 985.0, 4185.0, 9.80665  # water as the rig has it
AIR_C, COLD_C, START_C = 25.0, 36.0, 25.0

# Engine of 1 MW at half load: fuel at 42 %, of which 11 % goes to the jacket.
JACKET_W, STANDING_W_K = 0.11 * 0.5e6 / 0.42, 66.0
# Heat capacities, J/K: jacket with its block, the lines, the pump.
C_JACKET = 1.5e6 + 0.25 * RHO * CP
C_OUT, C_COOLED, C_MIXED, C_PUMPED = 0.04 * RHO * CP, 0.02 * RHO * CP, 0.02 * RHO * CP, 0.01 * RHO * CP
# Pump: 18 m without flow, 15 m at 25 m3/h.
HEAD_M, LOSS = 18.0, (18.0 - 15.0) / (25 / 3600) ** 2
# Flow coefficients, m3/s at 1 bar and 1,000 kg/m3.
KV_THERMOSTAT, KV_COOLER, KV_PIPE = 40 / 3600, 30 / 3600, 30 / 3600
OPENS_C, FULL_C, LAG_UP_S, LAG_DOWN_S = 75.0, 85.0, 15.0, 25.0
# Cooler: conductance at 15 and 20 m3/h, exponent 0.7 on both sides, 0.95 for the end plates.
UA_W_K, PLATES, HOT_RATED, COLD_RATED, EXPONENT = 8000.0, 0.95, 15 / 3600, 20 / 3600, 0.7
COLD_FLOW = 20 / 3600 * math.sqrt(1000 / RHO)  # Kv 20 at 1 bar


def flows(opening):
    """Flow round the circuit and the part of it through the cooler, m3/s, for this opening of the thermostat."""
    cooled, bypass = max(opening, 0.005) * KV_THERMOSTAT, max(1 - opening, 0.005) * KV_THERMOSTAT
    through = 1 / math.sqrt(1 / cooled**2 + 1 / KV_COOLER**2)
    both = through + bypass
    resistance = 1e5 * RHO / 1000 * (1 / both**2 + 2 / KV_PIPE**2)
    total = math.sqrt(RHO * G * HEAD_M / (resistance + RHO * G * LOSS))
    return total, total * through / both


def cooler(hot_flow, hot_c):
    """Heat given to the cold side, W."""
    films = (hot_flow / HOT_RATED) ** -EXPONENT + (COLD_FLOW / COLD_RATED) ** -EXPONENT
    ua = UA_W_K * PLATES * 2 / films
    hot, cold = hot_flow * RHO * CP, COLD_FLOW * RHO * CP
    least, ratio = min(hot, cold), min(hot, cold) / max(hot, cold)
    units = ua / least
    drop = math.exp(-units * (1 - ratio))
    share = (1 - drop) / (1 - ratio * drop) if ratio < 0.9999 else units / (1 + units)
    return share * least * (hot_c - COLD_C)


def opening_of(element_c):
    return min(max((element_c - OPENS_C) / (FULL_C - OPENS_C), 0.0), 1.0)


def rates(_, y):
    jacket, out, cooled, mixed, pumped, element = y
    total, through = flows(opening_of(element))
    w, w_cooled = total * RHO * CP, through * RHO * CP
    heat = cooler(through, out)
    return [
        (w * (pumped - jacket) + JACKET_W - STANDING_W_K * (jacket - AIR_C)) / C_JACKET,
        w * (jacket - out) / C_OUT,
        (w_cooled * (out - cooled) - heat) / C_COOLED,
        (w_cooled * cooled + (w - w_cooled) * out - w * mixed) / C_MIXED,
        w * (mixed - pumped) / C_PUMPED,
        (out - element) / (LAG_UP_S if out > element else LAG_DOWN_S),
    ]


def solve(times, rtol=1e-9, atol=1e-9, **more):
    return solve_ivp(rates, (0, times[-1]), [START_C] * 6, method="LSODA", t_eval=times, rtol=rtol, atol=atol, **more)


def rows():
    """Rows of the reference table."""
    times = [0, 60, 120, 300, 600, 900, 1200, 1500, 1800, 2400, 3600, 7200]
    for t, y in zip(times, solve(times).y.T):
        through = flows(opening_of(y[5]))[1]
        leaves = y[1] - cooler(through, y[1]) / (through * RHO * CP)
        yield [t, y[0], y[1], leaves, y[3], opening_of(y[5])]


def table():
    lines = [
        f"# source: own equations of the rig heat-engine-circuit, solve_ivp LSODA rtol 1e-9 (scipy {scipy.__version__}); "
        "tests/references/one_circuit.py",
        "time_s,t_jacket_degC,t_out_degC,t_cooler_out_degC,t_mixed_degC,opening_-",
    ]
    return "\n".join(lines + [",".join(f"{x:.8g}" for x in row) for row in rows()]) + "\n"


def measure(what, simulated_s, run):
    run()
    best = min(timed(run) for _ in range(3))
    print(f"{what:44s} {simulated_s / best:12,.0f} simulated seconds a second")


def timed(run):
    begin = time.perf_counter()
    run()
    return time.perf_counter() - begin


def restarted(length_s, every_s):
    y = [START_C] * 6
    for _ in range(round(length_s / every_s)):
        y = solve_ivp(rates, (0, every_s), y, method="LSODA", rtol=1e-3, atol=1e-6).y[:, -1]


if __name__ == "__main__":
    if "--table" in sys.argv:
        print(table(), end="")
    else:
        rough, fine = solve([1200, 7200], 1e-3, 1e-6).y, solve([1200, 7200]).y
        off = np.abs(rough - fine).max() / (fine[0, -1] - START_C)
        print(f"default tolerance is off by {100 * off:.2g} % of the rise")
        measure("LSODA, default tolerance, steps as it likes", 7200, lambda: solve([7200], 1e-3, 1e-6))
        measure("LSODA, told every second", 7200, lambda: solve(np.arange(7201.0), 1e-3, 1e-6))
        # Whoever must act on the plant at any moment needs its state at every step.
        measure("LSODA, restarted every second", 600, lambda: restarted(600, 1.0))
        measure("LSODA, restarted every 0.2 s", 120, lambda: restarted(120, 0.2))
