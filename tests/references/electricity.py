"""Reference tables on motors, generators, transformers and protection."""
import math

import numpy as np
from scipy.integrate import solve_ivp

from media import each

W0 = 2 * math.pi * 60


def parallel(a, b):
    return a * b / (a + b)


def circuit(r, slip, volts):
    """Exact circuit per phase: current A, power factor, input W, torque Nm."""
    rotor = parallel(complex(r["R2_ohm"] / slip, r["X2_ohm"]), complex(0, r["Xm_ohm"]))
    total = complex(r["R1_ohm"], r["X1_ohm"]) + rotor
    current = volts / math.sqrt(3) / total
    gap_w = 3 * abs(current) ** 2 * rotor.real
    torque = gap_w / (2 * W0 / r["poles_-"])
    return abs(current), total.real / abs(total), 3 * abs(current) ** 2 * total.real, torque


def im_torque_slip(r):
    amps, pf, watts, torque = circuit(r, r["slip_-"], r["V_line_V"])
    return {"I1_A": amps, "pf_-": pf, "Pin_W": watts, "T_Nm": torque}


# Constants of the motors of im_torque_slip.csv: R1, X1, R2, X2, Xm in ohm, poles. The first is Chapman's example.
MOTORS = {
    "chapman_25hp_460V": (0.641, 1.106, 0.332, 0.464, 26.3, 4),
    "pump_75kW_440V": (0.045, 0.19, 0.035, 0.21, 6.2, 4),
    "comp_30kW_440V": (0.13, 0.42, 0.11, 0.47, 14.0, 4),
    "fan_11kW_440V": (0.45, 1.1, 0.38, 1.2, 34.0, 6),
}


def im_start_time(r):
    names = ("R1_ohm", "X1_ohm", "R2_ohm", "X2_ohm", "Xm_ohm", "poles_-")
    motor, volts = dict(zip(names, MOTORS[r["motor"]])), r["V_line_V"]
    synchronous = 2 * W0 / motor["poles_-"]

    def rate(_, y):
        slip = max(1 - y[0] / synchronous, 1e-9)
        return [(circuit(motor, slip, volts)[3] - r["T_load_at_sync_Nm"] * (y[0] / synchronous) ** 2) / r["J_kgm2"]]

    reached = lambda _, y: y[0] - 0.95 * synchronous
    reached.terminal = True
    run = solve_ivp(rate, (0, 60), [0.0], events=reached, rtol=1e-10, atol=1e-9, dense_output=True)
    t95 = float(run.t_events[0][0])
    amps, _, _, torque = circuit(motor, 1.0, volts)
    return {"I_start_A": amps, "T_start_Nm": torque, "t95_s": t95, "w_at_half_t95_rad_s": float(run.sol(t95 / 2)[0])}


def motor_start_dip(r):
    """Constant e.m.f. behind Rg + jX'd; running load and locked motor as admittances (Sheldrake, app. G)."""
    base, inner = r["S_gen_VA"], complex(r["Rg_pu"], r["Xd1_pu"])
    running = r["P_load_W"] / base * complex(1, -math.tan(math.acos(r["pf_load_-"])))
    pf, size = r["pf_lockedrotor_-"], r["S_lockedrotor_VA"] / base
    locked = size * complex(pf, -math.sqrt(1 - pf * pf))
    emf = 1 + running * inner
    dipped = abs(emf / (1 + inner * (running + locked)))
    x = size * r["Xd1_pu"]
    return {"E1_pu": abs(emf), "V_dip_pu": dipped, "dip_-": 1 - dipped, "dip_simple_-": x / (1 + x)}


def flux_decay(r):
    xd, xd1, load = r["Xd_pu"], r["Xd1_pu"], r["Xload_pu"]
    end = (xd1 + load) / (xd + load)
    tau = r["Td01_s"] * end
    flux = end + (1 - end) * math.exp(-r["time_s"] / tau)
    return {"Eq1_pu": flux, "V_pu": flux * load / (xd1 + load)}


def short_circuit_envelope(r):
    xd, xd1, xd2, t = r["Xd_pu"], r["Xd1_pu"], r["Xd2_pu"], r["time_s"]
    transient = (1 / xd1 - 1 / xd) * math.exp(-t / r["Td1_s"])
    sub_transient = (1 / xd2 - 1 / xd1) * math.exp(-t / r["Td2_s"])
    return {"I_ac_rms_pu": r["V0_pu"] * (1 / xd + transient + sub_transient)}


