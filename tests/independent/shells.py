"""Shells of linings in a room by the correlations of the library ht: what the engine's one figure for still air is worth.

The engine takes 8 W/m2K at every shell. Here convection comes from ht (Churchill for a vertical plate, all of its correlations
for a horizontal cylinder), radiation from ht.radiation, resistances of the layers from ht.conduction; conductivity is taken at
the mean temperature of slices. The hot face is at the temperature of the chamber.

    python3 tests/independent/shells.py > tests/independent/shells.json

Made with Python 3.11, ht 1.2.0, scipy 1.17.1. Air: k 0.0263 W/mK and nu 15.89e-6 m2/s at 300 K (Incropera and De Witt, table A.4),
by powers 0.85 and 1.7 of T elsewhere, Pr 0.70 (from memory, within 3 % to 700 K).
"""

import json
import math

import numpy as np
from ht import conduction, conv_free_immersed, radiation
from scipy.optimize import brentq

AIR_C = 20.0
STEEL_EPS = 0.8
SLICES = 200
# Of schedules/materials.toml: fibre-blanket-128.
BLANKET = [[20, 0.045], [200, 0.058], [400, 0.083], [600, 0.13], [800, 0.20], [1000, 0.30], [1200, 0.45]]


def air(film_k):
    return 0.0263 * (film_k / 300) ** 0.85, 15.89e-6 * (film_k / 300) ** 1.7, 0.70


def rayleigh(shell_c, size_m):
    film_k = (shell_c + AIR_C) / 2 + 273.15
    k, nu, pr = air(film_k)
    grashof = 9.81 / film_k * (shell_c - AIR_C) * size_m**3 / nu**2
    return k, pr, grashof


def plate(shell_c, height_m):
    """W/m2K of a vertical plate."""
    k, pr, grashof = rayleigh(shell_c, height_m)
    return [conv_free_immersed.Nu_vertical_plate_Churchill(pr, grashof) * k / height_m]


def pipe(shell_c, diameter_m):
    """W/m2K of a lying cylinder by every correlation that ht has."""
    k, pr, grashof = rayleigh(shell_c, diameter_m)
    named = conv_free_immersed.Nu_horizontal_cylinder_methods(pr, grashof)
    return [conv_free_immersed.Nu_horizontal_cylinder(pr, grashof, Method=name) * k / diameter_m for name in named]


def through(case, shell_c):
    """Heat from a face at the chamber's temperature to the shell, W per m2 or per m."""
    temps = np.linspace(shell_c, case["chamber_c"], SLICES + 1)
    mean_k = np.mean(np.interp((temps[1:] + temps[:-1]) / 2, *zip(*BLANKET)))
    fall_k = case["chamber_c"] - shell_c
    if case["form"] == "flat":
        return fall_k * mean_k / case["thickness_m"]
    outside_m = case["bore_m"] + 2 * case["thickness_m"]
    return fall_k / conduction.R_cylinder(Di=case["bore_m"], Do=outside_m, k=mean_k, L=1.0)


def shells(case):
    """Lowest and highest shell temperature over the correlations, C."""
    size_m = 1.0 if case["form"] == "flat" else case["bore_m"] + 2 * case["thickness_m"] + 2 * 0.003
    area_m2 = 1.0 if case["form"] == "flat" else math.pi * size_m
    films = plate if case["form"] == "flat" else pipe

    def miss(shell_c, index):
        lost = films(shell_c, size_m)[index] * (shell_c - AIR_C)
        lost += radiation.q_rad(STEEL_EPS, shell_c + 273.15, AIR_C + 273.15)
        return through(case, shell_c) - area_m2 * lost

    found = [brentq(miss, AIR_C + 1, 600, args=(index,)) for index in range(len(films(100.0, size_m)))]
    return [round(min(found), 1), round(max(found), 1)]


CASES = {
    "flat, 50 mm": {"form": "flat", "thickness_m": 0.050, "chamber_c": 1200.0},
    "flat, 25 mm": {"form": "flat", "thickness_m": 0.025, "chamber_c": 1200.0},
    "round, 50 mm": {"form": "barrel", "bore_m": 0.200, "thickness_m": 0.050, "chamber_c": 1200.0},
    "round, 25 mm, cooler": {"form": "barrel", "bore_m": 0.200, "thickness_m": 0.025, "chamber_c": 900.0},
}

if __name__ == "__main__":
    # Steady flow through a cylinder in closed form: 2 pi k L dT / ln(ro / ri).
    assert abs(1 / conduction.R_cylinder(Di=0.2, Do=0.3, k=0.2, L=1.0) - 2 * math.pi * 0.2 / math.log(1.5)) < 1e-9
    print(json.dumps({name: case | {"shell_c": shells(case)} for name, case in CASES.items()}, indent=1))
