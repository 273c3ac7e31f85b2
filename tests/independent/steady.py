"""Steady heat through composite walls, flat and round, by one root search on the flux.

Shares nothing with the engine but the equations: Fourier's law with k(T) linear between points and flat outside (so each
layer is an integral of k over temperature), and q = h (T - Ta) + eps sigma (T^4 - Ta^4) at both faces. The flux is found
with scipy.optimize.brentq so that the chamber gas comes out right; going inwards from the air, each layer's hot side is
found with brentq too.

    python3 tests/independent/steady.py > tests/independent/steady.json

Made with Python 3.11, numpy 2.4.6, scipy 1.17.1. Checks itself against two closed cases (A5, A6: composite plane and hollow
cylinder with given hot face) before it prints anything.
"""

import json
import math

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

SIGMA = 5.670374419e-8


def conductance(points, low, high):
    """Integral of k from low to high, W/m."""
    xs, ys = zip(*points)
    knots = [x for x in xs if low < x < high]
    return quad(lambda t: float(np.interp(t, xs, ys)), low, high, points=knots or None, limit=200)[0]


def ease(shape, inner, outer):
    """Area over thickness, m (per metre of length when round, per square metre when flat)."""
    if shape["form"] == "flat":
        return shape["area_m2"] / (outer - inner)
    radius = shape["bore_m"] / 2
    return 2 * math.pi * shape["length_m"] / math.log((radius + outer) / (radius + inner))


def area(shape, depth):
    if shape["form"] == "flat":
        return shape["area_m2"]
    return math.pi * (shape["bore_m"] + 2 * depth) * shape["length_m"]


def face(h, eps, temp_c, air_c):
    return h * (temp_c - air_c) + eps * SIGMA * ((temp_c + 273.15) ** 4 - (air_c + 273.15) ** 4)


def inwards(case, heat_w):
    """Temperatures from the outside to the hot face when heat_w flows."""
    shape, cold = case["shape"], case["cold"]
    thick = [layer["thickness_m"] for layer in case["layers"]]
    depths = np.concatenate([[0.0], np.cumsum(thick)])
    outside = brentq(lambda t: area(shape, depths[-1]) * face(cold["h"], cold["eps"], t, cold["air_c"]) - heat_w, cold["air_c"], 5000)
    temps = [outside]
    for index in reversed(range(len(thick))):
        points = case["layers"][index]["conductivity"]
        need = heat_w / ease(shape, depths[index], depths[index + 1])
        temps.append(brentq(lambda t: conductance(points, temps[-1], t) - need, temps[-1], 20000))
    return temps[::-1]


def solve(case):
    """Heat, W, and temperatures from the hot face outwards."""
    hot = case["hot"]

    def miss(heat_w):
        face_c = inwards(case, heat_w)[0]
        if "face_c" in hot:
            return face_c - hot["face_c"]
        return face_c + brentq(
            lambda d: area(case["shape"], 0) * (face(hot["h"], hot["eps"], face_c + d, face_c)) - heat_w, 0, 5000
        ) - hot["gas_c"]

    heat_w = brentq(miss, 1e-3, 4e4, xtol=1e-9)
    return heat_w, inwards(case, heat_w)


CASTABLE, FIBRE, STEEL = [[20, 1.2]], [[20, 0.20]], [[20, 45.0]]
BLANKET = [[20, 0.04], [400, 0.09], [800, 0.18], [1200, 0.33]]
MORTAR = [[20, 1.0], [800, 1.1], [1200, 1.2]]


def layer(conductivity, mm):
    return {"conductivity": conductivity, "thickness_m": mm / 1000}


def service(shape, layers):
    """A wall as it stands in a chamber at 1200 C: still air, 8 W/m2K and an emissivity of 0.8 on both sides."""
    return {
        "shape": shape,
        "layers": layers + [layer(STEEL, 3)],
        "hot": {"h": 8.0, "eps": 0.8, "gas_c": 1200.0},
        "cold": {"h": 8.0, "eps": 0.8, "air_c": 20.0},
    }


FLAT = {"form": "flat", "area_m2": 1.0}
ROUND = {"form": "barrel", "bore_m": 0.150, "length_m": 1.0}
CASES = {
    "plane": service(FLAT, [layer(CASTABLE, 50), layer(FIBRE, 50)]),
    "cylinder": service(ROUND, [layer(CASTABLE, 25), layer(FIBRE, 50)]),
    "blanket": service(FLAT, [layer(BLANKET, 50)]),
    "round forge": service(ROUND, [layer(MORTAR, 3), layer(BLANKET, 50)]),
}


def closed():
    """A5 and A6: hot face at 1200 C, outside 10 W/m2K and 0.8."""
    for shape, thick, heat, temps in [
        (FLAT, [50, 50, 3], 3461.0, [1200, 1055.79, 190.54, 190.31]),
        (ROUND, [25, 50, 3], 2848.86, [1200, 1091.30, 172.09, 171.89]),
    ]:
        case = {
            "shape": shape,
            "layers": [layer(CASTABLE, thick[0]), layer(FIBRE, thick[1]), layer(STEEL, thick[2])],
            "hot": {"face_c": 1200.0},
            "cold": {"h": 10.0, "eps": 0.8, "air_c": 20.0},
        }
        found, at = solve(case)
        assert abs(found - heat) < 0.2, (found, heat)
        assert all(abs(a - b) < 0.02 for a, b in zip(at, temps)), (at, temps)


if __name__ == "__main__":
    closed()
    out = {}
    for name, case in CASES.items():
        heat_w, temps = solve(case)
        out[name] = case | {"heat_w": round(heat_w, 3), "temps_c": [round(t, 3) for t in temps]}
    print(json.dumps(out, indent=1))