def transformer_vdrop(r):
    """Two-winding transformer of pandapower with its high side held at 1 pu."""
    import pandapower as pp
    net = pp.create_empty_network(f_hz=60)
    high, low = pp.create_bus(net, vn_kv=0.44), pp.create_bus(net, vn_kv=0.22)
    pp.create_ext_grid(net, high)
    mva = r["S_rated_VA"] / 1e6
    pp.create_transformer_from_parameters(
        net, high, low, sn_mva=mva, vn_hv_kv=0.44, vn_lv_kv=0.22, vk_percent=100 * r["vk_-"],
        vkr_percent=100 * r["vkr_-"], pfe_kw=3e-3 * mva * 1e3, i0_percent=1.0)
    watts = mva * r["load_fraction_-"] * r["pf_-"]
    pp.create_load(net, low, p_mw=watts, q_mvar=watts * math.tan(math.acos(r["pf_-"])))
    pp.runpp(net, tolerance_mva=1e-12, calculate_voltage_angles=True, trafo_model="t", numba=False)
    bus, trafo = net.res_bus.loc[low], net.res_trafo.iloc[0]
    return {"V_lv_pu": float(bus.vm_pu), "angle_lv_deg": float(bus.va_degree), "I_hv_A": float(trafo.i_hv_ka * 1e3),
            "I_lv_A": float(trafo.i_lv_ka * 1e3), "P_loss_W": float(trafo.pl_mw * 1e6)}


def idmt(r):
    """IEC 60255-151 and IEEE C37.112."""
    over = r["M_I_over_Is_-"] ** r["alpha_-"] - 1
    return {"t_trip_s": r["TMS_-"] * (r["k_s"] / over + r["c_s"])}


def thermal_overload(r):
    """IEC 60255-149: first-order replica."""
    i2, before, limit = r["i_over_Ir_-"] ** 2, r["i_pre_-"] ** 2, r["k_-"] ** 2
    return {"t_trip_s": r["tau_s"] * math.log((i2 - before) / (i2 - limit))}


def reactive_sharing(r):
    slopes = [r[f"S{i}_rated_VA"] / r[f"q{i}_-"] for i in (1, 2)]
    no_load = [r[f"V{i}_noload_pu"] for i in (1, 2)]
    v = (sum(s * n for s, n in zip(slopes, no_load)) - r["Q_load_var"]) / sum(slopes)
    return {"V_pu": v, "Q1_var": slopes[0] * (no_load[0] - v), "Q2_var": slopes[1] * (no_load[1] - v)}


def sync_closing(r):
    """Classical machine closed on an infinite bus. `mid` is 2.5 ms before `time`; power is torque times speed."""
    emf = lambda w: r["E_pu"] * (1 + w)
    torque = lambda y: r["E_pu"] * r["V_pu"] / r["x_pu"] * math.sin(y[0])

    def rates(_, y):
        return [W0 * y[1], (-torque(y) - r["D_pu"] * y[1]) / (2 * r["H_s"])]

    start = [math.radians(r["delta0_deg"]), r["df0_Hz"] / 60]
    at = lambda t: start if t <= 0 else solve_ivp(rates, (0, t), start, rtol=1e-10, atol=1e-12).y[:, -1]
    now, mid = at(r["time_s"]), at(r["time_s"] - 0.0025)
    current = abs(emf(mid[1]) * np.exp(1j * mid[0]) - r["V_pu"]) / r["x_pu"]
    return {"delta_deg": math.degrees(now[0]), "f_Hz": 60 * (1 + now[1]), "mid_P_pu": torque(mid) * (1 + mid[1]), "mid_I_pu": float(current)}


TABLES = {
    "im_torque_slip.csv": (each(im_torque_slip), {}),
    "im_start_time.csv": (each(im_start_time), {}),
    "motor_start_dip.csv": (each(motor_start_dip), {}),
    "flux_decay_step.csv": (each(flux_decay), {}),
    "short_circuit_envelope.csv": (each(short_circuit_envelope), {}),
    "transformer_vdrop.csv": (each(transformer_vdrop), {"_": 1e-5}),
    "idmt_curves.csv": (each(idmt), {}),
    "thermal_overload.csv": (each(thermal_overload), {}),
    "reactive_sharing.csv": (each(reactive_sharing), {}),
    "sync_closing.csv": (each(sync_closing), {}),
}
