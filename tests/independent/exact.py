"""Holds the independent code itself against closed forms.  Usage: exact.py   (a minute)

Exit code 1 when a number is further off than its bar.
"""

import sys

import numpy as np
from wall import P_ATM, RV, ZERO_C, Wall, ramp, run

STILL_AIR = [[0.0, 20.0], [1e9, 20.0]]
SHELL = {"h_w_m2k": 10.0, "emissivity": 0.8, "gas_temp_c": STILL_AIR}
NO_LOSS = {"h_w_m2k": 0.0, "emissivity": 0.0, "gas_temp_c": STILL_AIR}


def solid(thickness_m, conductivity, rho_c=2.2e6):
    """A dry layer that holds no water."""
    return {
        "name": "solid", "thickness_m": thickness_m, "density_kg_m3": rho_c / 1000.0, "heat_capacity_j_kgk": 1000.0,
        "conductivity_w_mk": conductivity, "impermeable": True,
    }  # fmt: skip


def spec_of(layers, hot, cold, geometry=None, start_c=20.0):
    """A wall."""
    geometry = geometry or {"kind": "planar"}
    return {"geometry": geometry, "start_temp_c": start_c, "layers": layers, "hot_face": hot, "cold_face": cold}


def held(temp_c):
    """A face that jumps to a temperature (within a second)."""
    return {"surface_temp_c": [[0.0, 20.0], [1.0, temp_c], [1e9, temp_c]]}


def ramp_lag():
    """Slab 50 mm, insulated back, face ramped at 100 K/h: lag of the back r L2/(2 alpha) (Carslaw and Jaeger)."""
    wall = Wall(spec_of([solid(0.05, 1.5)], {"surface_temp_c": ramp(100, 600)}, NO_LOSS), 50)
    t = 5 * 3600.0
    y = run(wall, t, [t]).at[t]
    yield "ramp lag 50 mm, K", wall.temp_c(t, y, 0.0) - wall.temp_c(t, y, 0.05), 50.926, 0.02


def half_space():
    """Half space stepped from 20 to 600 C (Carslaw and Jaeger, 2.5)."""
    wall = Wall(spec_of([solid(0.6, 1.5)], held(600.0), NO_LOSS), 300, 20.0, "hot")
    res = run(wall, 3600.0, [600.0, 3600.0], rtol=1e-6)
    exact = {600.0: (441.449, 300.966, 66.668, 20.274), 3600.0: (534.174, 469.674, 295.767, 109.035)}
    for t, row in exact.items():
        for depth, want in zip((0.01, 0.02, 0.05, 0.1), row):
            yield f"half space {depth * 1e3:.0f} mm at {t:.0f} s, C", wall.temp_c(t, res.at[t], depth), want, 0.58


def composite():
    """Three layers with a radiating shell, flat and round (Incropera and DeWitt, ch. 3)."""
    for geometry, thick, want in (
        (None, (0.05, 0.05, 0.003), (1055.792, 190.541, 190.310)),
        ({"kind": "radial", "inner_radius_m": 0.075}, (0.025, 0.05, 0.003), (1091.302, 172.092, 171.893)),
    ):
        layers = [solid(d, k, 1e5) for d, k in zip(thick, (1.2, 0.2, 45.0))]
        wall = Wall(spec_of(layers, held(1200.0), SHELL, geometry), [20, 20, 4])
        t = 200 * 3600.0
        y = run(wall, t, [t], max_step=1e5).at[t]
        for depth, temp in zip(np.cumsum(thick), want):
            yield f"{'flat' if geometry is None else 'round'} {depth * 1e3:.0f} mm, C", wall.temp_c(t, y, depth), temp, 0.02


def steam_flow():
    """Steady compressible Darcy flow, 50 mm, 1e-15 m2, 473.15 K, 5e5 to 101325 Pa: P2 is linear (Bear)."""
    layer = {
        **solid(0.05, 1.2), "impermeable": False, "porosity": 0.2, "water_kg_m3": 0.2 * 2e5 / (RV * 473.15),
        "bound_water_kg_m3": 0.0, "dehydration_heat_j_kg": 0.0, "permeability_log10_m2": -15.0,
    }  # fmt: skip
    side = lambda p: {"surface_temp_c": [[0, 200.0], [1e9, 200.0]], "beta_kg_m2spa": 1.0, "ambient_pressure_pa": p}
    wall = Wall(spec_of([layer], side(5e5), side(P_ATM), start_c=200.0), 100, inflow=True, m_const=0.05, c_l=0.0)
    t = 20 * 3600.0
    y = run(wall, t, [t], rtol=1e-7, max_step=1e4).at[t]
    mu = 8.85e-6 + 3.53e-8 * (473.15 - ZERO_C)
    flux = 1e-15 * (5e5**2 - P_ATM**2) / (2 * 0.05 * RV * 473.15 * mu)
    yield "steam flow, kg/m2s x 1e4", wall.fluxes(t, y)[3][50] * 1e4, flux * 1e4, flux * 1e4 * 2e-3
    yield "steam flow, printed", flux * 1e4, 6.9006, 1e-3
    yield "steam, middle, Pa", wall.pressure(t, y, 0.025), 360740.0, 100.0


def main():
    """Prints every number, its exact value and its bar."""
    worst = True
    for group in (ramp_lag, half_space, composite, steam_flow):
        for name, got, want, bar in group():
            ok = abs(got - want) <= bar
            worst &= ok
            print(f"{'ok ' if ok else 'BAD'} {name}: {got:.4f}, exact {want:.4f}, off {got - want:+.4f}, bar {bar:g}", flush=True)
    sys.exit(0 if worst else 1)


if __name__ == "__main__":
    main()
